// Package simulated holds sewing drives that are played day by day to their end, so that a
// forecast made on one of their days can be held against what came. People there sew a little on
// some evenings and come to a desk on its days; nothing of how package forecast reckons is used:
// neither its distributions nor its idea of how a drive goes.
package simulated

import (
	"math/rand/v2"

	"boltward/internal/forecast"
)

// state is where a pillowcase is.
type state byte

const (
	none state = iota
	planned
	cut
	out
	sewn
	good
	mend
	dead
)

type step struct {
	day int
	to  state
}

type pillowcase struct {
	line  int
	who   int64
	steps []step
}

func (p *pillowcase) goes(day int, to state) { p.steps = append(p.steps, step{day, to}) }

func (p *pillowcase) now() state { return p.steps[len(p.steps)-1].to }

// at gives where it was at the end of a day, and since when.
func (p *pillowcase) at(day int) (state, int) {
	for i := len(p.steps) - 1; i >= 0; i-- {
		if p.steps[i].day <= day {
			return p.steps[i].to, p.steps[i].day
		}
	}
	return none, 0
}

type kit struct {
	cases []*pillowcase
	since int
	sewn  float64
	same  *kit // where this one stands for another
}

type volunteer struct {
	id       int64
	from     int
	a        float64 // pillowcases an evening
	evenings float64 // share of days with an evening for it
	most     int     // kits at once
	kits     []*kit
	stopped  bool
	gone     bool
	group    bool
}

// Drive is one that was played to its end.
type Drive struct {
	Character
	Wanted []int
	Due    []int
	cases  []*pillowcase
	plans  []int
	end    int
}

const (
	mostDays = 900
	lostADay = 0.04 // how likely a kit is booked as lost on each day after BookLost: many come back after all
)

func within(r *rand.Rand, of [2]int) int { return of[0] + r.IntN(of[1]-of[0]+1) }

// Play plays a drive of a character.
func Play(c Character, seed uint64) *Drive { return PlayOn(c, seed, mostDays, 0) }

// PlayOn plays a drive that is the same to the end of a day, and then goes as another chance has it.
func PlayOn(c Character, seed uint64, same int, chance uint64) *Drive {
	r := rand.New(rand.NewPCG(seed, 7))
	d := &Drive{Character: c}
	all := within(r, c.Asked)
	for range 1 + r.IntN(3) {
		d.Wanted = append(d.Wanted, all)
	}
	for i := range d.Wanted {
		d.Wanted[i] = all / len(d.Wanted)
		d.Due = append(d.Due, 60+r.IntN(60))
	}
	people := d.people(r)
	for day := 0; day < mostDays; day++ {
		if day == same+1 {
			r = rand.New(rand.NewPCG(seed, 1000+chance))
		}
		d.day(r, day, people)
		if d.done(day) {
			break
		}
	}
	return d
}

func (d *Drive) people(r *rand.Rand) []*volunteer {
	var list []*volunteer
	for i := range within(r, d.People) {
		list = append(list, d.sewer(r, int64(i+1)))
	}
	if d.Group > 0 {
		list = append(list, d.school())
	}
	return list
}

// sewer draws somebody who will sew.
func (c Character) sewer(r *rand.Rand, id int64) *volunteer {
	return &volunteer{id: id, from: r.IntN(7*c.Joining + 1), a: 0.4 + 1.2*r.Float64(), evenings: c.Evenings * (0.1 + 0.3*r.Float64()), most: 1 + r.IntN(3)}
}

const schoolID = 1000

func (c Character) school() *volunteer {
	return &volunteer{id: schoolID, from: 7, a: 2, evenings: 0.6, most: c.Group, group: true}
}

func (c Character) holiday(day int) bool { return c.Holidays > 0 && day%70 >= 70-c.Holidays }

func (c Character) desks(day int) bool { return day%c.DeskEvery == c.DeskEvery-1 && !c.holiday(day) }

// swing is how much quicker everybody is than in the mean.
func (c Character) swing(day int) float64 {
	switch {
	case c.SwingWeeks == 0:
		return 1
	case day/7/c.SwingWeeks%2 == 1:
		return 0.4
	}
	return 1.6
}

func (d *Drive) count(line int, states ...state) int {
	n := 0
	for _, p := range d.cases {
		for _, s := range states {
			if p.line == line && p.now() == s {
				n++
			}
		}
	}
	return n
}

func (d *Drive) done(day int) bool {
	d.end = day
	for i, wanted := range d.Wanted {
		if d.count(i, good) < wanted {
			return false
		}
	}
	return true
}

func (d *Drive) day(r *rand.Rand, day int, people []*volunteer) {
	holiday := d.holiday(day)
	if day%d.PlanEvery == 0 {
		d.plan(day)
	}
	if day%d.CutEvery == 1 && !holiday {
		d.cutSome(r, day)
	}
	for _, v := range people {
		v.sews(r, day, d)
	}
	if d.desks(day) {
		for _, i := range r.Perm(len(people)) {
			if v := people[i]; v.from <= day && !v.gone && r.Float64() < d.Comes {
				d.desk(r, day, v)
			}
		}
	}
	if !holiday {
		d.table(r, day)
	}
}

