package drive

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A year's books that are made in its midst call nothing late that is not late yet; the day is
// the drive's own, here ahead of UTC.
func TestBooksCountLateToTheDayTheyAreMade(t *testing.T) {
	day := func(month time.Month, of int) time.Time { return time.Date(2026, month, of, 0, 0, 0, 0, time.UTC) }
	due := day(12, 11)
	kit := BookKit{State: KitOut, Due: &due}
	for _, tt := range []struct {
		to   time.Time
		made time.Time
		late int
	}{
		{day(12, 31), time.Date(2026, 11, 30, 15, 1, 0, 0, time.UTC), 0},
		{day(12, 31), time.Date(2026, 12, 12, 14, 59, 0, 0, time.UTC), 1},
		{day(12, 31), time.Date(2026, 12, 12, 15, 0, 0, 0, time.UTC), 2},
		{day(12, 31), time.Date(2027, 3, 1, 9, 0, 0, 0, time.UTC), 20},
		{day(12, 12), time.Date(2026, 12, 20, 9, 0, 0, 0, time.UTC), 1},
	} {
		b := Books{Drive: Drive{Zone: "Asia/Tokyo"}, To: tt.to, MadeAt: tt.made}
		require.Equal(t, tt.late, kit.Late(b.LateOn()), "books to %s, made %s", tt.to.Format(time.DateOnly), tt.made)
	}
}
