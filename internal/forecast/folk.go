package forecast

import (
	"math"
	"slices"
)

// folk is how people sew. The cube root of a turn's days, for a share of what is brought, is normal around mean
// plus what is each person's own, which is normal too; and each day some drop out and never bring what
// they have. All of it is fitted together, by expectation and maximisation, from what is measured and
// from usualFolk.
type folk struct {
	mean, sigma, between float64
	drop                 float64 // share that drops out on a day
	dropped              float64 // people behind it, as far as it is known of them
	ended                float64 // turns
	people               float64
	own                  map[int64]*posterior
	typical              int // pillowcases brought at once
	portions             []portion
	levels               []int // pillowcases held after each taking
	tops                 float64
	able                 float64
	kept, keptTook       float64
}

// nodes is on how many paces what is known of somebody is reckoned, evenly over reach deviations to either side.
const (
	nodes = 15
	reach = 2.8
)

// posterior is what is known of one person (empirical Bayes: the prior is what everybody together tells).
type posterior struct {
	w                           *worker
	ended, days, roots, squares float64 // of turns that ended: how many, and sums of days, cube roots and their squares
	open                        []openTurn
	off                         [nodes]float64 // slower than the mean, in the cube root
	p                           [nodes]float64 // how likely
	out                         [nodes]float64 // where a turn goes on: the odds that they have dropped out
	seen                        float64        // how far what is known of them is their own: 0 nothing, 1 everything
}

// openTurn is one that has not ended: it goes on, or what they had was booked as lost.
type openTurn struct {
	days, share, root float64
	lost              bool
}

// add takes in a turn; usually is what an open one will bring.
func (o *posterior) add(t turn, usually int) {
	if !t.ended {
		share := o.w.share(usually)
		o.open = append(o.open, openTurn{t.days, share, math.Cbrt(t.days / share), t.lost})
		return
	}
	x := math.Cbrt(t.days / o.w.share(t.n))
	o.ended++
	o.days += t.days
	o.roots += x
	o.squares += x * x
}

// usualFolk is what is taken for granted, without a source: set on simulated drives (see the package). Days of a turn that brings usualFor
// pillowcases weigh as much as so many turns, the spread between people as so many people, that of
// one person as so many turns, dropping out as so many days that somebody was watched.
var usualFolk = struct {
	days, weight        float64
	between, people     float64
	sigma, turns        float64
	drop, days4dropping float64
}{days: 14, weight: 2, between: 0.22, people: 8, sigma: 0.17, turns: 4, drop: 0.0004, days4dropping: 500}

const (
	usualFor = 4
	// growth is how a turn's days grow with what is brought: less than evenly, as coming to bring it takes its time too.
	// Set on simulated drives.
	growth = 0.75
	// groupFrom is how many times what most people hold somebody has who is taken for a group: common practice, no source.
	groupFrom = 3
)

// share is what so many pillowcases count in a turn's days.
func (w *worker) share(n int) float64 {
	size := 1.0
	if w != nil {
		size = w.size
	}
	return math.Pow(float64(max(n, 1))/size, growth)
}

func fitFolk(list []*worker) *folk {
	u := usualFolk
	prior := math.Cbrt(u.days / (*worker)(nil).share(usualFor))
	f := &folk{mean: prior, sigma: u.sigma * prior, between: u.between * prior, drop: u.drop, own: map[int64]*posterior{}, typical: usualFor, people: float64(len(list))}
	f.habits(list)
	f.groups(list)
	for _, w := range list {
		o := &posterior{w: w}
		for _, t := range w.turns {
			o.add(t, f.usually(w, t.lost))
		}
		f.own[w.who] = o
	}
	for i := range rounds {
		f.round(list, prior, i%2 == 0)
	}
	return f
}

func (f *folk) habits(list []*worker) {
	var sizes []int
	for _, w := range list {
		for _, p := range w.portions {
			sizes = append(sizes, p.n)
		}
		f.portions = append(f.portions, w.portions...)
		f.levels = append(f.levels, w.levels...)
		f.kept += float64(w.kept)
		f.keptTook += float64(w.keptTook)
		f.tops += float64(w.tops)
		f.able += w.able
	}
	if len(sizes) > 0 {
		slices.Sort(sizes)
		f.typical = sizes[len(sizes)/2]
	}
}

// groups finds who has far more at once than most, as a school has: such a one counts as so many people.
func (f *folk) groups(list []*worker) {
	var most []int
	for _, w := range list {
		most = append(most, slices.Max(w.levels))
	}
	slices.Sort(most)
	for i, w := range list {
		usual := most[len(most)/2]
		if w.size = 1; slices.Max(list[i].levels) >= groupFrom*usual {
			w.size = float64(slices.Max(w.levels)) / float64(usual)
		}
	}
}

// usually is how much somebody brings at once.
func (f *folk) usually(w *worker, everything bool) int {
	n := float64(f.typical) * w.size
	if len(w.portions) > 0 {
		n = 0
		for _, p := range w.portions {
			n += float64(p.n) / float64(len(w.portions))
		}
	}
	if everything {
		return max(1, int(n))
	}
	return max(1, min(int(n), w.holds))
}

