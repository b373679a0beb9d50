package postgres

import (
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// standing brings pillowcases without a kit into being in one state, for a line or 0 for none.
func standing(t testing.TB, s *testStore, asked, size int64, state drive.CaseState, n int) {
	t.Helper()
	err := pgx.BeginFunc(t.Context(), s.db.Pool, func(tx pgx.Tx) error {
		return writeCases(t.Context(), tx, s.fresh(), drive.Day(s.clock.now, time.UTC),
			[]drive.CaseEntry{{Size: size, N: n, From: drive.CaseBorn, ToAsked: asked, To: state}})
	})
	require.NoError(t, err)
}

func TestAskedLines(t *testing.T) {
	s := newStore(t)
	d := startDrive(t, s)
	d.SpareShare = 10
	_, err := s.UpdateDrive(t.Context(), s.fresh(), d)
	require.NoError(t, err)
	z, queen := addSize(t, s, "standard"), addSize(t, s, "queen")
	r := addRecipient(t, s, "Ward 4")
	kit := 2
	a, err := s.CreateAsked(t.Context(), s.fresh(), drive.Asked{
		Recipient: r.Number, Sizes: []int64{queen.Number, z.Number, z.Number}, Wanted: 30, Matter: drive.MatterMust,
		ThemesWanted: []string{"Animals", "space"}, ThemesAvoid: []string{"skulls"}, KitCases: &kit, Note: " soft ",
	})
	require.NoError(t, err)
	require.Equal(t, 100, a.Weight)
	for state, n := range map[drive.CaseState]int{
		drive.CaseSewn: 2, drive.CaseGood: 3, drive.CaseDelivered: 4, drive.CaseNotUsable: 5, drive.CaseOut: 1,
	} {
		standing(t, s, a.Number, z.Number, state, n)
	}
	standing(t, s, a.Number, queen.Number, drive.CaseGood, 1)
	standing(t, s, 0, z.Number, drive.CaseGood, 9)

	got := line(t, s, a.Number)
	require.Equal(t, []int64{z.Number, queen.Number}, got.Sizes)
	require.Equal(t, []string{"standard", "queen"}, got.SizeNames)
	require.Equal(t, "Ward 4", got.RecipientName)
	require.Equal(t, []string{"animals", "space"}, got.ThemesWanted)
	require.Equal(t, 2, *got.KitCases)
	require.Equal(t, "soft", got.Note)
	require.Nil(t, got.Due)
	require.Equal(t, drive.Standing{Asked: 30, Delivered: 4, Good: 4, Back: 2, Out: 1, Missing: 19}, got.Standing())
	require.Equal(t, 21, got.ToPlan, "19 missing and a tenth more, rounded up")
}

func TestAskedLinesOrder(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	ward, attic := addRecipient(t, s, "Ward 4"), addRecipient(t, s, "attic shelter")
	w1, w2, at := addAsked(t, s, ward, z, 1), addAsked(t, s, ward, z, 2), addAsked(t, s, attic, z, 3)
	_, err := s.CloseAsked(t.Context(), s.fresh(), w1.Number)
	require.NoError(t, err)
	lines, err := s.AskedLines(t.Context(), "spring")
	require.NoError(t, err)
	var numbers []int64
	for _, l := range lines {
		numbers = append(numbers, l.Number)
	}
	require.Equal(t, []int64{at.Number, w2.Number, w1.Number}, numbers)
	require.Zero(t, lines[2].ToPlan, "nothing is planned for a closed line")
}

func TestThemes(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	startDriveAs(t, s, "autumn")
	_, err := s.CreateAsked(t.Context(), s.fresh(), drive.Asked{
		Recipient: addRecipient(t, s, "Ward 4").Number, Sizes: []int64{addSize(t, s, "standard").Number}, Wanted: 5, Matter: drive.MatterMust,
		ThemesWanted: []string{"space", "animals"}, ThemesAvoid: []string{"skulls"},
	})
	require.NoError(t, err)
	tell(t, s, `INSERT INTO lots (drive_id, number, received_on, created_at, themes) VALUES ('spring', 1, '2026-10-01', now(), '{sea,space}'),
		('autumn', 1, '2026-10-01', now(), '{leaves}')`)
	themes, err := s.Themes(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, []string{"animals", "sea", "skulls", "space"}, themes)
}

func TestCreateAskedOnce(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	a := drive.Asked{Recipient: addRecipient(t, s, "Ward 4").Number, Sizes: []int64{addSize(t, s, "standard").Number}, Wanted: 5, Matter: drive.MatterIfEnough}
	first, err := s.CreateAsked(t.Context(), s.act("ask"), a)
	require.NoError(t, err)
	again, err := s.CreateAsked(t.Context(), s.act("ask"), a)
	require.NoError(t, err)
	require.Equal(t, first.Number, again.Number)
	lines, err := s.AskedLines(t.Context(), "spring")
	require.NoError(t, err)
	require.Len(t, lines, 1)
}

func TestCreateAskedRefused(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z, r := addSize(t, s, "standard"), addRecipient(t, s, "Ward 4")
	good := drive.Asked{Recipient: r.Number, Sizes: []int64{z.Number}, Wanted: 5, Matter: drive.MatterShould}
	yesterday := drive.Day(noon, time.UTC).AddDate(0, 0, -1)
	tests := []struct {
		name  string
		field string
		spoil func(*drive.Asked)
	}{
		{"a recipient that is not there", "recipient", func(a *drive.Asked) { a.Recipient = 99 }},
		{"a size that is not there", "sizes", func(a *drive.Asked) { a.Sizes = []int64{z.Number, 99} }},
		{"no size", "sizes", func(a *drive.Asked) { a.Sizes = nil }},
		{"none wanted", "wanted", func(a *drive.Asked) { a.Wanted = 0 }},
		{"a day that has passed", "due", func(a *drive.Asked) { a.Due = &yesterday }},
		{"own weight of nothing", "weight", func(a *drive.Asked) { a.Matter = drive.MatterOwn }},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			a := good
			tt.spoil(&a)
			_, err := s.CreateAsked(t.Context(), s.fresh(), a)
			require.Contains(t, apperr.Fields(err), tt.field, "CreateAsked = %v", err)
		})
	}
	lines, err := s.AskedLines(t.Context(), "spring")
	require.NoError(t, err)
	require.Empty(t, lines, "nothing half saved")
}

