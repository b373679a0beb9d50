package postgres

import (
	"fmt"
	"slices"
	"testing"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// Initials of who is erased go wherever they themselves have typed them or had them filled
// in; those of others stay, whoever typed them, and so do the same letters that others typed.
func TestInitialsGoWithTheirAccount(t *testing.T) {
	s, a := planned(t)
	_, err := s.AcceptPlan(t.Context(), s.fresh(), makePlan(t, s))
	require.NoError(t, err)
	gone := signsIn(t, s, zephyr, zephyrMail, account.Organiser, "spring")
	elin := signsIn(t, s, "Elin Nord", "elin@example.org", account.Organiser, "spring")
	require.Equal(t, "ZQ", gone.Initials)
	sheets, err := s.Sheets(t.Context(), "spring", SheetsQuery{})
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(sheets.Sheets), 2)
	mine, theirs := func() drive.Act { return s.as(gone, "spring") }, func() drive.Act { return s.as(elin, "spring") }
	line := func(n int) []drive.LaundryLine {
		return []drive.LaundryLine{{Asked: a.Number, Size: a.Sizes[0], N: n}}
	}
	box := func(packed, counted string) PackedBox {
		return PackedBox{Recipient: a.Recipient, PackedBy: packed, CheckedBy: counted, Cases: []drive.Pack{{Asked: a.Number, Size: a.Sizes[0], N: 1}}}
	}
	check := func(act drive.Act, initials string) {
		t.Helper()
		_, err := s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: a.Sizes[0], N: 2, Asked: a.Number})
		require.NoError(t, err)
		_, err = s.CheckCases(t.Context(), act, drive.Stack{Asked: a.Number, Size: a.Sizes[0]}, drive.Checked{Good: 2, Pins: true, Initials: initials})
		require.NoError(t, err)
	}
	check(mine(), "")
	check(mine(), " zq ")
	check(mine(), "CC")
	check(theirs(), "ZQ")
	started, err := s.StartBatch(t.Context(), mine(), Washing{By: "ZQ", Lines: line(1)})
	require.NoError(t, err)
	_, err = s.FinishBatch(t.Context(), theirs(), started, "EN", dayIn(0))
	require.NoError(t, err)
	done, err := s.StartBatch(t.Context(), theirs(), Washing{By: "EN", Lines: line(1)})
	require.NoError(t, err)
	_, err = s.FinishBatch(t.Context(), mine(), done, "ZQ", dayIn(0))
	require.NoError(t, err)
	again, err := s.StartBatch(t.Context(), theirs(), Washing{By: "ZQ", Lines: line(1)})
	require.NoError(t, err)
	_, err = s.FinishBatch(t.Context(), mine(), again, "ZQ", dayIn(0))
	require.NoError(t, err)
	_, err = s.UndoBatch(t.Context(), theirs(), again)
	require.NoError(t, err)
	_, err = s.FinishBatch(t.Context(), theirs(), again, "ZQ", dayIn(0))
	require.NoError(t, err)
	for _, b := range []struct {
		by              drive.Act
		packed, counted string
	}{{mine(), "ZQ", "EN"}, {mine(), "AB", "ZQ"}, {theirs(), "EN", "ZQ"}} {
		_, err = s.PackBox(t.Context(), b.by, box(b.packed, b.counted))
		require.NoError(t, err)
	}
	_, err = s.SignOutSheet(t.Context(), mine(), sheets.Sheets[0].Number, "zq")
	require.NoError(t, err)
	_, err = s.SignOutSheet(t.Context(), theirs(), sheets.Sheets[1].Number, "ZQ")
	require.NoError(t, err)

	told, err := s.AboutAccount(t.Context(), gone.ID)
	require.NoError(t, err)
	at := slices.IndexFunc(told.Parts, func(p drive.AboutPart) bool { return p.Name == "Initials beside what they did" })
	var beside []string
	for _, row := range told.Parts[at].Rows {
		beside = append(beside, row["Beside"]+" "+row["Which"])
	}
	require.Equal(t, []string{"box counted again 2", "box packed 1", "check 1", "check 2", "laundry put in 1", "laundry taken out 2", fmt.Sprint("sheet signed out ", sheets.Sheets[0].Number)}, beside)

	require.NoError(t, s.EraseAccount(t.Context(), theirs(), gone.ID))
	for q, want := range map[string][]string{
		`SELECT initials FROM checks ORDER BY number`:                            {"", "", "CC", "ZQ"},
		`SELECT started_by || '/' || done_by FROM laundry ORDER BY number`:       {"/EN", "EN/", "ZQ/ZQ"},
		`SELECT packed_by || '/' || checked_by FROM boxes ORDER BY number`:       {"/EN", "AB/", "EN/ZQ"},
		`SELECT helper FROM sheets WHERE state = 'on the table' ORDER BY out_at`: {"", "ZQ"},
	} {
		var is []string
		require.NoError(t, s.db.Owner().QueryRow(t.Context(), `SELECT array_agg(x) FROM (`+q+`) AS all_of (x)`).Scan(&is))
		require.Equal(t, want, is, q)
	}
	agrees(t, s)
}

