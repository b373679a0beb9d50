package drive

import (
	"boltward/internal/apperr"
	"boltward/internal/length"
)

// sliverReason stands in the books where a sliver went.
const sliverReason = "a sliver: no panel comes out of it"

// LeastPanel gives the shortest side of any panel of these sizes, 0 where there is
// none: cloth that is shorter or narrower holds no panel, however it is turned.
func LeastPanel(sizes []PlanSize) length.Length {
	least := length.Length(0)
	for _, z := range sizes {
		for _, p := range z.Panels {
			if side := min(p.Around, p.Along); least == 0 || side < least {
				least = side
			}
		}
	}
	return least
}

// Sliver says whether all that is left of a piece is free cloth that no panel comes
// out of.
func (p Piece) Sliver(least length.Length) bool {
	return p.Free > 0 && p.Promised == 0 && min(p.Width, p.FreeLength) < least
}

// SquareSlivers books the slivers of a lot as offcuts, one deed a piece.
func (s Stock) SquareSlivers(d Drive, least length.Length) ([]Handled, error) {
	var done []Handled
	for _, p := range s.Pieces {
		if !p.Sliver(least) {
			continue
		}
		one, err := s.Handle(d, Handling{Kind: DeedSquared, Piece: p.Piece, All: true, Reason: sliverReason})
		if err != nil {
			return nil, err
		}
		done = append(done, one)
	}
	return done, nil
}

// SliverDeed refuses a deed that booked no sliver.
func (s Stock) SliverDeed(number int64) error {
	for _, deed := range s.Deeds {
		if deed.Number == number && deed.Kind == DeedSquared && deed.Reason == sliverReason {
			return nil
		}
	}
	return apperr.Conflict("Deed %d booked no sliver. Undo it in the history of lot %d.", number, s.Lot.Number)
}
