package forecast

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Limits gives the exact limits, at a two-sided confidence such as 0.95, of the mean of a Poisson
// count of which k was seen (Garwood, Biometrika 28, 1936): quantiles of gamma distributions.
func Limits(k int, confidence float64) (low, high float64) {
	tail := (1 - confidence) / 2
	if k > 0 {
		low = distuv.Gamma{Alpha: float64(k), Beta: 1}.Quantile(tail)
	}
	return low, distuv.Gamma{Alpha: float64(k + 1), Beta: 1}.Quantile(1 - tail)
}

// NextTotal gives the limits of the total of the next m periods after n of which mean and standard
// deviation are known, each missed with the probability tail: m·(mean ± t·s·√(1/m + 1/n)), t on
// n − 1 degrees of freedom (Berthouex and Brown, Statistics for Environmental Engineers, ch. 21).
// The periods are taken as independent and normal. Fewer than two tell nothing: low is 0, high infinite.
func NextTotal(mean, s float64, n, m int, tail float64) (low, high float64) {
	if n < 2 || m < 1 {
		return 0, math.Inf(1)
	}
	t := distuv.StudentsT{Sigma: 1, Nu: float64(n - 1)}.Quantile(1 - tail)
	off := t * s * math.Sqrt(1/float64(m)+1/float64(n))
	return float64(m) * (mean - off), float64(m) * (mean + off)
}

// NextMost bounds a Poisson count from above in each of the next k periods at once, missed with
// the probability tail, after y were seen in n periods together:
// y/n + t²/2n + (t/n)·√(y(1 + n) + t²/4), t on n − 1 degrees of freedom at 1 − tail/k (Gibbons,
// Bhaumik and Aryal, Statistical Methods for Groundwater Monitoring, 2009). Infinite for fewer than two periods.
func NextMost(y float64, n, k int, tail float64) float64 {
	if n < 2 || k < 1 {
		return math.Inf(1)
	}
	t := distuv.StudentsT{Sigma: 1, Nu: float64(n - 1)}.Quantile(1 - tail/float64(k))
	of := float64(n)
	return y/of + t*t/(2*of) + t/of*math.Sqrt(y*(1+of)+t*t/4)
}
