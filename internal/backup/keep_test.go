package backup

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestParseKeep(t *testing.T) {
	k, err := ParseKeep("KEEP", "7d 5w 12m")
	require.NoError(t, err)
	require.Equal(t, UsualKeep(), k)
	require.Equal(t, "7d 5w 12m", k.String())
	k, err = ParseKeep("KEEP", " 3m ")
	require.NoError(t, err)
	require.Equal(t, Keep{Months: 3}, k)
	for _, bad := range []string{"", "0d", "7", "7d 7d", "-1d", "7 d", "1y", "9999d"} {
		_, err := ParseKeep("KEEP", bad)
		require.Error(t, err, bad)
	}
}

// Two years of a backup a day: a week of days, five weeks, twelve months.
func TestKeepOverTwoYears(t *testing.T) {
	var made []time.Time
	for day := range 730 {
		made = append(made, time.Date(2026, 1, 1, 3, 0, 0, 0, time.UTC).AddDate(0, 0, day))
	}
	var left []string
	for i, stays := range UsualKeep().Stay(made) {
		if stays {
			left = append(left, made[i].Format("2006-01-02"))
		}
	}
	// The last is 31 December 2027, a Friday. Sundays end weeks.
	require.Equal(t, []string{
		"2027-01-31", "2027-02-28", "2027-03-31", "2027-04-30", "2027-05-31", "2027-06-30", "2027-07-31", "2027-08-31", "2027-09-30", "2027-10-31", "2027-11-30",
		"2027-12-05", "2027-12-12", "2027-12-19", "2027-12-25", "2027-12-26", "2027-12-27", "2027-12-28", "2027-12-29", "2027-12-30", "2027-12-31",
	}, left)
}

// Whatever there is: the newest stays, no more stay than there are spans and those of the last day,
// taking away twice takes no more, and the older one of a day never outlives the newer one.
func TestKeepHolds(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		k := Keep{rapid.IntRange(0, 9).Draw(rt, "d"), rapid.IntRange(0, 6).Draw(rt, "w"), rapid.IntRange(0, 14).Draw(rt, "m")}
		base := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
		var made []time.Time
		for _, hours := range rapid.SliceOfN(rapid.IntRange(0, 24*500), 1, 60).Draw(rt, "hours") {
			made = append(made, base.Add(time.Duration(hours)*time.Hour))
		}
		stay := k.Stay(made)
		var left []time.Time
		newest := slices.MaxFunc(made, time.Time.Compare)
		lately := 0
		for i, stays := range stay {
			if stays {
				left = append(left, made[i])
			}
			if newest.Sub(made[i]) < 24*time.Hour {
				require.True(rt, stays, "made within the last day")
				lately++
			}
		}
		require.Contains(rt, left, newest)
		require.LessOrEqual(rt, len(left), k.Days+k.Weeks+k.Months+lately)
		for i, again := range k.Stay(left) {
			require.True(rt, again, "%v would go at the second look", left[i])
		}
		days := map[string]time.Time{}
		for _, at := range made {
			if day := at.Format(time.DateOnly); at.After(days[day]) {
				days[day] = at
			}
		}
		kept := 0
		for _, last := range days {
			if slices.Contains(left, last) {
				kept++
			}
		}
		require.GreaterOrEqual(rt, kept, min(k.Days, len(days)))
	})
}
