package simulated

import (
	"math"
	"math/rand/v2"
	"slices"

	"boltward/internal/forecast"
)

// Score is how forecasts of many drives did, one forecaster's of one character.
type Score struct {
	Drives   int
	Said     int // drives of which a day was said
	TooEarly int
	In       int // true days inside the range, of those said
	Before   int // true days before it
	After    int
	Width    float64 // days from one end of the range to the other, over those said
	Ahead    float64 // days from the day of the forecast to the true one
	Off      float64 // days that "likely by" was off

	// Over all drives that were played through, said or not, so that nobody gains by silence.
	Played   int
	CRPS     float64    // days: the continuous ranked probability score (Gneiting and Raftery 2007; from memory)
	Pinball  [3]float64 // days: at 10, 50 and 90 of 100
	Interval float64    // days: width and ten times what the true day lies outside
	PIT      [10]int    // in which tenth of the runs the true day lay: even where they are right
}

// Plus adds another score.
func (s Score) Plus(o Score) Score {
	s.Drives += o.Drives
	s.Said += o.Said
	s.TooEarly += o.TooEarly
	s.In += o.In
	s.Before += o.Before
	s.After += o.After
	s.Width += o.Width
	s.Ahead += o.Ahead
	s.Off += o.Off
	s.Played += o.Played
	s.CRPS += o.CRPS
	s.Interval += o.Interval
	for i := range s.Pinball {
		s.Pinball[i] += o.Pinball[i]
	}
	for i := range s.PIT {
		s.PIT[i] += o.PIT[i]
	}
	return s
}

// Share is the share of true days inside the range, in percent.
func (s Score) Share() float64 { return 100 * float64(s.In) / float64(max(1, s.Said)) }

// Mean gives a mean over the drives of which a day was said.
func (s Score) Mean(sum float64) float64 { return sum / float64(max(1, s.Said)) }

// Each gives a mean over the drives that were played through.
func (s Score) Each(sum float64) float64 { return sum / float64(max(1, s.Played)) }

// Verdict is one drive, foretold by several forecasters.
type Verdict struct {
	Forecast Score
	Oracle   Score // who knows the character, and the books: see Drive.Oracle
	Hidden   Score // who knows the character and all that the books do not show: see PlayOn
}

// Plus adds another one.
func (v Verdict) Plus(o Verdict) Verdict {
	return Verdict{v.Forecast.Plus(o.Forecast), v.Oracle.Plus(o.Oracle), v.Hidden.Plus(o.Hidden)}
}

// Judge plays a drive of a character, forecasts it on a day between a sixth and three quarters of its way, and
// holds the forecast of the whole of it against what came. With again, those who know more foretell it
// too where the forecast does, from as many ways in which the drive could go on, so that a range can be seen beside the
// narrowest one that is right.
func Judge(c Character, seed uint64, again int) Verdict {
	d := Play(c, seed)
	r := rand.New(rand.NewPCG(seed, 11))
	snap := d.At(0.15 + 0.6*r.Float64())
	v := Verdict{Forecast: Score{Drives: 1}}
	if snap == nil {
		return v
	}
	res := forecast.Of(snap.Input)
	came := float64(d.end - snap.Input.Today)
	said := res.All.Why == "" && !res.All.Done
	v.Forecast = judge(res.Ends(), came, said)
	if v.Forecast.Played == 0 || again == 0 {
		return v
	}
	var oracle, hidden []float64
	for i, end := range d.Oracle(snap.Input.Today, again, seed) {
		oracle = append(oracle, float64(end-snap.Input.Today))
		hidden = append(hidden, float64(PlayOn(c, seed, snap.Input.Today, uint64(i)).end-snap.Input.Today))
	}
	v.Oracle, v.Hidden = judge(oracle, came, said), judge(hidden, came, said)
	return v
}

// A year is as far as anything is foretold.
const year = 364

func judge(days []float64, came float64, said bool) Score {
	s := Score{Drives: 1}
	came = math.Min(came, year)
	if len(days) == 0 || slices.Max(days) == 0 {
		s.TooEarly++
		return s
	}
	slices.Sort(days)
	for i := range days {
		days[i] = math.Ceil(math.Min(days[i], year))
	}
	at := func(share float64) float64 { return days[int(share*float64(len(days)-1)+0.5)] }
	low, mid, high := at(0.1), at(0.5), at(0.9)
	s.score(days, came, [3]float64{low, mid, high})
	if !said {
		s.TooEarly++
		return s
	}
	s.Said++
	s.Width += high - low
	switch {
	case came < low:
		s.Before++
	case came > high:
		s.After++
	default:
		s.In++
	}
	s.Ahead += came
	s.Off += math.Abs(came - mid)
	return s
}

// score adds the proper scores: those that nobody betters by saying otherwise than they believe.
func (s *Score) score(sorted []float64, came float64, q [3]float64) {
	s.Played++
	n := float64(len(sorted))
	below, spread := 0, 0.0
	for i, d := range sorted {
		s.CRPS += math.Abs(d-came) / n
		spread += d * (2*float64(i) + 1 - n) // half the sum of all differences
		if d < came {
			below++
		}
	}
	s.CRPS -= spread / max(1, n*(n-1)) // so that few draws are not held against who has them (Ferro 2014; from memory)
	s.PIT[min(9, below*10/len(sorted))]++
	for i, share := range [3]float64{0.1, 0.5, 0.9} {
		if came >= q[i] {
			s.Pinball[i] += share * (came - q[i])
		} else {
			s.Pinball[i] += (1 - share) * (q[i] - came)
		}
	}
	s.Interval += q[2] - q[0] + 10*(math.Max(0, q[0]-came)+math.Max(0, came-q[2]))
}
