package drive

import "time"

// FlowDays is how far back the flow of pillowcases is looked at: what was longer ago says
// little of how a drive goes now.
const FlowDays = 240

// FlowStep is one entry of the pillowcases ledger that was not undone, as the flow reads it.
type FlowStep struct {
	Size    int64     `db:"size"`
	N       int       `db:"n"`
	Asked   int64     `db:"asked"`
	Kit     int64     `db:"kit"`
	Part    int       `db:"part"`
	From    CaseState `db:"from_state"`
	ToAsked int64     `db:"to_asked"`
	ToKit   int64     `db:"to_kit"`
	ToPart  int       `db:"to_part"`
	To      CaseState `db:"to_state"`
	Person  *int64    `db:"person"`
	Day     time.Time `db:"day"`
}

// Spell is a stretch of days that some pillowcases of one line were out with somebody, waited to be
// checked, or were being mended. To is nil while it goes on.
type Spell struct {
	Who   int64 // whose hands; 0 where it is nobody's
	Asked int64
	N     int
	From  time.Time
	To    *time.Time
	Lost  bool
	Back  *time.Time // when what was booked as lost came back after all
}

// FlowEvent is pillowcases of one line that something happened to on one day.
type FlowEvent struct {
	Asked int64
	N     int
	Day   time.Time
}

// Flow is how pillowcases went through the drive: what a forecast is made from.
type Flow struct {
	Held, Checks, Mends     []Spell
	Cut, Good, Own          []FlowEvent
	Passed, Faulty, Useless int // what the checking table found
	Plans                   []time.Time
	Before                  []int64 // who had something before the first day that is looked at
}

// flowKey is where pillowcases stand that cannot be told from each other.
type flowKey struct {
	asked, size, kit int64
	part             int
	state            CaseState
}

// flowing is spells that go on, the oldest first.
type flowing map[flowKey][]Spell

// NewFlow reads the ledger's steps, in their order. Pillowcases that stand alike leave in the order in which they
// came. What stood somewhere before the first step is not seen.
func NewFlow(steps []FlowStep, plans []time.Time) Flow {
	f := Flow{Plans: plans}
	open := flowing{}
	var order []flowKey
	for _, s := range steps {
		from := flowKey{s.Asked, s.Size, s.Kit, s.Part, s.From}
		to := flowKey{s.ToAsked, s.Size, s.ToKit, s.ToPart, s.To}
		f.count(s)
		left := open.take(from, s.N)
		if s.From != s.To {
			for _, spell := range left {
				f.leaves(spell, s, open)
			}
		}
		if s.To == CaseLost {
			order = append(order, to)
		}
		if s.To == CaseLost || f.of(s.To) == nil {
			continue
		}
		order = append(order, to)
		entered := Spell{Asked: s.ToAsked, N: s.N, From: s.Day}
		if s.To == CaseOut && s.Person != nil {
			entered.Who = *s.Person
		}
		if s.From != s.To || entered.Who != 0 && (len(left) == 0 || left[0].Who != entered.Who) {
			open[to] = append(open[to], entered)
			continue
		}
		// Only its place or its line changed.
		for _, spell := range left {
			spell.Asked = s.ToAsked
			open[to] = append(open[to], spell)
		}
	}
	for _, key := range order {
		*f.of(key.state) = append(*f.of(key.state), open[key]...)
		delete(open, key)
	}
	return f
}

// leaves ends a spell by a step. What was out and is booked as lost is kept at hand: it may come back.
func (f *Flow) leaves(spell Spell, s FlowStep, open flowing) {
	day := s.Day
	if s.From == CaseLost {
		spell.Back = &day
	} else {
		spell.To, spell.Lost = &day, s.To == CaseLost
	}
	if s.From == CaseOut && spell.Lost {
		to := flowKey{s.ToAsked, s.Size, s.ToKit, s.ToPart, s.To}
		open[to] = append(open[to], spell)
		return
	}
	list := f.of(s.From)
	*list = append(*list, spell)
}

// of gives the list that spells of a state belong to; nil where they are not followed.
func (f *Flow) of(state CaseState) *[]Spell {
	switch state {
	case CaseOut, CaseLost:
		return &f.Held
	case CaseSewn:
		return &f.Checks
	case CaseToMend:
		return &f.Mends
	}
	return nil
}

// take removes n pillowcases, the oldest first, and gives the spells they were in.
func (o flowing) take(key flowKey, n int) []Spell {
	var taken []Spell
	list := o[key]
	for n > 0 && len(list) > 0 {
		spell := list[0]
		spell.N = min(n, spell.N)
		taken = append(taken, spell)
		n -= spell.N
		if list[0].N -= spell.N; list[0].N == 0 {
			list = list[1:]
		}
	}
	o[key] = list
	return taken
}

// count notes what a step tells beside where it leads.
func (f *Flow) count(s FlowStep) {
	event := FlowEvent{Asked: s.ToAsked, N: s.N, Day: s.Day}
	switch {
	case s.From == CasePlanned && s.To == CaseCut:
		f.Cut = append(f.Cut, event)
	case s.From == CaseBorn && s.To == CaseSewn:
		f.Own = append(f.Own, event)
	case s.From == CaseSewn && s.To == CaseGood:
		f.Passed += s.N
		f.Good = append(f.Good, event)
	case s.From == CaseSewn && s.To == CaseToMend:
		f.Faulty += s.N
	case s.From == CaseSewn && s.To == CaseNotUsable:
		f.Useless += s.N
	}
}
