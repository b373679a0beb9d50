package site

import (
	"fmt"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// mostDrawn is how many pieces of a lot are drawn; the others are counted in words.
const mostDrawn = 24

// pieceDrawing is the pieces of a lot as they lie now, to one scale: length from
// left to right, width from top to bottom.
type pieceDrawing struct {
	Pieces []drawnPiece
	More   int // not drawn
	Key    []tapeKey
}

// drawnPiece is one piece in px.
type drawnPiece struct {
	Number        int
	Words         string
	Width, Height string
	Stretches     []tapeStretch // cut, promised, free in turn
	H             string
}

// Space for the drawing of the longest piece, and the least height of a narrow one, in px.
const (
	drawnLongest  = 700.0
	drawnThinnest = 10.0
)

// drawPieces draws what is left of a lot and what of it was cut or promised.
func drawPieces(pieces []drive.Piece, d drive.Drive) pieceDrawing {
	var out pieceDrawing
	var lying []drive.Piece
	var longest, widest length.Length
	for _, p := range pieces {
		if l := lyingLength(p); l > 0 {
			lying = append(lying, p)
			longest, widest = max(longest, l), max(widest, p.Width)
		}
	}
	if len(lying) == 0 {
		return out
	}
	// A fat quarter is not blown up to the width of the page.
	scale := min(drawnLongest/float64(longest), 240/float64(widest))
	cut, promised, free := false, false, false
	for i, p := range lying {
		if i == mostDrawn {
			out.More = len(lying) - i
			break
		}
		high := max(float64(p.Width)*scale, drawnThinnest)
		dp := drawnPiece{Number: p.Piece, Words: pieceWords(p, d), H: px(high), Height: px(high + 2), Width: px(float64(lyingLength(p))*scale + 2)}
		at := 1.0
		for _, part := range []struct {
			kind string
			area length.Area
			seen *bool
		}{{"good", p.Cut, &cut}, {"planned", p.Promised, &promised}, {"missing", p.Free, &free}} {
			long := float64(part.area) / float64(p.Width) * scale
			if long <= 0 {
				continue
			}
			*part.seen = true
			s := tapeStretch{Kind: part.kind, X: px(at), Width: px(long)}
			s.Stripes, s.Dots = texture(part.kind, at, at+long, 1, high)
			dp.Stretches = append(dp.Stretches, s)
			at += long
		}
		out.Pieces = append(out.Pieces, dp)
	}
	for _, k := range []struct {
		kind, label string
		seen        bool
	}{{"missing", "free", free}, {"planned", "promised to a plan", promised}, {"good", "cut", cut}} {
		if k.seen {
			key := tapeKey{Kind: k.kind, Label: k.label}
			key.Stripes, key.Dots = texture(k.kind, 0.5, 21.5, 0.5, 11)
			out.Key = append(out.Key, key)
		}
	}
	return out
}

// lyingLength is the length of a piece that was cut, is promised or is free.
func lyingLength(p drive.Piece) length.Length {
	if p.Width == 0 {
		return 0
	}
	return length.Length((p.Cut + p.Promised + p.Free) / length.Area(p.Width))
}

func pieceWords(p drive.Piece, d drive.Drive) string {
	text := fmt.Sprintf("Piece %d", p.Piece)
	if p.Kind != drive.PieceWhole {
		text += ", " + string(p.Kind)
	}
	if p.Origin != nil {
		text += fmt.Sprintf(" of piece %d", *p.Origin)
	}
	if p.FreeLength > 0 {
		text += ": " + clothSize(p.Width, p.FreeLength, d) + " free"
	}
	if p.Promised > 0 {
		text += ", " + p.Promised.Format(d.Unit) + " promised"
	}
	if p.Cut > 0 {
		text += ", " + p.Cut.Format(d.Unit) + " cut"
	}
	return text
}
