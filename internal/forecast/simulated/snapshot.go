package simulated

import (
	"cmp"
	"slices"

	"boltward/internal/forecast"
)

// on writes down what the books of a drive show at the end of a day.
func (d *Drive) on(today int) *Snapshot {
	s := &Snapshot{All: -1}
	s.Input.Today = today
	for _, day := range d.plans {
		if day <= today {
			s.Input.Plans = append(s.Input.Plans, day)
		}
	}
	for i, wanted := range d.Wanted {
		due := d.Due[i]
		s.Input.Lines = append(s.Input.Lines, forecast.Line{ID: int64(i + 1), Group: int64(i + 1), Due: &due, Need: wanted})
	}
	s.spells(d, today)
	s.stands(d, today)
	s.truth(d)
	return s
}

// spells gathers what was out, waited and was mended.
func (s *Snapshot) spells(d *Drive, today int) {
	held, checks, mends := joined{}, joined{}, joined{}
	events := map[string]map[[2]int]int{"cut": {}, "good": {}}
	for _, p := range d.cases {
		for i, st := range p.steps {
			if st.day > today {
				break
			}
			spell := forecast.Spell{From: st.day, N: 1, Line: int64(p.line + 1)}
			if i+1 < len(p.steps) && p.steps[i+1].day <= today {
				spell.To, spell.Fate = p.steps[i+1].day, forecast.Ended
				if p.steps[i+1].to == dead && st.to == out {
					spell.Fate = forecast.Lost
					if i+2 < len(p.steps) && p.steps[i+2].day <= today {
						spell.Fate, spell.Back = forecast.Late, p.steps[i+2].day
					}
				}
			}
			switch st.to {
			case out:
				spell.Who = p.who
				held.add(spell)
			case sewn:
				checks.add(spell)
			case mend:
				mends.add(spell)
			case cut:
				events["cut"][[2]int{st.day, p.line}]++
			case good:
				events["good"][[2]int{st.day, p.line}]++
			}
			if i > 0 && p.steps[i-1].to == sewn {
				switch st.to {
				case good:
					s.Input.Found.Good++
				case mend:
					s.Input.Found.ToMend++
				case dead:
					s.Input.Found.NotUsable++
				}
			}
		}
	}
	s.Input.Held, s.Input.Checks, s.Input.Mends = held.list(), checks.list(), mends.list()
	s.Input.Cut, s.Input.Good = listed(events["cut"], today, len(d.Wanted)), listed(events["good"], today, len(d.Wanted))
}

// joined are spells that differ in nothing but their number, as one.
type joined map[forecast.Spell]int

func (j joined) add(s forecast.Spell) {
	n := s.N
	s.N = 0
	j[s] += n
}

func (j joined) list() []forecast.Spell {
	list := make([]forecast.Spell, 0, len(j))
	for s, n := range j {
		s.N = n
		list = append(list, s)
	}
	sortSpells(list)
	return list
}

func listed(events map[[2]int]int, today, lines int) []forecast.Event {
	var list []forecast.Event
	for day := 0; day <= today; day++ {
		for line := range lines {
			if n := events[[2]int{day, line}]; n > 0 {
				list = append(list, forecast.Event{Day: day, N: n, Line: int64(line + 1)})
			}
		}
	}
	return list
}

// stands counts where the pillowcases of each line are.
func (s *Snapshot) stands(d *Drive, today int) {
	for _, p := range d.cases {
		l := &s.Input.Lines[p.line]
		switch at, _ := p.at(today); at {
		case planned:
			l.ToCut++
		case cut:
			l.Ready++
		case sewn:
			l.ToCheck++
		case mend:
			l.ToMend++
		case good:
			l.Good++
		}
	}
	for i := range s.Input.Lines {
		l := &s.Input.Lines[i]
		l.Need = max(0, l.Need-l.Good)
	}
}

// truth finds the day on which each line was done.
func (s *Snapshot) truth(d *Drive) {
	for i, wanted := range d.Wanted {
		done := -1
		for day := 0; day <= d.end; day++ {
			n := 0
			for _, p := range d.cases {
				if at, _ := p.at(day); p.line == i && at == good {
					n++
				}
			}
			if n >= wanted {
				done = day
				break
			}
		}
		s.Done = append(s.Done, done)
		if done < 0 {
			s.All = -1
			return
		}
		s.All = max(s.All, done)
	}
}

func sortSpells(list []forecast.Spell) {
	slices.SortFunc(list, func(a, b forecast.Spell) int {
		return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.Who, b.Who), cmp.Compare(a.To, b.To), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Fate, b.Fate), cmp.Compare(a.Back, b.Back))
	})
}
