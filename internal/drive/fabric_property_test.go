package drive

import (
	"testing"
	"time"

	"boltward/internal/length"
	"boltward/internal/sizing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// drawMeasured draws a measuring that is mostly possible.
func drawMeasured(t *rapid.T) Measured {
	inches := func(lo, hi int, name string) length.Length {
		return length.Length(rapid.IntRange(lo*8, hi*8).Draw(t, name)) * length.Inch / 8
	}
	m := Measured{
		Make: Make{Fibre: "cotton", Weight: "quilting", Print: PrintFeature},
		Torn: rapid.Bool().Draw(t, "torn"),
	}
	if rapid.Bool().Draw(t, "border") {
		m.Border = rapid.SampledFrom([]string{BorderOne, BorderBoth}).Draw(t, "edges")
		m.BorderDepth = inches(0, 22, "depth")
	}
	for range rapid.IntRange(1, 3).Draw(t, "cuts") {
		c := Cuttings{Pieces: rapid.IntRange(1, 4).Draw(t, "pieces"), Length: inches(1, 200, "length"), Width: inches(10, 110, "width")}
		for range rapid.IntRange(0, 4).Draw(t, "flaws") {
			from := inches(0, 150, "from")
			c.Flaws = append(c.Flaws, sizing.Flaw{From: from, To: from + inches(1, 20, "long"), Reach: inches(0, 30, "reach"), Far: rapid.Bool().Draw(t, "far")})
		}
		m.Cuts = append(m.Cuts, c)
	}
	return m
}

// Whatever is measured: each piece balances, all that came in is booked once, and
// undoing leaves nothing behind.
func TestMeasuringAccountsForEveryInch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := NewDrive("spring", "Spring", "Europe/Dublin", length.In)
		m := drawMeasured(t)
		first := rapid.IntRange(1, 9).Draw(t, "first")
		out, err := Measure(d, Lot{Number: 7}, m, first)
		if err != nil {
			return
		}
		pieces := applied(t, out.Pieces, out.Entries)
		var raw, in, parted length.Area
		for _, c := range m.Cuts {
			raw += length.Area(c.Pieces) * area(c.Width, c.Length)
		}
		for i, p := range pieces {
			require.Equal(t, first+i, p.Piece, "pieces are numbered on")
			require.Equal(t, p.Received, p.Free+p.Out+p.Parted, "piece %d", p.Piece)
			require.Equal(t, p.Free, area(p.Width, p.FreeLength), "what is free is a rectangle")
			if p.Origin == nil {
				in += p.Received
			}
			parted += p.Parted
		}
		require.Equal(t, raw, in, "all that came in is booked, once")

		lot := out.Lot
		at := time.Date(2026, 10, 3, 0, 0, 0, 0, time.UTC)
		lot.MeasuredAt = &at
		var booked []BookedFabric
		for i, e := range out.Entries {
			booked = append(booked, BookedFabric{ID: int64(i + 1), FabricEntry: e})
		}
		_, counter, err := UndoMeasure(lot, pieces, booked)
		require.NoError(t, err)
		for _, p := range applied(t, out.Pieces, append(out.Entries, counter...)) {
			require.Zero(t, p.Received+p.Free+p.Out+p.Parted, "piece %d after undoing", p.Piece)
			require.Zero(t, p.FreeLength)
		}
	})
}

// applied plays entries on pieces as the ledger does, and fails where something
// would fall below nothing.
func applied(t *rapid.T, made []NewPiece, entries []FabricEntry) []Piece {
	pieces := make([]Piece, len(made))
	at := map[int]int{}
	for i, p := range made {
		pieces[i] = Piece{Lot: p.Lot, Piece: p.Piece, Kind: p.Kind, Origin: p.Origin, Width: p.Width}
		at[p.Piece] = i
	}
	for _, e := range entries {
		p := &pieces[at[e.Piece]]
		move := func(a Account, area length.Area, l length.Length) {
			switch a {
			case Outside, Origin:
				p.Received -= area
			case Free:
				p.Free += area
				p.FreeLength += l
			case Out:
				p.Out += area
			case Parted:
				p.Parted += area
			}
		}
		require.Positive(t, e.Area)
		move(e.From, -e.Area, -e.Length)
		move(e.To, e.Area, e.Length)
		require.False(t, p.Received < 0 || p.Free < 0 || p.Out < 0 || p.Parted < 0, "below nothing after %+v", e)
	}
	return pieces
}
