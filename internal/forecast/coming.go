package forecast

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// coming is how people come new: as a Poisson process whose rate falls off by the same share each week, so
// that in the end there are only so many who would (Goel and Okumoto 1979, of faults in programs;
// from memory). How fast it falls off is drawn from a few values, by how likely each made what was seen.
type coming struct {
	weeks  float64
	people float64
	fall   []float64 // a week
	upTo   []float64 // how likely it falls off so fast or faster
}

// What is taken for granted of who comes new: so many people in so many weeks, and that falling
// off in half the time is twice as likely.
const usualNew, usualNewWeeks = 0.5, 0.25

// comingOf measures it from how many came new in each week; nil where there is none.
func comingOf(series []float64) *coming {
	if len(series) == 0 {
		return nil
	}
	c := &coming{weeks: float64(len(series))}
	late := 0.0
	for i, k := range series {
		c.people += k
		late += k * (float64(i) + 0.5)
	}
	var logs []float64
	for half := 0.5; half < 100; half *= 1.4 {
		b := math.Ln2 / half
		c.fall = append(c.fall, b)
		logs = append(logs, -math.Log(half)-b*late-(c.people+usualNew)*math.Log(c.worth(b)+usualNewWeeks))
	}
	top, sum := slices.Max(logs), 0.0
	for _, l := range logs {
		sum += math.Exp(l - top)
		c.upTo = append(c.upTo, sum)
	}
	for i := range c.upTo {
		c.upTo[i] /= sum
	}
	return c
}

// worth is how many weeks at the first week's rate those behind were worth.
func (c *coming) worth(b float64) float64 { return -math.Expm1(-b*c.weeks) / b }

// draw gives how many a day come new today, and by what share a day that falls off.
func (c *coming) draw(r *rand.Rand) (rate, fall float64) {
	i, _ := slices.BinarySearch(c.upTo, r.Float64())
	b := c.fall[min(i, len(c.fall)-1)]
	first := distuv.Gamma{Alpha: c.people + usualNew, Beta: c.worth(b) + usualNewWeeks, Src: r}.Rand()
	return first * math.Exp(-b*c.weeks) / week, b / week
}

// joinsAfter draws when somebody new comes, if anybody does any more.
func (s *run) joinsAfter(at float64) {
	left := 1 - s.r.ExpFloat64()*s.newFall/(s.newRate*math.Exp(-s.newFall*at))
	if left > 0 {
		s.events.push(event{at: at - math.Log(left)/s.newFall, what: joins})
	}
}