func (d *Drive) plan(day int) {
	made := false
	for i, wanted := range d.Wanted {
		for range wanted - d.count(i, planned, cut, out, sewn, good, mend) {
			p := &pillowcase{line: i}
			p.goes(day, planned)
			d.cases = append(d.cases, p)
			made = true
		}
	}
	if made {
		d.plans = append(d.plans, day)
	}
}

func (d *Drive) cutSome(r *rand.Rand, day int) {
	left := d.CutAtOnce/2 + r.IntN(d.CutAtOnce)
	for _, p := range d.cases {
		if p.now() == planned && left > 0 {
			p.goes(day, cut)
			left--
		}
	}
}

// sews lets an evening pass at somebody's home.
func (v *volunteer) sews(r *rand.Rand, day int, d *Drive) {
	if v.from > day || v.gone {
		return
	}
	if !v.group && r.Float64() < d.Stopping/7 {
		v.stopped = true
		v.gone = r.Float64() < d.Gone
	}
	if len(v.kits) == 0 || d.holiday(day) || r.Float64() > v.evenings*d.swing(day) {
		return
	}
	v.kits[0].sewn += v.a * (0.5 + r.Float64())
	for i := 0; i+1 < len(v.kits) && v.kits[i].sewn >= float64(len(v.kits[i].cases)); i++ {
		if v.kits[i+1].sewn == 0 {
			v.kits[i+1].sewn = v.kits[i].sewn - float64(len(v.kits[i].cases))
		} else if v.kits[i+1].sewn < float64(len(v.kits[i+1].cases)) {
			v.kits[i+1].sewn += v.a
			break
		}
	}
}

// desk lets somebody come to the desk: what is finished comes back, and they take more. The
// school brings everything on one day.
func (d *Drive) desk(r *rand.Rand, day int, v *volunteer) {
	var keep []*kit
	finished := 0
	for _, k := range v.kits {
		if k.sewn >= float64(len(k.cases)) {
			finished++
		}
	}
	for _, k := range v.kits {
		done := k.sewn >= float64(len(k.cases))
		if !done || v.group && finished < len(v.kits)*4/5 {
			keep = append(keep, k)
			continue
		}
		for _, p := range k.cases {
			p.goes(day, sewn)
		}
	}
	v.kits = keep
	if v.stopped || v.group && len(v.kits) > 0 || len(v.kits) > 0 && r.Float64() < 0.6 {
		return
	}
	for len(v.kits) < v.most {
		k := d.ready(day, v.id)
		if k == nil {
			return
		}
		v.kits = append(v.kits, k)
	}
}

// ready gives a kit of the line that is due first.
func (d *Drive) ready(day int, who int64) *kit {
	best := -1
	for i := range d.Wanted {
		if d.count(i, cut) > 0 && (best < 0 || d.Due[i] < d.Due[best]) {
			best = i
		}
	}
	if best < 0 {
		return nil
	}
	k := &kit{since: day}
	for _, p := range d.cases {
		if p.line == best && p.now() == cut && len(k.cases) < d.Kit {
			p.who = who
			p.goes(day, out)
			k.cases = append(k.cases, p)
		}
	}
	return k
}

// table checks what came back, mends, and books as lost what nobody hopes for any more.
func (d *Drive) table(r *rand.Rand, day int) {
	open := r.Float64() < 0.35
	for _, p := range d.cases {
		switch now, since := p.at(day); {
		case now == sewn && open && since < day:
			switch f := r.Float64(); {
			case f < d.NotUsable:
				p.goes(day, dead)
			case f < d.NotUsable+d.ToMend:
				p.goes(day, mend)
			default:
				p.goes(day, good)
			}
		case now == mend && day-since > 4 && r.Float64() < 0.12:
			p.goes(day, sewn)
		case now == out && day-since > d.BookLost && r.Float64() < lostADay:
			p.goes(day, dead)
		}
	}
}

// Snapshot is one day of a drive as its books had it, and what became of each line.
type Snapshot struct {
	Input forecast.Input
	Done  []int // the day on which each line was done, in the order of Input.Lines; -1 where it never was
	All   int   // the day on which all were
}

// At gives the first day on which a share of everything was good; nil where there was none before the end.
func (d *Drive) At(share float64) *Snapshot {
	all := 0
	for _, w := range d.Wanted {
		all += w
	}
	for day := 7; day < d.end; day++ {
		n := 0
		for _, p := range d.cases {
			if s, _ := p.at(day); s == good {
				n++
			}
		}
		if float64(n) >= share*float64(all) {
			return d.on(day)
		}
	}
	return nil
}
