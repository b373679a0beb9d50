package workbook

import (
	"boltward/internal/drive"
)

func putAsked(out sink, b drive.Books, t *tally) error {
	columns := []column{
		{heading: "Line", width: 7, kind: number},
		{heading: "Recipient no", width: 11, kind: number},
		{heading: "Recipient", width: 30},
		{heading: "Sizes", width: 20},
		{heading: "Due", width: 12, kind: days},
		{heading: "Matters", width: 16},
		{heading: "Open", width: 8},
		{heading: "Asked for", width: 11, kind: count, total: true},
		{heading: "Confirmed", width: 11, kind: count, total: true},
		{heading: "Delivered, not confirmed", width: 14, kind: count, total: true},
		{heading: "Good, packed or not", width: 12, kind: count, total: true},
		{heading: "To check or mend", width: 12, kind: count, total: true},
		{heading: "With volunteers", width: 12, kind: count, total: true},
		{heading: "Planned or cut", width: 11, kind: count, total: true},
		{heading: "Still missing", width: 11, kind: count, total: true, formula: `IF({Open}="closed",0,MAX(0,{Asked for}-SUM({Confirmed}:{Planned or cut})))`},
		{heading: "Note", width: 40},
	}
	return fill(out, b.Asked, columns, func(to []any, l drive.BookLine) []any {
		t.asked(l)
		open := "open"
		if l.Closed {
			open = "closed"
		}
		to = append(to, l.Number, l.RecipientNo, l.Recipient, l.Sizes, l.Due, l.Matter, open, l.Wanted)
		for _, states := range standingStates() {
			to = append(to, l.Counts.Sum(states...))
		}
		return append(to, l.Missing(), l.Note)
	})
}

func putAskedChanges(out sink, b drive.Books, _ *tally) error {
	columns := []column{
		{heading: "Day", width: 12, kind: days},
		{heading: "Of", width: 12},
		{heading: "Number", width: 9, kind: number},
		{heading: "Recipient", width: 30},
		{heading: "What was done", width: 24},
		{heading: "Field", width: 18},
		{heading: "From", width: 30},
		{heading: "To", width: 30},
		{heading: "By", width: 24},
	}
	return fill(out, b.AskedChanges, columns, func(to []any, c drive.BookAskedChange) []any {
		of := map[string]string{"asked": "line", "standing": "every month"}[c.Kind]
		if of == "" {
			of = c.Kind
		}
		return append(to, c.Day, of, c.Number, c.Recipient, c.Act, c.Field, c.From, c.To, c.By)
	})
}

// standingStates are how far pillowcases have come, in the columns of what is asked for.
func standingStates() [][]drive.CaseState {
	return [][]drive.CaseState{
		{drive.CaseConfirmed},
		{drive.CaseDelivered},
		{drive.CaseGood, drive.CasePacked},
		{drive.CaseSewn, drive.CaseToMend},
		{drive.CaseOut},
		{drive.CasePlanned, drive.CaseCut},
	}
}