// sums is what a round adds up, over people and over the paces that each may have.
type sums struct{ roots, weight, squares, offs, traits, dropped, watched, ended float64 }

func (s *sums) add(o sums, p float64) {
	s.roots += p * o.roots
	s.weight += p * o.weight
	s.squares += p * o.squares
	s.offs += p * o.offs
	s.traits += p * o.traits
	s.dropped += p * o.dropped
	s.watched += p * o.watched
	s.ended += p * o.ended
}

// round does both steps once. The mean follows, in turn, from what turns tell beside what is people's own, and from the means of
// people: the first hardly moves where people are known by many turns, the other where they are known by few (van Dyk and Meng
// 2001, of such pairs; from memory). What is usual weighs as much as turns of so many people.
func (f *folk) round(list []*worker, prior float64, byTurns bool) {
	var all sums
	for _, w := range list {
		f.known(f.own[w.who], &all)
	}
	u := usualFolk
	within, between := f.sigma*f.sigma, f.between*f.between
	usually := u.weight / (within + between)
	if byTurns {
		f.mean = (all.roots/within + prior*usually) / (all.weight/within + usually)
	} else {
		f.mean = ((f.people*f.mean+all.offs)/between + prior*usually) / (f.people/between + usually)
	}
	f.between = math.Sqrt((all.traits + u.people*math.Pow(u.between*prior, 2)) / (f.people + u.people))
	f.sigma = math.Sqrt((all.squares + u.turns*math.Pow(u.sigma*prior, 2)) / (all.weight + u.turns))
	f.dropped = all.dropped + u.drop*u.days4dropping
	f.drop = f.dropped / (all.watched + u.days4dropping)
	f.ended = all.ended
}

// known reckons what is known of somebody and adds it to the sums.
func (f *folk) known(o *posterior, all *sums) {
	var logs [nodes]float64
	var told [nodes]sums
	for j := range nodes {
		z := reach * (2*float64(j)/(nodes-1) - 1)
		o.off[j] = z * f.between
		told[j].offs, told[j].traits = o.off[j], o.off[j]*o.off[j]
		m := f.mean + o.off[j]
		off := o.squares - 2*m*o.roots + o.ended*m*m
		told[j].ended, told[j].weight, told[j].watched = o.ended, o.ended, o.days
		told[j].roots, told[j].squares = o.roots-o.ended*o.off[j], off
		logs[j] = -z*z/2 - off/(2*f.sigma*f.sigma) - o.ended*math.Log(f.sigma) - f.drop*o.days
		for _, t := range o.open {
			log, odds := f.silent(t, o.off[j], &told[j])
			logs[j] += log
			if !t.lost {
				o.out[j] = odds
			}
		}
	}
	top, total := slices.Max(logs[:]), 0.0
	for j := range nodes {
		o.p[j] = math.Exp(logs[j] - top)
		total += o.p[j]
	}
	mean, square := 0.0, 0.0
	for j := range nodes {
		o.p[j] /= total
		all.add(told[j], o.p[j])
		mean += o.p[j] * o.off[j]
		square += o.p[j] * o.off[j] * o.off[j]
	}
	o.seen = math.Max(0, 1-(square-mean*mean)/(f.between*f.between))
}

// silent adds a turn that has not ended, of somebody so much slower than the mean. It gives the logarithm of how likely it is, and
// the odds that they have dropped out: the longer nothing is heard beyond their usual time, the
// higher. What was booked as lost is no other case: it is booked by how long it has been out.
func (f *folk) silent(t openTurn, off float64, s *sums) (log, odds float64) {
	m := f.mean + off
	z := (t.root - m) / f.sigma
	still := math.Exp(-f.drop*t.days) * tail(z)
	gone, when := f.gone(t.days, t.share, m)
	out := gone / (still + gone + tiny)
	expected, variance := beyond(m, f.sigma, z)
	s.roots += (1 - out) * (expected - off)
	s.weight += 1 - out
	s.squares += (1 - out) * (variance + (expected-m)*(expected-m))
	s.dropped += out
	s.watched += (1-out)*t.days + out*when
	return math.Log(still + gone + tiny), gone / (still + tiny)
}

const tiny = 1e-300 // against 0/0

// gone is how likely somebody drops out in a turn within so many days, before it would have ended, and when in
// the mean: the integral of drop·e^(−drop·u)·P(the turn lasts beyond u), by the midpoint rule.
func (f *folk) gone(days, share, m float64) (p, when float64) {
	const steps = 8
	for i := range steps {
		u := days * (float64(i) + 0.5) / steps
		at := f.drop * math.Exp(-f.drop*u) * tail((math.Cbrt(u/share)-m)/f.sigma) * days / steps
		p += at
		when += at * u
	}
	return p, when / (p + tiny)
}

// middle is the middle number of days of a turn that brings what is usual.
func (f *folk) middle() float64 { return cube(f.mean) * (*worker)(nil).share(f.typical) }

// never is the share of turns that never end.
func (f *folk) never() float64 { return f.dropped / (f.dropped + f.ended) }
