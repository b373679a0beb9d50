package drive

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// What is worked out from a form changes with the day; the form does not.
func TestAFormSaysWhetherAWishIsTheSame(t *testing.T) {
	hash := func(a Act, operation string, body any) string {
		sum, err := a.Hash(operation, body)
		require.NoError(t, err)
		return string(sum)
	}
	sent, other := Act{Form: []byte("sent on Monday")}, Act{Form: []byte("another")}
	require.Equal(t, hash(sent, "tag", "Monday"), hash(sent, "tag", "Tuesday"))
	require.NotEqual(t, hash(sent, "tag", "Monday"), hash(other, "tag", "Monday"))
	require.NotEqual(t, hash(sent, "tag", "Monday"), hash(sent, "untag", "Monday"))
	require.NotEqual(t, hash(Act{}, "tag", "Monday"), hash(Act{}, "tag", "Tuesday"), "without a form the body says it")
	require.NotEqual(t, hash(sent, "tag", "Monday"), hash(Act{}, "tag", "Monday"))
	_, err := Act{}.Hash("tag", func() {})
	require.Error(t, err)
}

// A day ends where the next begins: also where it has 23 or 25 hours, and where clocks go forward
// at midnight.
func TestDayBegins(t *testing.T) {
	for _, test := range []struct{ zone, at, want string }{
		{"Europe/Dublin", "2026-03-02T10:00:00Z", "2026-03-03T00:00:00Z"},
		{"America/Chicago", "2026-03-02T03:00:00Z", "2026-03-02T06:00:00Z"},
		{"America/Chicago", "2026-03-08T07:00:00Z", "2026-03-09T05:00:00Z"},
		{"America/Chicago", "2026-11-01T05:30:00Z", "2026-11-02T06:00:00Z"},
		{"Pacific/Kiritimati", "2026-12-31T10:00:00Z", "2027-01-01T10:00:00Z"},
		{"America/Santiago", "2026-09-06T03:30:00Z", "2026-09-06T04:00:00Z"},
		{"America/Santiago", "2026-09-06T04:00:00Z", "2026-09-07T03:00:00Z"},
		{"Africa/Cairo", "2026-04-23T18:00:00Z", "2026-04-23T22:00:00Z"},
	} {
		zone, err := time.LoadLocation(test.zone)
		require.NoError(t, err)
		at, err := time.Parse(time.RFC3339, test.at)
		require.NoError(t, err)
		got := DayBegins(Day(at, zone).AddDate(0, 0, 1), zone)
		require.Equal(t, test.want, got.UTC().Format(time.RFC3339), "after %s in %s", test.at, test.zone)
		require.Equal(t, Day(at, zone).AddDate(0, 0, 1), Day(got, zone), "after %s in %s", test.at, test.zone)
		require.LessOrEqual(t, got.Sub(at), 25*time.Hour)
	}
}