func putFabric(out sink, b drive.Books, t *tally) error {
	columns := []column{
		{heading: "Lot", width: 7, kind: number},
		{heading: "Tag", width: 9},
		{heading: "Given by", width: 30},
		{heading: "Cloth", width: 50},
		{heading: "Shelf", width: 8},
		{heading: "Received", width: 12, kind: days},
		{heading: "Opening", width: 11, kind: areas, total: true},
		{heading: "Measured", width: 11, kind: areas, total: true},
		{heading: "Put back", width: 10, kind: areas, total: true},
		{heading: "Recounted", width: 11, kind: areas, total: true},
		{heading: "Squared off", width: 10, kind: areas, total: true},
		{heading: "Cut for kits", width: 10, kind: areas, total: true},
		{heading: "Offcuts", width: 10, kind: areas, total: true},
		{heading: "Lost in the wash", width: 10, kind: areas, total: true},
		{heading: "Given away", width: 10, kind: areas, total: true},
		{heading: "Discarded", width: 10, kind: areas, total: true},
		{heading: "Closing", width: 11, kind: areas, total: true, formula: "SUM({Opening}:{Recounted})-SUM({Squared off}:{Discarded})"},
		{heading: "On the shelf", width: 11, kind: areas, total: true},
		{heading: "Account", width: 14, formula: `IF(ABS({Closing}-{On the shelf})<0.000001,"agrees","differs by "&ROUND({Closing}-{On the shelf},4))`},
		{heading: "Promised", width: 11, kind: areas, total: true},
		{heading: "Usable width", width: 9, kind: widths},
		{heading: "Opening, running", width: 11, kind: yardage, formula: running("Opening", b.Drive)},
		{heading: "Closing, running", width: 11, kind: yardage, formula: running("Closing", b.Drive)},
		{heading: "Note", width: 40},
	}
	return fill(out, b.Fabric, columns, func(to []any, l drive.BookLot) []any {
		t.lot(l)
		var width, opening, closing any
		if l.Width > 0 {
			width, opening, closing = l.Width, runningOf(l.Opening, l.Width), runningOf(l.Closing(), l.Width)
		}
		return append(to, l.Lot, l.Tag, l.Donor, l.Cloth, l.Shelf, l.Received, l.Opening, l.Measured, l.PutBack, l.Recounted, l.SquaredOff,
			l.Cut, l.Offcuts, l.Wash, l.GivenAway, l.Discarded, l.Closing(), l.OnShelf, verdict(int64(l.Closing()-l.OnShelf), unitsOf(b.Drive).per(areas)),
			l.Promised, width, opening, closing, l.Note)
	})
}

func putFabricEntries(out sink, b drive.Books, _ *tally) error {
	columns := []column{
		{heading: "Entry", width: 9, kind: number},
		{heading: "Day", width: 12, kind: days},
		{heading: "Lot", width: 7, kind: number},
		{heading: "Tag", width: 9},
		{heading: "Piece", width: 7, kind: number},
		{heading: "What", width: 17},
		{heading: "From", width: 11},
		{heading: "To", width: 11},
		{heading: "Length", width: 10, kind: yardage},
		{heading: "Area", width: 10, kind: areas, total: true},
		{heading: "Change on the shelf", width: 12, kind: areas, total: true},
		{heading: "Sheet", width: 8, kind: number},
		{heading: "Plan", width: 8, kind: number},
		{heading: "Takes back", width: 9, kind: number},
		{heading: "Reason", width: 40},
	}
	return fill(out, b.FabricEntries, columns, func(to []any, e drive.BookFabricEntry) []any {
		return append(to, e.ID, e.Day, e.Lot, e.Tag, e.Piece, e.Kind, e.From, e.To, e.Length, e.Area, e.Shelf, e.Sheet, e.Plan, e.TakesBack, e.Reason)
	})
}

func putKits(out sink, b drive.Books, t *tally) error {
	columns := []column{
		{heading: "Kit", width: 8, kind: number},
		{heading: "Part", width: 6, kind: number},
		{heading: "For", width: 30},
		{heading: "Size", width: 16},
		{heading: "Pillowcases", width: 12, kind: count, total: true},
		{heading: "Where", width: 14},
		{heading: "Who has it", width: 28},
		{heading: "Since", width: 12, kind: days},
		{heading: "Due", width: 12, kind: days},
		{heading: "Days late", width: 9, kind: count},
		{heading: "Cloth", width: 13},
	}
	return fill(out, b.Kits, columns, func(to []any, k drive.BookKit) []any {
		t.kit(k, b.LateOn())
		return append(to, k.Number, k.Part, k.Recipient, k.Size, k.Cases, string(k.State), k.Holder, k.Since, k.Due, some(int64(k.Late(b.LateOn()))), clothOf(k.OwnFabric))
	})
}

