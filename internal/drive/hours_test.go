package drive

import (
	"testing"
	"time"

	"boltward/internal/apperr"

	"github.com/stretchr/testify/require"
)

func TestHoursAsPeopleWriteThem(t *testing.T) {
	for typed, want := range map[string]int{
		"2": 120, "2.5": 150, "2,25": 135, "1:30": 90, "0:05": 5, "90 min": 90, "90min": 90, "1 h 30 min": 90, "1h30m": 90, "3 hours": 180, "1.5 h": 90, " 45  minutes ": 45,
		"0.33": 20,
	} {
		got, err := ParseHours(typed)
		require.NoError(t, err, typed)
		require.Equal(t, want, got, "ParseHours(%q)", typed)
	}
	for _, typed := range []string{"", "two", "1:75", "-3", "1:2:3", "5 pillowcases", "99999999999"} {
		_, err := ParseHours(typed)
		require.NotEmpty(t, apperr.Fields(err)["hours"], "ParseHours(%q)", typed)
	}
	require.Equal(t, []string{"45 min", "2 h", "1 h 30 min"}, []string{HoursText(45), HoursText(120), HoursText(90)})
}

func TestHoursThatCannotBe(t *testing.T) {
	today := time.Date(2026, 12, 3, 0, 0, 0, 0, time.UTC)
	good := Hours{Day: today, Doing: "sewing", Heads: 12, Minutes: 12 * 90}
	require.NoError(t, good.Check(today))
	for field, change := range map[string]func(*Hours){
		"hours_day": func(h *Hours) { h.Day = today.AddDate(0, 0, 1) },
		"doing":     func(h *Hours) { h.Doing = "resting" },
		"worked":    func(h *Hours) { h.Heads = 0 },
		"hours":     func(h *Hours) { h.Heads, h.Minutes = 1, 1441 },
	} {
		h := good
		change(&h)
		require.NotEmpty(t, apperr.Fields(h.Check(today))[field], field)
	}
}

func FuzzParseHours(f *testing.F) {
	for _, seed := range []string{"2.5", "1:30", "1 h 30 min", "90 min"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		if minutes, err := ParseHours(typed); err == nil {
			require.GreaterOrEqual(t, minutes, 0)
			again, err := ParseHours(HoursText(minutes))
			require.NoError(t, err)
			require.Equal(t, minutes, again, "%q", typed)
		}
	})
}

func TestHomesThatRecipientsAskFor(t *testing.T) {
	both := []string{HomeNoSmoke, HomeNoPets}
	for _, c := range []struct {
		p       Person
		lacks   []string
		against bool
	}{
		{Person{}, both, false},
		{Person{Smoke: DeclaredNo}, []string{HomeNoPets}, false},
		{Person{Smoke: DeclaredNo, Pets: DeclaredYes}, []string{HomeNoPets}, true},
		{Person{Smoke: DeclaredNo, Pets: DeclaredNo}, nil, false},
	} {
		lacks, against := c.p.HomeLacks(both)
		require.Equal(t, c.lacks, lacks)
		require.Equal(t, c.against, against)
	}
}
