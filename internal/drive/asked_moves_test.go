package drive

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
)

func TestLowerTo(t *testing.T) {
	c := Counts{CaseDelivered: 20, CaseConfirmed: 5, CasePacked: 6, CaseGood: 9, CaseOut: 30, CaseLost: 4}
	for _, tt := range []struct {
		wanted  int
		beyond  Beyond
		release int
		field   string
	}{
		{70, BeyondUnsaid, 0, ""},
		{40, BeyondUnsaid, 0, ""},
		{39, BeyondUnsaid, 0, "beyond"},
		{39, BeyondKeep, 0, ""},
		{39, BeyondRelease, 1, ""},
		{31, BeyondRelease, 9, ""},
		{30, BeyondRelease, 0, "beyond"}, // one of them is packed
		{30, BeyondKeep, 0, ""},
		{25, BeyondKeep, 0, ""},
		{24, BeyondKeep, 0, "wanted"},
		{24, BeyondRelease, 0, "wanted"},
	} {
		release, err := c.LowerTo(tt.wanted, tt.beyond)
		require.Equal(t, tt.release, release, "%+v", tt)
		if tt.field == "" {
			require.NoError(t, err, "%+v", tt)
			continue
		}
		require.Contains(t, apperr.Fields(err), tt.field, "%+v: %v", tt, err)
	}
}

func TestTakes(t *testing.T) {
	c := Counts{CaseDelivered: 2, CaseConfirmed: 1, CasePacked: 3, CaseGood: 4, CaseOut: 30}
	require.NoError(t, c.Takes(15, 5))
	for _, tt := range []struct{ wanted, n int }{{15, 6}, {10, 1}, {4, 1}} {
		require.Contains(t, apperr.Fields(c.Takes(tt.wanted, tt.n)), "n", "%+v", tt)
	}
}

func TestRelease(t *testing.T) {
	list := Release([]Stack{{Asked: 3, Size: 1, Kit: 5, Part: 1, State: CaseGood, N: 2}, {Asked: 3, Size: 2, State: CaseGood, N: 4}}, 3)
	require.Equal(t, []CaseEntry{
		{Size: 1, N: 2, Asked: 3, Kit: 5, Part: 1, From: CaseGood, ToKit: 5, ToPart: 1, To: CaseGood, Reason: ReasonReleased},
		{Size: 2, N: 1, Asked: 3, From: CaseGood, To: CaseGood, Reason: ReasonReleased},
	}, list)
}

// TestSpares: nobody's come first, then those of a line that is due later or closed; never what one that is
// due sooner asks for, of another size, or more than the line lacks.
func TestSpares(t *testing.T) {
	day := func(d int) *time.Time { t := time.Date(2026, 5, d, 0, 0, 0, 0, time.UTC); return &t }
	line := func(number int64, due *time.Time, wanted int, closed bool) AskedLine {
		return AskedLine{Asked: Asked{Number: number, Sizes: []int64{1, 2}, Wanted: wanted, Due: due, Closed: closed}, Counts: Counts{}}
	}
	mine := line(1, day(10), 12, false)
	mine.Counts = Counts{CaseGood: 3, CaseDelivered: 2, CaseOut: 4}
	lines := []AskedLine{mine, line(2, day(5), 9, false), line(3, day(20), 9, false), line(4, nil, 9, false), line(5, day(1), 9, true)}
	good := func(asked, size int64, n int) Spare {
		return Spare{Stack: Stack{Asked: asked, Size: size, State: CaseGood, N: n}}
	}
	found := mine.Spares([]Spare{good(4, 1, 2), good(3, 2, 20), good(2, 1, 5), good(5, 1, 1), good(0, 1, 3), good(0, 3, 3), good(1, 1, 3)}, lines)
	var of, most []int
	for _, s := range found {
		of, most = append(of, int(s.Asked)), append(most, s.Most)
	}
	require.Equal(t, []int{0, 4, 3, 5}, of)
	require.Equal(t, []int{3, 2, 7, 1}, most)

	// Of a line that goes before only what is more than it asks for.
	before := line(6, day(5), 20, false)
	before.Counts = Counts{CaseDelivered: 4, CasePacked: 6, CaseGood: 15}
	dayless := mine
	dayless.Due = nil
	for _, l := range []AskedLine{mine, dayless} {
		found = l.Spares([]Spare{good(6, 1, 15)}, []AskedLine{l, before})
		require.Len(t, found, 1)
		require.Equal(t, 5, found[0].Most)
	}
	mine.Closed = true
	require.Empty(t, mine.Spares([]Spare{good(0, 1, 3)}, lines))
}

func TestMove(t *testing.T) {
	s := Stack{Asked: 3, Size: 1, State: CaseGood, N: 4}
	e, err := s.Move(2, 5)
	require.NoError(t, err)
	require.Equal(t, CaseEntry{Size: 1, N: 2, Asked: 3, From: CaseGood, ToAsked: 5, To: CaseGood, Reason: ReasonMoved}, e)
	for _, bad := range []struct {
		s     Stack
		n     int
		asked int64
	}{{s, 5, 5}, {s, 0, 5}, {s, 1, 3}, {s, 1, 0}, {Stack{Asked: 3, State: CasePacked, N: 4}, 1, 5}} {
		_, err := bad.s.Move(bad.n, bad.asked)
		require.Error(t, err, "%+v", bad)
	}
}
