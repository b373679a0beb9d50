package forecast

import "math"

// alpha is how much the newest week counts in a smoothed pace: the last five weeks make up more than
// four fifths of it.
const alpha = 0.3

// Smoothed is a series with what each of its values would have been foretold to be.
type Smoothed struct {
	Next float64 // the value foretold for the period to come
	// How far the foretold values were off, over all periods but the first, which only starts the
	// series: mean of actual − foretold, of its size, of its square, and of its size as a share of
	// the actual value in percent, over periods that were not 0.
	Bias, MAD, MSE, MAPE float64
	N                    int // periods that were foretold
}

// Smooth foretells a series by simple exponential smoothing: each foretold value is alpha of the
// last one and the rest of what was foretold for that. The first one is foretold as itself. An
// empty series gives zeros.
func Smooth(series []float64, alpha float64) Smoothed {
	var s Smoothed
	if len(series) == 0 {
		return s
	}
	s.Next = series[0]
	shares := 0
	for _, actual := range series[1:] {
		// The first value is foretold as itself, so the first error is that of the second.
		off := actual - s.Next
		s.Bias += off
		s.MAD += math.Abs(off)
		s.MSE += off * off
		if actual != 0 {
			s.MAPE += math.Abs(off / actual)
			shares++
		}
		s.N++
		s.Next += alpha * off
	}
	if s.N > 0 {
		s.Bias, s.MAD, s.MSE = s.Bias/float64(s.N), s.MAD/float64(s.N), s.MSE/float64(s.N)
	}
	if shares > 0 {
		s.MAPE = 100 * s.MAPE / float64(shares)
	}
	return s
}
