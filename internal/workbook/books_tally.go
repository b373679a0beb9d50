package workbook

import (
	"cmp"
	"slices"
	"time"

	"boltward/internal/drive"
)

// tally is what is counted while the rows of the lists go by, for the values of
// formulas that look for something in a list.
type tally struct {
	recipients map[int64]*recipientTally // 0: not promised yet
	onLines    int                       // pillowcases that stand for lines, not unpromised ones
	lots       int                       // whose account agrees
	kits       map[drive.KitState]int
	inKits     map[drive.KitState]int
	late       int
	months     map[time.Time]*monthTally
	checked    map[drive.CaseState]int
	left       int // deliveries that left in the period
}

type recipientTally struct {
	number  int64
	name    string
	wanted  int
	missing int
	counts  drive.Counts
}

// monthTally is what happened in a month, keyed by its first day.
type monthTally struct{ cameIn, good, sent, confirmed int }

func newTally() *tally {
	return &tally{
		recipients: map[int64]*recipientTally{}, kits: map[drive.KitState]int{}, inKits: map[drive.KitState]int{}, months: map[time.Time]*monthTally{},
		checked: map[drive.CaseState]int{},
	}
}

func (t *tally) recipient(number int64, name string) *recipientTally {
	r, known := t.recipients[number]
	if !known {
		r = &recipientTally{number: number, name: name, counts: drive.Counts{}}
		t.recipients[number] = r
	}
	return r
}

func (t *tally) asked(l drive.BookLine) {
	r := t.recipient(l.RecipientNo, l.Recipient)
	r.wanted += l.Wanted
	r.missing += l.Missing()
}

func (t *tally) lot(l drive.BookLot) {
	if l.Closing() == l.OnShelf {
		t.lots++
	}
}

func (t *tally) cases(c drive.BookCases) {
	r := t.recipient(c.RecipientNo, c.Recipient)
	for state, n := range c.Counts {
		r.counts[state] += n
	}
	if c.Number > 0 {
		t.onLines += c.Closing()
	}
}

func (t *tally) kit(k drive.BookKit, to time.Time) {
	t.kits[k.State]++
	t.inKits[k.State] += k.Cases
	if k.Late(to) > 0 {
		t.late++
	}
}

func (t *tally) entry(e drive.BookCaseEntry) {
	month := time.Date(e.Day.Year(), e.Day.Month(), 1, 0, 0, 0, 0, time.UTC)
	m, known := t.months[month]
	if !known {
		m = &monthTally{}
		t.months[month] = m
	}
	switch {
	case e.To == drive.CaseSewn && (e.From == drive.CaseBorn || e.From == drive.CaseOut || e.From == drive.CaseLost):
		m.cameIn += e.N
	case e.To == drive.CaseGood && e.From == drive.CaseSewn:
		m.good += e.N
	case e.From == drive.CasePacked && e.To == drive.CaseDelivered:
		m.sent += e.N
	case e.From == drive.CaseDelivered && e.To == drive.CasePacked:
		m.sent -= e.N
	case e.To == drive.CaseConfirmed:
		m.confirmed += e.N
	case e.From == drive.CaseConfirmed:
		m.confirmed -= e.N
	}
}

func (t *tally) delivery(d drive.BookDelivery) {
	if d.Sent > 0 && d.SentBefore == 0 {
		t.left++
	}
}

func (t *tally) check(c drive.BookCheck) { t.checked[c.Result] += c.N }

// byWanted gives the recipients, those who asked for most first, what is not
// promised yet last.
func (t *tally) byWanted() []*recipientTally {
	var list []*recipientTally
	for _, r := range t.recipients {
		list = append(list, r)
	}
	slices.SortFunc(list, func(a, b *recipientTally) int {
		if (a.number == 0) != (b.number == 0) {
			return cmp.Compare(b.number, a.number)
		}
		return cmp.Or(cmp.Compare(b.wanted, a.wanted), cmp.Compare(a.name, b.name), cmp.Compare(a.number, b.number))
	})
	return list
}

// spans gives the months from the first to the last in which anything happened in the
// period, each from its first to its last day within the period.
func (t *tally) spans(from, to time.Time) []drive.Period {
	var first, last time.Time
	for month := range t.months {
		if first.IsZero() || month.Before(first) {
			first = month
		}
		if month.After(last) {
			last = month
		}
	}
	var spans []drive.Period
	if first.IsZero() {
		return spans
	}
	for month := first; !month.After(last); month = month.AddDate(0, 1, 0) {
		span := drive.Period{Name: month.Format("2006-01"), From: month, To: month.AddDate(0, 1, -1)}
		if span.From.Before(from) {
			span.From = from
		}
		if span.To.After(to) {
			span.To = to
		}
		spans = append(spans, span)
	}
	return spans
}
