package forecast

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// pace is how long something takes, in days: its cube root is normal around mean plus what is
// each person's own; some of it never ends.
type pace struct {
	mean, sigma float64         // of the cube root of days
	between     float64         // standard deviation of what is people's own
	own         map[int64]trait // by person
	never       float64         // share that never ends of itself
	gone, all   float64         // behind never: spells that never end, as far as is known, of so many
}

// trait is what is known of one person: how much slower in the cube root, and how surely.
type trait struct{ off, sd float64 }

// span is one observation: so many days, ended or still going on.
type span struct {
	who   int64
	days  float64
	ended bool
	lost  bool
}

// spansOf measures the spells up to a day. What went out and came back on one day took half a day.
func spansOf(spells []Spell, today int) []span {
	var list []span
	for _, s := range spells {
		to := today
		if s.Fate != Open {
			to = s.To
		}
		list = append(list, span{who: s.Who, days: math.Max(0.5, float64(to-s.From)), ended: s.Fate == Ended, lost: s.Fate == Lost || s.Fate == Late})
	}
	return list
}

// guess is what is taken for granted of a pace before anything is measured, and how many
// measured spells it weighs as much as.
type guess struct {
	days   float64 // the middle one
	weight float64
	never  float64 // share that never ends
	steady float64 // how many measured spells that share weighs as much as
	sigma  float64 // within one person, as a share of the mean; usualSigma where it is 0
	people bool    // whether people differ
}

// What is usual, without a source: set on simulated drives (see the package). Each fades as spells are measured.
var usual = struct{ check, mend, cut, plan, gap, lost guess }{
	check: guess{days: 4, weight: 2},
	mend:  guess{days: 10, weight: 2},
	cut:   guess{days: 7, weight: 2},
	plan:  guess{days: 10, weight: 2},
	gap:   guess{days: 7, weight: 2, never: 0.2, steady: 8, people: true},
	lost:  guess{days: 90, weight: 2, sigma: 0.1},
}

const (
	usualSigma   = 0.17 // within one person, as a share of the mean
	usualBetween = 0.18 // between people
	sigmaWeight  = 4
	far          = 1.5 // set on simulated drives: how much slower than the fitted pace somebody late may be, before they count as gone
	rounds       = 25  // of expectation and maximisation; also of how people sew (folk.go)
)

// fit measures a pace: the mean, each person's own part and the share that never ends, by expectation and maximisation. An
// open spell counts as what it would take given how long it has been, and as far as it is not one of
// those that never end.
func fit(spans []span, g guess) pace {
	prior := math.Cbrt(g.days)
	if g.sigma == 0 {
		g.sigma = usualSigma
	}
	p := pace{mean: prior, sigma: g.sigma * prior, own: map[int64]trait{}, never: g.never}
	if g.people {
		p.between = usualBetween * prior
	}
	for range rounds {
		p.round(spans, g, prior)
	}
	return p
}

func (p *pace) round(spans []span, g guess, prior float64) {
	type part struct{ sum, weight float64 }
	people := map[int64]part{}
	var sum, weight, squares, gone, all float64
	at := make([]part, len(spans)) // the expected root, and how far the spell counts
	for i, s := range spans {
		all++
		m := p.mean + p.own[s.who].off
		x, w, extra := math.Cbrt(s.days), 1.0, 0.0
		if !s.ended {
			z := (x - m) / p.sigma
			w = p.comes(z)
			gone += 1 - w
			x, extra = beyond(m, p.sigma, z)
		}
		at[i] = part{x, w}
		own := people[s.who]
		own.sum += w * (x - p.mean)
		own.weight += w
		people[s.who] = own
		sum += w * (x - p.own[s.who].off)
		weight += w
		squares += w * extra
	}
	p.mean = (sum + g.weight*prior) / (weight + g.weight)
	var traits float64
	if g.people {
		// In a fixed order: sums of floats depend on it, and so would every draw after it.
		for _, who := range sortedKeys(people) {
			o := people[who]
			precision := o.weight/(p.sigma*p.sigma) + 1/(p.between*p.between)
			t := trait{off: o.sum / (p.sigma * p.sigma) / precision, sd: math.Sqrt(1 / precision)}
			p.own[who] = t
			traits += t.off*t.off + t.sd*t.sd
		}
		p.between = math.Sqrt((traits + 4*math.Pow(usualBetween*prior, 2)) / (float64(len(people)) + 4))
	}
	for i, s := range spans {
		t := p.own[s.who]
		off := at[i].sum - p.mean - t.off
		squares += at[i].weight * (off*off + t.sd*t.sd)
	}
	p.sigma = math.Sqrt((squares + sigmaWeight*math.Pow(g.sigma*prior, 2)) / (weight + sigmaWeight))
	if g.never > 0 {
		p.gone, p.all = gone+g.steady*g.never, all+g.steady
		p.never = p.gone / p.all
	}
}

// comes is how likely it is that a spell that has gone on for z deviations still ends.
func (p *pace) comes(z float64) float64 {
	still := (1 - p.never) * tail(z/far)
	return still / (still + p.never + 1e-12)
}

// tail is the chance of a normal value above z.
func tail(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }

// drawnBeyond draws a normal value that is known to lie above z deviations. Far out, where its chance is below what a float
// holds, it is z itself.
func drawnBeyond(z float64, r *rand.Rand) float64 {
	if above := tail(z) * (1 - r.Float64()); above > tiny {
		return math.Max(z, -mathext.NormalQuantile(above))
	}
	return z
}

// beyond gives mean and variance of a normal value that is known to lie above z deviations
// (the inverse Mills ratio; Johnson, Kotz and Balakrishnan 1994, ch. 13).
func beyond(m, sigma, z float64) (mean, variance float64) {
	ratio := z + 1/math.Max(z, 1) // far out, where the quotient would be 0/0
	if z < 8 {
		ratio = math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) / tail(z)
	}
	return m + sigma*ratio, sigma * sigma * math.Max(0, 1+z*ratio-ratio*ratio)
}

// drawnNever is the pace with its share that never ends within what is known of it.
func (p pace) drawnNever(r *rand.Rand) pace {
	p.never = distuv.Beta{Alpha: p.gone, Beta: p.all - p.gone, Src: r}.Rand()
	return p
}

// of gives one person's mean in this run; somebody unknown is one of many.
func (p pace) of(who int64, r *rand.Rand) float64 {
	t, known := p.own[who]
	if !known {
		t = trait{sd: p.between}
	}
	return p.mean + t.off + t.sd*r.NormFloat64()
}

// days draws how long it takes around a mean.
func (p pace) days(mean float64, r *rand.Rand) float64 {
	return cube(mean + p.sigma*r.NormFloat64())
}

// rest draws how many days are left of a spell that has gone on for so long; it is false where it
// never ends.
func (p pace) rest(mean, age float64, r *rand.Rand) (days float64, ends bool) {
	z := (math.Cbrt(math.Max(age, 0.5)) - mean) / p.sigma
	if r.Float64() > p.comes(z) {
		return 0, false
	}
	total := cube(mean + p.sigma*drawnBeyond(z, r))
	return math.Max(0, total-age), true
}

// middle is the middle number of days.
func (p pace) middle() float64 { return cube(p.mean) }

// cube turns the scale of a pace back into days; nothing takes less than half a day.
func cube(x float64) float64 { return math.Max(0.5, x*x*x) }
