package drive

import (
	"testing"

	"boltward/internal/apperr"

	"github.com/stretchr/testify/require"
)

func TestEnoughForSoManyKits(t *testing.T) {
	for _, tt := range []struct {
		have, used, per, kits int
		told                  bool
	}{
		{40, 1, 1, 40, true},
		{10, 1, 4, 40, true},
		{7, 4, 1, 1, true},
		{7, 2, 3, 10, true},
		{0, 1, 1, 0, true},
		{9, 0, 1, 0, false},
	} {
		s := Supply{Name: "thread", Have: tt.have, Used: tt.used, PerKits: tt.per}
		kits, told := s.EnoughFor()
		require.Equal(t, tt.kits, kits, "%+v", s)
		require.Equal(t, tt.told, told, "%+v", s)
		require.Equal(t, tt.told, s.ShortFor(tt.kits+1))
		require.False(t, s.ShortFor(tt.kits))
		require.NoError(t, s.Check())
	}
	s := Supply{Name: "bags", Have: 5, PerKits: 1}
	moved, err := s.Move(-5)
	require.NoError(t, err)
	require.Zero(t, moved.Have)
	for _, n := range []int{0, -6, 2_000_000} {
		_, err := s.Move(n)
		require.Contains(t, apperr.Fields(err), "n", "%d", n)
	}
	require.Len(t, apperr.Fields(Supply{Have: -1, Used: -1}.Check()), 4)
}
