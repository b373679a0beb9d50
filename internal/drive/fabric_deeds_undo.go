package drive

import (
	"fmt"
	"slices"

	"boltward/internal/apperr"
)

// Undo takes a deed back by counter-entries, last entry first. What was found by
// looking at the cloth afterwards stands in its way, and so does cloth that is
// used since: the refusal names it.
func (s Stock) Undo(d Drive, number int64) (Handled, error) {
	deed, err := s.deed(number)
	if err != nil {
		return Handled{}, err
	}
	entries := s.entriesOf(number)
	touched := piecesIn(entries)
	if err := s.looked(d, deed, touched); err != nil {
		return Handled{}, err
	}
	last := entries[len(entries)-1].ID
	made := map[int]bool{}
	for _, e := range entries {
		if e.From == Origin {
			made[e.Piece] = true
		}
	}
	for _, n := range touched {
		if !made[n] && deed.Kind != DeedWashed {
			continue
		}
		if err := s.asLeft(d, n, last); err != nil {
			return Handled{}, err
		}
	}
	h := Handled{Kind: DeedUndone, Lot: s.Lot, Undoes: &deed.Number}
	for _, e := range slices.Backward(entries) {
		id := e.ID
		counter := e.FabricEntry
		counter.Kind, counter.From, counter.To, counter.Undoes = FabricUndone, e.To, e.From, &id
		counter.Reason, counter.Deed = "", nil
		h.Entries = append(h.Entries, counter)
		if p, err := s.Of(e.Piece); err == nil && !made[e.Piece] && e.From == Outside && p.FreeLength < e.Length {
			return Handled{}, apperr.Conflict("%s were counted in on piece %s, and only %s are free by now. Withdraw what draws on it first.",
				OnTape(e.Length, d.Yardage()), p.Name(), OnTape(p.FreeLength, d.Yardage()))
		}
	}
	if deed.Kind == DeedWashed {
		h.Lot.Washed = false
	}
	return h, nil
}

func (s Stock) deed(number int64) (ClothDeed, error) {
	for _, deed := range s.Deeds {
		switch {
		case deed.Number != number:
		case deed.Undone:
			return deed, apperr.Conflict("This was undone already.")
		case deed.Kind == DeedUndone:
			return deed, apperr.Conflict("What was undone stays undone. Book it once more if it is so after all.")
		default:
			return deed, nil
		}
	}
	return ClothDeed{}, apperr.NotFound("Nothing of that number was booked of lot %d.", s.Lot.Number)
}

func (s Stock) entriesOf(deed int64) []BookedFabric {
	var list []BookedFabric
	for _, e := range s.Entries {
		if e.Deed != nil && *e.Deed == deed {
			list = append(list, e)
		}
	}
	return list
}

func piecesIn(entries []BookedFabric) []int {
	var list []int
	for _, e := range entries {
		if !slices.Contains(list, e.Piece) {
			list = append(list, e.Piece)
		}
	}
	return list
}

// looked refuses where a later deed that stands found out by eye what there is of
// the same pieces: a wash, a recount, a parting.
func (s Stock) looked(d Drive, deed ClothDeed, touched []int) error {
	for _, later := range slices.Backward(s.Deeds) {
		if later.Number <= deed.Number || later.Undone {
			continue
		}
		if later.Kind != DeedWashed && later.Kind != DeedRecounted && later.Kind != DeedParted {
			continue
		}
		pieces := piecesIn(s.entriesOf(later.Number))
		if at := slices.IndexFunc(pieces, func(n int) bool { return slices.Contains(touched, n) }); at >= 0 {
			return apperr.Conflict("Piece %s was %s on %s, after this. Undo that first.", ClothID(s.Lot.Number, pieces[at]), later.Kind,
				later.At.In(d.Location()).Format("2 Jan 2006"))
		}
	}
	return nil
}

// asLeft refuses where a piece is not as the entries up to the last one left it.
func (s Stock) asLeft(d Drive, number int, last int64) error {
	p, err := s.Of(number)
	if err != nil {
		return err
	}
	was := Piece{Lot: p.Lot, Piece: p.Piece, Kind: p.Kind, Origin: p.Origin, Width: p.Width}
	var since *BookedFabric
	for i, e := range s.Entries {
		switch {
		case e.Piece != number:
		case e.ID <= last:
			was.move(e.From, -1, e.FabricEntry)
			was.move(e.To, 1, e.FabricEntry)
		case !e.Undone && e.Kind != FabricUndone:
			since = &s.Entries[i]
		}
	}
	if p == was || since == nil {
		return nil
	}
	hint := "Undo that first."
	if since.Sheet != nil {
		hint = fmt.Sprintf("See to sheet %d first.", *since.Sheet)
	}
	return apperr.Conflict("Cloth of piece %s was used since: %s. %s", p.Name(), lowerFirst(since.Words(d)), hint)
}

// move adds an entry, or takes it off, on one side of the piece's balance.
func (p *Piece) move(a Account, times int, e FabricEntry) {
	amount := e.Area
	if times < 0 {
		amount = -amount
	}
	switch a {
	case Outside, Origin:
		p.Received -= amount
	case Free:
		p.Free += amount
		if times < 0 {
			p.FreeLength -= e.Length
		} else {
			p.FreeLength += e.Length
		}
	case Promised:
		p.Promised += amount
	case Cut:
		p.Cut += amount
	case Out:
		p.Out += amount
	case Parted:
		p.Parted += amount
	}
}

func lowerFirst(s string) string {
	if s == "" || s[0] < 'A' || s[0] > 'Z' {
		return s
	}
	return string(s[0]+'a'-'A') + s[1:]
}
