package workbook

import (
	"boltward/internal/drive"
)

func putCases(out sink, b drive.Books, t *tally) error {
	columns := []column{
		{heading: "Line", width: 7, kind: number},
		{heading: "Recipient no", width: 11, kind: number},
		{heading: "Recipient", width: 28},
		{heading: "Size", width: 14},
		{heading: "Opening", width: 9, kind: count, total: true},
		{heading: "Born of plans", width: 9, kind: count, total: true},
		{heading: "Own fabric or brought in", width: 11, kind: count, total: true},
		{heading: "Found again", width: 9, kind: count, total: true},
		{heading: "From another line", width: 10, kind: count, total: true},
		{heading: "To another line", width: 10, kind: count, total: true},
		{heading: "Ended not usable", width: 9, kind: count, total: true},
		{heading: "Ended lost", width: 9, kind: count, total: true},
		{heading: "Ended withdrawn uncut", width: 11, kind: count, total: true},
		{heading: "Ended not received", width: 10, kind: count, total: true},
		{heading: "Closing", width: 9, kind: count, total: true, formula: "SUM({Opening}:{From another line})-SUM({To another line}:{Ended not received})"},
	}
	var alive []drive.CaseState
	for _, state := range drive.CaseStates() {
		if state.Alive() {
			alive = append(alive, state)
			columns = append(columns, column{heading: capital(string(state)), width: 10, kind: count, total: true})
		}
	}
	columns = append(columns,
		column{heading: "Account", width: 14, formula: `IF({Closing}=SUM({Planned}:{Confirmed}),"agrees","differs by "&{Closing}-SUM({Planned}:{Confirmed}))`},
		column{heading: "Came in", width: 9, kind: count, total: true},
		column{heading: "Found good", width: 9, kind: count, total: true},
		column{heading: "Sent", width: 9, kind: count, total: true},
		column{heading: "Were confirmed", width: 10, kind: count, total: true})
	return fill(out, b.Cases, columns, func(to []any, c drive.BookCases) []any {
		t.cases(c)
		to = append(to, c.Number, c.RecipientNo, c.Recipient, c.Size, c.Opening, c.Planned, c.Brought, c.FoundAgain, c.MovedIn, c.MovedOut,
			c.NotUsable, c.Lost, c.Withdrawn, c.NotReceived, c.Closing())
		for _, state := range alive {
			to = append(to, c.Counts[state])
		}
		return append(to, verdict(int64(c.Closing()-c.Counts.Alive()), 1), c.CameIn, c.FoundGood, c.Sent, c.Confirmed)
	})
}

func putCaseStates(out sink, b drive.Books, _ *tally) error {
	columns := []column{
		{heading: "Line", width: 7, kind: number},
		{heading: "Recipient", width: 30},
		{heading: "Size", width: 16},
		{heading: "State", width: 16},
		{heading: "Opening", width: 10, kind: count, total: true},
		{heading: "Came to it", width: 10, kind: count, total: true},
		{heading: "Left it", width: 10, kind: count, total: true},
		{heading: "Closing", width: 10, kind: count, total: true, formula: "{Opening}+{Came to it}-{Left it}"},
	}
	return fill(out, b.CaseStates, columns, func(to []any, s drive.BookCaseState) []any {
		return append(to, s.Number, s.Recipient, s.Size, string(s.State), s.Opening, s.Came, s.Left, s.Opening+s.Came-s.Left)
	})
}

func putCaseEntries(out sink, b drive.Books, t *tally) error {
	columns := []column{
		{heading: "Entry", width: 9, kind: number},
		{heading: "Day", width: 12, kind: days},
		{heading: "Line", width: 7, kind: number},
		{heading: "Size", width: 16},
		{heading: "Kit", width: 8, kind: number},
		{heading: "Part", width: 6, kind: number},
		{heading: "From", width: 15},
		{heading: "To", width: 15},
		{heading: "Pillowcases", width: 12, kind: count, total: true},
		{heading: "From line", width: 9, kind: number},
		{heading: "Sewn by", width: 26},
		{heading: "Mended by", width: 26},
		{heading: "With", width: 26},
		{heading: "Box", width: 8, kind: number},
		{heading: "Delivery", width: 11, kind: number},
		{heading: "Takes back", width: 9, kind: number},
		{heading: "Reason", width: 30},
		{heading: "Note", width: 30},
	}
	return fill(out, b.CaseEntries, columns, func(to []any, e drive.BookCaseEntry) []any {
		t.entry(e)
		return append(to, e.ID, e.Day, e.Line, e.Size, some(e.Kit), some(int64(e.Part)), string(e.From), string(e.To), e.N, e.FromLine, e.SewnBy(), e.MendedBy(), e.With(), e.Box, e.Delivery, e.TakesBack, e.Reason, e.Note)
	})
}