func TestUpdateAsked(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z, queen := addSize(t, s, "standard"), addSize(t, s, "queen")
	ward, hospice := addRecipient(t, s, "Ward 4"), addRecipient(t, s, "Hospice")
	a := addAsked(t, s, ward, z, 10)

	changed := a
	changed.Sizes, changed.Wanted, changed.Recipient = []int64{queen.Number}, 12, hospice.Number
	got, err := s.UpdateAsked(t.Context(), s.act("more"), changed)
	require.NoError(t, err)
	require.Equal(t, 2, got.Version)
	stored, err := s.Asked(t.Context(), "spring", a.Number)
	require.NoError(t, err)
	require.Equal(t, []int64{queen.Number}, stored.Sizes)
	require.Equal(t, 12, stored.Wanted)
	_, err = s.UpdateAsked(t.Context(), s.fresh(), a)
	require.True(t, apperr.Is(err, apperr.KindConflict), "version 1 is stale: %v", err)

	s.clock.forward(60 * 24 * time.Hour)
	stored.Wanted = 13
	stored, err = s.UpdateAsked(t.Context(), s.fresh(), stored)
	require.NoError(t, err, "a day that has passed meanwhile may stay")

	standing(t, s, a.Number, queen.Number, drive.CaseGood, 1)
	stored.Recipient = ward.Number
	_, err = s.UpdateAsked(t.Context(), s.fresh(), stored)
	require.Contains(t, apperr.Fields(err), "recipient", "%v", err)
}

func TestCloseAsked(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	a := addAsked(t, s, addRecipient(t, s, "Ward 4"), addSize(t, s, "standard"), 10)
	closed, err := s.CloseAsked(t.Context(), s.act("close"), a.Number)
	require.NoError(t, err)
	require.True(t, closed.Closed)
	require.Zero(t, line(t, s, a.Number).ToPlan)
	again, err := s.CloseAsked(t.Context(), s.act("close"), a.Number)
	require.NoError(t, err)
	require.Equal(t, closed.Version, again.Version)
	open, err := s.ReopenAsked(t.Context(), s.fresh(), a.Number)
	require.NoError(t, err)
	require.False(t, open.Closed)
	require.Equal(t, 10, line(t, s, a.Number).ToPlan)
}

// Of many who change the same version one is first, and the others are told.
func TestManyChangeOneLine(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	a := addAsked(t, s, addRecipient(t, s, "Ward 4"), addSize(t, s, "standard"), 10)
	var kept, told atomic.Int32
	inParallel(20, func(i int) {
		mine := a
		mine.Wanted = 100 + i
		_, err := s.UpdateAsked(t.Context(), s.act(fmt.Sprintf("change-%d", i)), mine)
		switch {
		case err == nil:
			kept.Add(1)
		case apperr.Is(err, apperr.KindConflict):
			told.Add(1)
		default:
			t.Errorf("UpdateAsked = %v", err)
		}
	})
	require.Equal(t, []int32{1, 19}, []int32{kept.Load(), told.Load()})
	stored, err := s.Asked(t.Context(), "spring", a.Number)
	require.NoError(t, err)
	require.Equal(t, 2, stored.Version)
}

// The same form two hundred times at once asks once.
func TestOneLineFromTwoHundredForms(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	a := drive.Asked{Recipient: addRecipient(t, s, "Ward 4").Number, Sizes: []int64{addSize(t, s, "standard").Number}, Wanted: 5, Matter: drive.MatterMust}
	inParallel(200, func(int) {
		got, err := s.CreateAsked(t.Context(), s.act("one-form"), a)
		if err != nil || got.Number != 1 {
			t.Errorf("CreateAsked = line %d, %v, want line 1", got.Number, err)
		}
	})
	lines, err := s.AskedLines(t.Context(), "spring")
	require.NoError(t, err)
	require.Len(t, lines, 1)
}

func TestAskedOfAnotherDrive(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	startDriveAs(t, s, "autumn")
	a := addAsked(t, s, addRecipient(t, s, "Ward 4"), addSize(t, s, "standard"), 10)
	_, err := s.Asked(t.Context(), "autumn", a.Number)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
	_, err = s.UpdateAsked(t.Context(), s.actIn("autumn", "theirs"), a)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
	_, err = s.CloseAsked(t.Context(), s.actIn("autumn", "theirs-too"), a.Number)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
	_, err = s.CreateAsked(t.Context(), s.actIn("autumn", "mixed"), drive.Asked{Recipient: a.Recipient, Sizes: a.Sizes, Wanted: 1, Matter: drive.MatterMust})
	require.Contains(t, apperr.Fields(err), "recipient", "another drive's recipient: %v", err)
}
