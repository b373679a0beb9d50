package forecast

import (
	"cmp"
	"math"
	"slices"
)

// turn is a stretch of days on which somebody held something, from when they took it, or last brought
// some, to when they next brought some.
type turn struct {
	days  float64
	n     int  // pillowcases brought at its end
	ended bool // else it goes on, or all of it was booked as lost
	lost  bool
}

// portion is what somebody brought at once.
type portion struct {
	n   int
	all bool // and kept nothing
}

// taking is one day on which somebody took something.
type taking struct{ day, n int }

// worker is what the books show of one person.
type worker struct {
	who      int64
	size     float64 // as how many people they count
	turns    []turn
	portions []portion
	levels   []int    // pillowcases held after each time that they took some
	takes    []taking // by day
	held     []Spell  // today
	since    int      // day on which the turn that goes on began
	holds    int
	kept     int     // times that they brought some and kept some
	keptTook int     // of which they took some more on that day
	tops     int     // times else that they took more while they held some
	able     float64 // days on which they might have
	gaps     []span  // from when they had brought everything to when they took something
	emptied  int     // day on which they had; meaningful while idle
	idle     bool
}

// workers reads the books by person, in the order of their numbers. Of what is nobody's each hand-out is taken
// as somebody's of their own. lay counts days on which something was ready.
func workers(in Input, lay func(from, to int) float64) []*worker {
	by := map[int64][]Spell{}
	hand := map[int]int64{}
	for _, s := range in.Held {
		if s.N <= 0 {
			continue
		}
		who := s.Who
		if who == 0 {
			if hand[s.From] == 0 {
				hand[s.From] = -int64(len(hand) + 1)
			}
			who = hand[s.From]
		}
		by[who] = append(by[who], s)
	}
	list := make([]*worker, 0, len(by))
	for _, who := range sortedKeys(by) {
		w := &worker{who: who}
		w.read(by[who], in.Today, lay)
		list = append(list, w)
	}
	return list
}

func (w *worker) read(spells []Spell, today int, lay func(from, to int) float64) {
	type change struct{ took, brought, lost int }
	days := map[int]*change{}
	at := func(day int) *change {
		if days[day] == nil {
			days[day] = &change{}
		}
		return days[day]
	}
	for _, s := range spells {
		at(s.From).took += s.N
		switch s.Fate {
		case Ended:
			at(s.To).brought += s.N
		case Late:
			at(s.Back).brought += s.N
		case Lost:
			at(s.To).lost += s.N
		default:
			w.held = append(w.held, s)
		}
	}
	slices.SortStableFunc(w.held, func(a, b Spell) int { return cmp.Compare(a.From, b.From) })
	for _, day := range sortedKeys(days) {
		c := days[day]
		if c.took > 0 {
			w.takes = append(w.takes, taking{day, c.took})
		}
		if c.brought+c.lost <= w.holds {
			w.bring(day, c.brought, c.lost, c.took > 0, lay)
			w.take(day, c.took, c.brought > 0, lay)
			continue
		}
		w.take(day, c.took, false, lay) // out for less than a day
		w.bring(day, c.brought, c.lost, false, lay)
	}
	switch {
	case w.holds > 0:
		w.turns = append(w.turns, turn{days: math.Max(0.5, float64(today-w.since))})
		w.able += lay(w.since, today)
	case len(w.turns) > 0 && w.turns[len(w.turns)-1].lost:
		w.keeps(spells, today)
	case w.idle:
		w.gaps = append(w.gaps, span{days: math.Max(0.5, lay(w.emptied, today))})
	}
}

// keeps takes who had everything booked as lost, and has taken nothing since, as who has it still: a booking is made by how
// long something has been out, and does not end a turn.
func (w *worker) keeps(spells []Spell, today int) {
	w.turns[len(w.turns)-1] = turn{days: math.Max(0.5, float64(today-w.since))}
	for _, s := range spells {
		if s.Fate == Lost && (s.To > w.since || s.From >= w.since) {
			w.held = append(w.held, s)
			w.holds += s.N
		}
	}
}

func (w *worker) bring(day, n, lost int, more bool, lay func(from, to int) float64) {
	if n+lost == 0 {
		return
	}
	w.holds -= n + lost
	// Who is given up for a part is silent still.
	if n == 0 && w.holds > 0 {
		return
	}
	w.turns = append(w.turns, turn{days: math.Max(0.5, float64(day-w.since)), n: n, ended: n > 0, lost: n == 0})
	w.able += lay(w.since, day)
	if n == 0 {
		return
	}
	w.since = day
	switch {
	case w.holds == 0:
		w.emptied, w.idle = day, true
	default:
		w.kept++
		if more {
			w.keptTook++
		}
	}
	w.portions = append(w.portions, portion{n, w.holds == 0})
}

func (w *worker) take(day, n int, brought bool, lay func(from, to int) float64) {
	if n == 0 {
		return
	}
	if w.holds == 0 {
		if w.idle {
			w.gaps = append(w.gaps, span{days: math.Max(0.5, lay(w.emptied, day)), ended: true})
		}
		w.since = day
	} else if !brought {
		w.tops++
	}
	w.idle = false
	w.holds += n
	w.levels = append(w.levels, w.holds)
}
