package drive

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A month is never cut short because the one before it has fewer days: what is forgotten does not come back.
func TestUntilAWholeMonthHasPassed(t *testing.T) {
	for _, test := range []struct {
		now    string
		months int
		want   string
	}{
		{"2026-03-15T10:30:00Z", 1, "2026-02-15T10:30:00Z"},
		{"2026-03-31T10:30:00Z", 1, "2026-02-28T10:30:00Z"},
		{"2026-07-31T10:30:00Z", 1, "2026-06-30T10:30:00Z"},
		{"2026-01-31T10:30:00Z", 2, "2025-11-30T10:30:00Z"},
		{"2028-02-29T10:30:00Z", 12, "2027-02-28T10:30:00Z"},
		{"2026-12-31T23:59:59Z", 240, "2006-12-31T23:59:59Z"},
	} {
		now, err := time.Parse(time.RFC3339, test.now)
		require.NoError(t, err)
		at, ok := Until(now, &test.months)
		require.True(t, ok)
		require.Equal(t, test.want, at.Format(time.RFC3339), "%d months before %s", test.months, test.now)
	}
	_, ok := Until(time.Time{}, nil)
	require.False(t, ok, "without end")
}