// Work in flight while its account is being erased keeps no initials: it waits, and is refused.
func TestNoInitialsAreWrittenOfAnErasedAccount(t *testing.T) {
	late := map[string]func(t *testing.T, s *testStore, a drive.Asked, act drive.Act) error{
		"a check": func(t *testing.T, s *testStore, a drive.Asked, act drive.Act) error {
			_, err := s.CheckCases(t.Context(), act, drive.Stack{Asked: a.Number, Size: a.Sizes[0]}, drive.Checked{Good: 1, Pins: true})
			return err
		},
		"laundry": func(t *testing.T, s *testStore, a drive.Asked, act drive.Act) error {
			_, err := s.StartBatch(t.Context(), act, Washing{By: "ZQ", Lines: []drive.LaundryLine{{Asked: a.Number, Size: a.Sizes[0], N: 1}}})
			return err
		},
		"laundry that is done": func(t *testing.T, s *testStore, _ drive.Asked, act drive.Act) error {
			_, err := s.FinishBatch(t.Context(), act, 1, "ZQ", dayIn(0))
			return err
		},
		"a box": func(t *testing.T, s *testStore, a drive.Asked, act drive.Act) error {
			_, err := s.PackBox(t.Context(), act, PackedBox{Recipient: a.Recipient, PackedBy: "ZQ", CheckedBy: "CD", Cases: []drive.Pack{{Asked: a.Number, Size: a.Sizes[0], N: 1}}})
			return err
		},
		"a sheet": func(t *testing.T, s *testStore, _ drive.Asked, act drive.Act) error {
			_, err := s.SignOutSheet(t.Context(), act, 1, "ZQ")
			return err
		},
	}
	for what, do := range late {
		t.Run(what, func(t *testing.T) {
			s, a := planned(t)
			_, err := s.AcceptPlan(t.Context(), s.fresh(), makePlan(t, s))
			require.NoError(t, err)
			bringGood(t, s, a, 3)
			_, err = s.StartBatch(t.Context(), s.fresh(), Washing{By: "AB", Lines: []drive.LaundryLine{{Asked: a.Number, Size: a.Sizes[0], N: 1}}})
			require.NoError(t, err)
			_, err = s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: a.Sizes[0], N: 1, Asked: a.Number})
			require.NoError(t, err)
			// Whoever erases works for no drive, so that nothing but the account makes others wait.
			gone := signsIn(t, s, zephyr, zephyrMail, account.Desk)
			act := s.as(gone, "spring")
			err = whileErased(t, s, byCommand(s.fresh()), gone.ID, func() error { return do(t, s, a, act) })
			require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
			require.Empty(t, rowsWith(t, s, ",zq,", `"zq"`))
		})
	}
}
