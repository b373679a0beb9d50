package simulated

import (
	"math/rand/v2"
	"slices"

	"boltward/internal/forecast"
)

// Score is how forecasts of many drives did.
type Score struct {
	Drives   int
	Said     int // lines of which a day was said
	TooEarly int // lines of which it was too early to say
	In       int // true days inside the range
	Before   int // true days before it
	After    int
	Width    float64 // days from one end of the range to the other, over all of them
	Ahead    float64 // days from the day of the forecast to the true one
	Off      float64 // days that "likely by" was off
	Needed   float64 // days that eight of ten ways the same drive could have gone on lie within, over Again lines
	Again    int
}

// Plus adds another score.
func (s Score) Plus(o Score) Score {
	return Score{
		s.Drives + o.Drives, s.Said + o.Said, s.TooEarly + o.TooEarly, s.In + o.In, s.Before + o.Before, s.After + o.After,
		s.Width + o.Width, s.Ahead + o.Ahead, s.Off + o.Off, s.Needed + o.Needed, s.Again + o.Again,
	}
}

// Share is the share of true days inside the range, in percent.
func (s Score) Share() float64 { return 100 * float64(s.In) / float64(max(1, s.Said)) }

// Mean gives a mean over the lines of which a day was said.
func (s Score) Mean(sum float64) float64 { return sum / float64(max(1, s.Said)) }

// Judge plays a drive of a character, forecasts it on a day between a sixth and three quarters of its way, and
// holds the forecast of the whole of it against what came. With again, the drive is played on from that
// day as often as that, so that a range can be seen beside what nobody could have known better.
func Judge(c Character, seed uint64, again int) Score {
	d := Play(c, seed)
	r := rand.New(rand.NewPCG(seed, 11))
	snap := d.At(0.15 + 0.6*r.Float64())
	s := Score{Drives: 1}
	if snap == nil {
		return s
	}
	res := forecast.Of(snap.Input)
	o, came := res.All, snap.All
	if o.Why != "" || o.Done {
		s.TooEarly++
		return s
	}
	s.Said++
	s.Width += float64(o.To - o.From)
	switch {
	case came >= 0 && came < o.From:
		s.Before++
	case came < 0 || came > o.To:
		s.After++
	default:
		s.In++
	}
	if came >= 0 {
		s.Ahead += float64(came - snap.Input.Today)
		s.Off += max(float64(came-o.Likely), float64(o.Likely-came))
	}
	if again > 0 {
		s.Needed, s.Again = needed(c, seed, snap.Input.Today, again), 1
	}
	return s
}

// needed is the range of days that holds eight of ten ways in which the drive could have gone on.
func needed(c Character, seed uint64, today, again int) float64 {
	var ends []int
	for i := range again {
		ends = append(ends, PlayOn(c, seed, today, uint64(i)).end)
	}
	slices.Sort(ends)
	at := func(share float64) int { return ends[int(share*float64(len(ends)-1)+0.5)] }
	return float64(at(0.9) - at(0.1))
}