func putChecks(out sink, b drive.Books, t *tally) error {
	columns := []column{
		{heading: "Check", width: 8, kind: number},
		{heading: "Entry", width: 9, kind: number},
		{heading: "Day", width: 12, kind: days},
		{heading: "Line", width: 7, kind: number},
		{heading: "Size", width: 16},
		{heading: "Kit", width: 8, kind: number},
		{heading: "Part", width: 6, kind: number},
		{heading: "Result", width: 13},
		{heading: "Pillowcases", width: 12, kind: count, total: true},
		{heading: "Reasons", width: 34},
		{heading: "Width laid flat", width: 10, kind: widths},
		{heading: "Length laid flat", width: 10, kind: widths},
		{heading: "Checked by", width: 11},
		{heading: "Takes back", width: 9, kind: number},
		{heading: "Note", width: 40},
	}
	return fill(out, b.Checks, columns, func(to []any, c drive.BookCheck) []any {
		t.check(c)
		return append(to, some(c.Number), c.Entry, c.Day, c.Line, c.Size, some(c.Kit), some(int64(c.Part)), string(c.Result), c.N, c.Reasons,
			c.Width, c.Length, c.Initials, c.TakesBack, c.Note)
	})
}

// some is a number that may be none, which 0 stands for.
func some(n int64) *int64 {
	if n == 0 {
		return nil
	}
	return &n
}

func putReasons(out sink, b drive.Books, _ *tally) error {
	columns := []column{
		{heading: "Reason", width: 50},
		{heading: "To mend", width: 11, kind: count},
		{heading: "Not usable", width: 11, kind: count},
	}
	return fill(out, b.Reasons, columns, func(to []any, r drive.BookReason) []any {
		return append(to, r.Reason, r.ToMend, r.NotUsable)
	})
}

func putLaundry(out sink, b drive.Books, _ *tally) error {
	columns := []column{
		{heading: "Batch", width: 8, kind: number},
		{heading: "Put in on", width: 12, kind: days},
		{heading: "Put in by", width: 11},
		{heading: "Done on", width: 12, kind: days},
		{heading: "Done by", width: 11},
		{heading: "Line", width: 7, kind: number},
		{heading: "Recipient", width: 30},
		{heading: "Size", width: 16},
		{heading: "Kit", width: 8, kind: number},
		{heading: "Part", width: 6, kind: number},
		{heading: "Pillowcases", width: 12, kind: count, total: true},
		{heading: "Note", width: 40},
	}
	return fill(out, b.Laundry, columns, func(to []any, w drive.BookWash) []any {
		return append(to, w.Batch, w.StartedOn, w.StartedBy, w.DoneOn, w.DoneBy, w.Line, w.Recipient, w.Size, some(w.Kit), some(int64(w.Part)), w.N, w.Note)
	})
}

func putDeliveries(out sink, b drive.Books, t *tally) error {
	columns := []column{
		{heading: "Delivery", width: 11, kind: number},
		{heading: "Recipient", width: 30},
		{heading: "Sent on", width: 12, kind: days},
		{heading: "Carried by", width: 22},
		{heading: "Boxes", width: 8, kind: count, total: true},
		{heading: "Sent before", width: 9, kind: count, total: true},
		{heading: "Sent", width: 9, kind: count, total: true},
		{heading: "Confirmed", width: 11, kind: count, total: true},
		{heading: "Not received", width: 10, kind: count, total: true},
		{heading: "Sent back", width: 9, kind: count, total: true},
		{heading: "Open", width: 9, kind: count, total: true, formula: "{Sent before}+{Sent}-{Confirmed}-{Not received}-{Sent back}"},
		{heading: "Confirmed on", width: 12, kind: days},
		{heading: "By", width: 24},
		{heading: "Note", width: 40},
	}
	return fill(out, b.Deliveries, columns, func(to []any, d drive.BookDelivery) []any {
		t.delivery(d)
		return append(to, d.Number, d.Recipient, d.SentOn, d.CarriedBy, d.Boxes, d.SentBefore, d.Sent, d.Confirmed, d.Missing, d.SentBack, d.Open(), d.ConfirmedOn, d.ConfirmedBy, d.Note)
	})
}

func putBoxes(out sink, b drive.Books, _ *tally) error {
	columns := []column{
		{heading: "Delivery", width: 11, kind: number},
		{heading: "Box", width: 8, kind: number},
		{heading: "Recipient", width: 30},
		{heading: "Line", width: 7, kind: number},
		{heading: "Size", width: 16},
		{heading: "Packed by", width: 11},
		{heading: "Checked by", width: 11},
		{heading: "Sent before", width: 9, kind: count, total: true},
		{heading: "Sent", width: 9, kind: count, total: true},
		{heading: "Confirmed", width: 11, kind: count, total: true},
		{heading: "Not received", width: 10, kind: count, total: true},
		{heading: "Sent back", width: 9, kind: count, total: true},
		{heading: "Open", width: 9, kind: count, total: true, formula: "{Sent before}+{Sent}-{Confirmed}-{Not received}-{Sent back}"},
	}
	return fill(out, b.Boxes, columns, func(to []any, x drive.BookBox) []any {
		return append(to, x.Delivery, x.Box, x.Recipient, x.Line, x.Size, x.PackedBy, x.CheckedBy, x.SentBefore, x.Sent, x.Confirmed, x.Missing, x.SentBack, x.Open())
	})
}
