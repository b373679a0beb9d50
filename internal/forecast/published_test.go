package forecast

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// TestSmoothAsPublished: wongsteve.com, exponential smoothing: α 0.3, the first forecast is the first value.
func TestSmoothAsPublished(t *testing.T) {
	s := Smooth([]float64{99, 88, 50, 58, 62, 60, 55, 62, 71, 65}, 0.3)
	require.InDelta(t, -12.43, s.Bias, 0.005)
	require.InDelta(t, 14.14, s.MAD, 0.005)
	require.InDelta(t, 24.66, s.MAPE, 0.005)
	require.InDelta(t, 365.80, s.MSE, 0.005)
	require.InDelta(t, 65.431, s.Next, 0.0005)
	require.Equal(t, 9, s.N)
}

func TestSmoothOfLittle(t *testing.T) {
	require.Zero(t, Smooth(nil, 0.3))
	require.Equal(t, Smoothed{Next: 7}, Smooth([]float64{7}, 0.3))
	s := Smooth([]float64{0, 0, 4}, 0.5)
	require.Equal(t, 100.0, s.MAPE, "a share of nothing is no share")
	require.Equal(t, 2.0, s.Next)
}

// TestNextTotalAsPublished: Statistics for Environmental Engineers, ch. 21, p. 180: mean 332.3, s 39.3, n 6,
// t 2.015, for the total of the next 8 periods.
func TestNextTotalAsPublished(t *testing.T) {
	low, high := NextTotal(332.3, 39.3, 6, 8, 0.05)
	require.InDelta(t, 375.07, high/8, 0.01)
	require.InDelta(t, 3000.5, high, 0.1)
	require.InDelta(t, 2316.3, low, 0.1)
}

// TestLimitsAsPublished: exact Poisson limits, 95 %: Garwood 1936; graphpad.com.
func TestLimitsAsPublished(t *testing.T) {
	for _, c := range []struct {
		k         int
		low, high float64
	}{{25, 16.18, 36.90}, {10, 4.80, 18.39}} {
		low, high := Limits(c.k, 0.95)
		require.InDelta(t, c.low, low, 0.005, "%d", c.k)
		require.InDelta(t, c.high, high, 0.005, "%d", c.k)
	}
	low, high := Limits(0, 0.95)
	require.Zero(t, low)
	require.InDelta(t, 3.689, high, 0.0005, "−ln 0.025: nothing seen")
}

// TestNextMostAsPublished: Gibbons et al. 2009, example 3.6, as in EnvStats: y = 5 in n = 16, the next k = 20.
func TestNextMostAsPublished(t *testing.T) {
	require.InDelta(t, 2.573258, NextMost(5, 16, 20, 0.05), 5e-7)
}