func putKitEntries(out sink, b drive.Books, _ *tally) error {
	columns := []column{
		{heading: "Entry", width: 9, kind: number},
		{heading: "Day", width: 12, kind: days},
		{heading: "Kit", width: 8, kind: number},
		{heading: "Part", width: 6, kind: number},
		{heading: "From", width: 14},
		{heading: "To", width: 14},
		{heading: "Who has it", width: 28},
		{heading: "Due", width: 12, kind: days},
		{heading: "Holds then", width: 10, kind: count},
		{heading: "Reason", width: 40},
	}
	return fill(out, b.KitEntries, columns, func(to []any, e drive.BookKitEntry) []any {
		return append(to, e.ID, e.Day, e.Number, e.Part, e.From, e.To, e.Holder, e.Due, e.Cases, e.Reason)
	})
}

func putGifts(out sink, b drive.Books, _ *tally) error {
	columns := []column{
		{heading: "Donor no", width: 9, kind: number},
		{heading: "Donor", width: 30},
		{heading: "Given on", width: 12, kind: days},
		{heading: "Lots", width: 8, kind: count, total: true},
		{heading: "Pieces", width: 8, kind: count, total: true},
		{heading: "Measured", width: 11, kind: areas, total: true},
		{heading: "What it was", width: 40},
		{heading: "Thanked on", width: 12, kind: days},
		{heading: "How", width: 12},
	}
	if b.Contacts {
		columns = append(columns, column{heading: "Email", width: 28}, column{heading: "Phone", width: 16}, column{heading: "Address", width: 36})
	}
	return fill(out, b.Gifts, columns, func(to []any, g drive.BookGift) []any {
		to = append(to, some(g.DonorNo), g.Donor, g.On, g.Lots, g.Pieces, g.Measured, g.What, g.Thanked, g.Way)
		if b.Contacts {
			to = append(to, g.Email, g.Phone, g.Address)
		}
		return to
	})
}

func putPeople(out sink, b drive.Books, _ *tally) error {
	columns := []column{
		{heading: "Person no", width: 9, kind: number},
		{heading: "Name", width: 30},
		{heading: "Kind", width: 13},
		{heading: "Heads", width: 8, kind: count},
		{heading: "Sews now", width: 9},
		{heading: "Pillowcases sewn", width: 12, kind: count, total: true},
		{heading: "Sewing", width: 10, kind: hours, total: true},
		{heading: "Cutting", width: 10, kind: hours, total: true},
		{heading: "Checking", width: 10, kind: hours, total: true},
		{heading: "At the table", width: 10, kind: hours, total: true},
		{heading: "Other", width: 10, kind: hours, total: true},
		{heading: "All hours", width: 10, kind: hours, total: true, formula: "SUM({Sewing}:{Other})"},
		{heading: "Kits they have", width: 10, kind: count, total: true},
		{heading: "Pillowcases in them", width: 12, kind: count, total: true},
	}
	if b.Contacts {
		columns = append(columns, column{heading: "Contact", width: 20}, column{heading: "Email", width: 28}, column{heading: "Phone", width: 16},
			column{heading: "Address", width: 36}, column{heading: "Agreed on", width: 12, kind: days})
	}
	return fill(out, b.People, columns, func(to []any, p drive.BookPerson) []any {
		to = append(to, p.Number, p.Name, p.Kind, p.Heads, yesNo(p.Active), p.Sewn, minutes(p.Sewing), minutes(p.Cutting), minutes(p.Checking),
			minutes(p.AtTable), minutes(p.Other), minutes(p.Minutes()), p.Kits, p.Cases)
		if b.Contacts {
			to = append(to, p.Contact, p.Email, p.Phone, p.Address, p.AgreedOn)
		}
		return to
	})
}

func putHours(out sink, b drive.Books, _ *tally) error {
	columns := []column{
		{heading: "Note no", width: 9, kind: number},
		{heading: "Day", width: 12, kind: days},
		{heading: "Person no", width: 9, kind: number},
		{heading: "Name", width: 30},
		{heading: "Doing", width: 14},
		{heading: "Heads", width: 8, kind: count},
		{heading: "Given", width: 10, kind: hours, total: true},
	}
	return fill(out, b.Hours, columns, func(to []any, h drive.BookHours) []any {
		return append(to, h.Number, h.Day, h.PersonNo, h.Name, h.Doing, h.Heads, minutes(h.Minutes))
	})
}
