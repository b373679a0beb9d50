package sizing_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/length"
	"boltward/internal/sizing"
)

func built(t *testing.T, name string) sizing.Spec {
	c, ok := sizing.CaseNamed(name)
	require.True(t, ok, name)
	return c.Spec
}

// From memory: about half an hour for a standard case with cuff, accent and French seams.
func TestMinutesOfAStandardCase(t *testing.T) {
	s := built(t, "standard")
	require.InDelta(t, 30, s.Minutes(), 3)
}

// More seam takes longer, and so does more to press or to piece.
func TestMinutesFollowTheSeams(t *testing.T) {
	s := built(t, "standard")
	less := map[string]func(*sizing.Spec){
		"a plain seam is sewn once": func(s *sizing.Spec) { s.Seam = sizing.Seam{Kind: sizing.Plain, First: length.Inch / 2} },
		"a smaller case":            func(s *sizing.Spec) { s.Width, s.Length = s.Width/2, s.Length/2 },
		"no accent to press":        func(s *sizing.Spec) { s.Accent = 0 },
	}
	more := map[string]func(*sizing.Spec){
		"front and back have two sides": func(s *sizing.Spec) { s.Body = sizing.FrontAndBack },
		"a pieced cuff":                 func(s *sizing.Spec) { s.PiecedCuff = true },
		"a longer case":                 func(s *sizing.Spec) { s.Length *= 2 },
	}
	for name, change := range less {
		other := s
		change(&other)
		require.Less(t, other.Minutes(), s.Minutes(), name)
	}
	for name, change := range more {
		other := s
		change(&other)
		require.Greater(t, other.Minutes(), s.Minutes(), name)
	}
	for _, c := range sizing.Cases() {
		require.Greater(t, c.Spec.Minutes(), 10, c.Name)
		require.Less(t, c.Spec.Minutes(), 60, c.Name)
	}
}
