package postgres

import (
	"testing"
	"time"

	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// A drive is forecast anew when something has happened in it, or the day is another, and no more often than that.
func TestForecastsFollowTheDrive(t *testing.T) {
	s := newStore(t)
	ctx := t.Context()
	const form = 7
	due := func(why string, want int64) {
		t.Helper()
		n, err := s.RefreshForecasts(ctx, form)
		require.NoError(t, err)
		require.Equal(t, want, n, why)
		_, err = s.db.Owner().Exec(ctx, `UPDATE river.river_job SET state = 'completed', finalized_at = now() WHERE kind = 'forecast'`)
		require.NoError(t, err)
	}
	keep := func(seconds float64) {
		t.Helper()
		newest, err := s.NewestInTrail(ctx, "spring")
		require.NoError(t, err)
		k := drive.KeptForecast{MadeAt: s.now(), Today: drive.Day(s.now(), time.UTC), Seconds: seconds, Trail: newest, Form: form, Found: []byte(`{"a": 1}`)}
		require.NoError(t, s.KeepForecast(ctx, "spring", k))
	}
	startDrive(t, s)
	due("nothing is asked for", 0)
	addAsked(t, s, addRecipient(t, s, "Ward 4"), addSize(t, s, "standard"), 40)
	n, err := s.RefreshForecasts(ctx, form)
	require.NoError(t, err)
	require.EqualValues(t, 1, n)
	due("it waits already", 0)

	s.clock.forward(2 * forecastLate)
	keep(0.01)
	due("just made", 0)
	s.clock.forward(2 * forecastRest)
	due("nothing has happened", 0)
	addRecipient(t, s, "Ward 5")
	due("somebody did something", 1)
	keep(0.01)
	s.clock.forward(2 * forecastRest)
	due("what was under way then may be told by now", 1)
	s.clock.forward(2 * forecastLate)
	keep(4)
	addRecipient(t, s, "Ward 6")
	s.clock.forward(time.Minute)
	due("what takes long is not done all the time", 0)
	s.clock.forward(4 * forecastShare * time.Second)
	due("but once in a while", 1)
	keep(0.01)
	s.clock.forward(24 * time.Hour)
	due("another day", 1)

	kept, err := s.KeptForecast(ctx, "spring", form)
	require.NoError(t, err)
	require.JSONEq(t, `{"a": 1}`, string(kept.Found))
	older := *kept
	older.MadeAt, older.Found = kept.MadeAt.Add(-time.Hour), nil
	require.NoError(t, s.KeepForecast(ctx, "spring", older))
	kept, err = s.KeptForecast(ctx, "spring", form)
	require.NoError(t, err)
	require.NotNil(t, kept, "an older one does not take its place")
	kept, err = s.KeptForecast(ctx, "spring", form+1)
	require.NoError(t, err)
	require.Nil(t, kept, "of another form")
	n, err = s.RefreshForecasts(ctx, form+1)
	require.NoError(t, err)
	require.EqualValues(t, 1, n)
}
