package drive

import (
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

// wash books a lot as washed: each piece with what is usable of it now, what it
// lost going out. A piece that is narrower now becomes a piece of its new width.
func (w *handwork) wash(sizes []WashedSize) (Handled, error) {
	if w.Lot.Washed {
		return Handled{}, apperr.Conflict("Lot %d is washed already.", w.Lot.Number)
	}
	given := map[int]WashedSize{}
	for _, s := range sizes {
		if _, err := w.Of(s.Piece); err != nil {
			return Handled{}, err
		}
		given[s.Piece] = s
	}
	var bad []apperr.Field
	any := false
	for _, p := range w.Pieces {
		if p.Promised > 0 {
			return Handled{}, apperr.Conflict("%s of piece %s is promised to %s at its size before the wash. Withdraw that first, or wash the lot when it is cut.",
				w.yards(p.OnShelf()-p.FreeLength), p.Name(), w.promisedTo(p))
		}
		if p.FreeLength == 0 {
			continue
		}
		any = true
		bad = append(bad, w.washPiece(p, given[p.Piece])...)
	}
	if !any {
		return Handled{}, apperr.Conflict("Nothing of lot %d is left to wash.", w.Lot.Number)
	}
	if len(bad) > 0 {
		return Handled{}, apperr.InvalidFields(bad)
	}
	w.out.Lot.Washed = true
	return w.out, nil
}

func (w *handwork) washPiece(p Piece, now WashedSize) []apperr.Field {
	long, wide := fmt.Sprintf("length%d", p.Piece), fmt.Sprintf("width%d", p.Piece)
	if now.Width == 0 {
		now.Width = p.Width
	}
	bad := wrongSize(w.d, now.Length, now.Width, long, wide)
	switch {
	case bad != nil:
		return bad
	case now.Length == 0:
		return []apperr.Field{{Name: long, Why: fmt.Sprintf("Give the length of piece %s after the wash. If it did not survive, discard it first.", p.Name())}}
	case area(now.Width, now.Length) > p.Free:
		return []apperr.Field{{Name: long, Why: fmt.Sprintf("Piece %s had %s before the wash, and cloth does not grow in it. If it was booked too small, recount it first.",
			p.Name(), clothWords(p.Width, p.FreeLength, w.d))}}
	}
	w.out.Washes = append(w.out.Washes, Wash{
		Piece: p.Piece, Fibre: w.Lot.Fibre, Weight: w.Lot.Weight,
		Width: p.Width, Length: p.FreeLength, WidthAfter: now.Width, LengthAfter: now.Length,
	})
	w.reshape(p, []size{{p.Kind, now.Width, now.Length}}, FabricWashLoss)
	return nil
}

func clothWords(width, long length.Length, d Drive) string {
	return OnTape(width, d.Unit) + " × " + OnTape(long, d.Yardage())
}

// Shrinkage is what washing taught about cloth of one fibre and weight. Before and
// after are sums over all pieces that were washed.
type Shrinkage struct {
	Fibre        string        `db:"fibre"`
	Weight       string        `db:"weight"`
	Lots         int           `db:"lots"`
	Pieces       int           `db:"pieces"`
	LengthBefore length.Length `db:"length_before"`
	LengthAfter  length.Length `db:"length_after"`
	WidthBefore  length.Length `db:"width_before"`
	WidthAfter   length.Length `db:"width_after"`
}

// Shrunk gives by how much the cloth shrank, along and across, as a size takes it;
// never less than nothing.
func (s Shrinkage) Shrunk() sizing.Shrink {
	return sizing.Shrink{
		Along:  max(0, -sizing.Change(s.LengthBefore, s.LengthAfter)),
		Across: max(0, -sizing.Change(s.WidthBefore, s.WidthAfter)),
	}
}
