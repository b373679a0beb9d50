package postgres

import (
	"testing"
	"time"

	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// TestKitFromShelfToHand follows a kit from an accepted plan over the cut sheets
// to a volunteer, and its cloth back to the lots.
func TestKitFromShelfToHand(t *testing.T) {
	s, a := planned(t)
	_, err := s.AcceptPlan(t.Context(), s.fresh(), makePlan(t, s))
	require.NoError(t, err)
	ref := drive.KitRef{Number: 1, Part: 1}
	require.Equal(t, drive.KitPlanned, kit(t, s, ref).State)
	mary := addPerson(t, s, "Mary Ellis")
	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: []drive.KitRef{ref}, Person: mary})
	require.EqualError(t, err, "Kit 1 is not cut yet. Nothing was changed.")

	sheets, err := s.Sheets(t.Context(), "spring", SheetsQuery{})
	require.NoError(t, err)
	for _, line := range sheets.Sheets {
		_, err := s.SignOutSheet(t.Context(), s.fresh(), line.Number, "Ada")
		require.NoError(t, err)
		_, err = s.MarkSheetCut(t.Context(), s.fresh(), line.Number)
		require.NoError(t, err)
	}
	page := kit(t, s, ref)
	require.Equal(t, drive.KitCut, page.State)
	require.Equal(t, "Ward 4", page.ForWhom)
	panels := 0
	for _, cloth := range page.Cloth {
		require.Contains(t, []int64{1, 2, 3}, cloth.Lot)
		require.Contains(t, []string{"A1", "B1", "C1"}, cloth.Shelf)
		require.NotEmpty(t, cloth.Look)
		require.Equal(t, "cut", cloth.State)
		panels += cloth.Body + cloth.Cuff + cloth.Accent
	}
	require.Equal(t, 3*page.Cases, panels, "a body, a cuff and an accent for each pillowcase")

	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: []drive.KitRef{ref}, Person: mary})
	require.NoError(t, err)
	require.Equal(t, page.Cases, line(t, s, a.Number).Counts[drive.CaseOut])
	for _, cloth := range page.Cloth {
		_, err := s.UndoSheetCut(t.Context(), s.fresh(), cloth.Sheet)
		require.Error(t, err, "a sheet whose kit is out stays cut")
	}
	balanced(t, s, 12)
}

// What a holder said they had finished stands on the page of the kit where something else was counted.
func TestSaidOtherwise(t *testing.T) {
	s, a := wardOf(t, 40)
	bea := addPerson(t, s, "Bea Lund")
	kits := ownKits(t, s, drive.Size{Number: a.Sizes[0]}, 5, 4, bea, nil)
	say := func(i, n int) {
		t.Helper()
		s.clock.forward(time.Minute)
		_, err := s.ReportKit(t.Context(), s.fresh(), drive.KitReport{KitRef: kits[i], Person: bea, Kind: drive.ReportFinished, Cases: n})
		require.NoError(t, err)
		s.clock.forward(time.Minute)
	}
	back := func(i int, r drive.KitReturn) {
		t.Helper()
		_, err := s.TakeBack(t.Context(), s.fresh(), kits[i], r, time.Time{})
		require.NoError(t, err)
	}
	says := func(i int, want ...int) {
		t.Helper()
		var got []int
		for _, e := range kit(t, s, kits[i]).Events {
			if e.IsSaid {
				require.Equal(t, "Bea Lund", e.Name)
				got = append(got, e.Cases)
			}
		}
		require.Equal(t, want, got, "kit %s", kits[i])
	}
	say(0, 4)
	says(0) // it stands still
	back(0, drive.KitReturn{Sewn: 4})
	says(0)
	say(1, 4)
	back(1, drive.KitReturn{Sewn: 3})
	says(1, 4)
	say(1, 1)
	back(1, drive.KitReturn{Sewn: 1})
	says(1, 4)
	say(2, 2)
	say(2, 3)
	back(2, drive.KitReturn{Sewn: 2})
	says(2, 3)
	events := kit(t, s, kits[2]).Events
	for i, e := range events {
		if e.IsSaid {
			require.Equal(t, string(drive.KitBack), events[i-1].To, "before what was counted")
			require.Equal(t, string(drive.KitOut), events[i+1].To, "after it went out")
		}
	}
	say(3, 2)
	back(3, drive.KitReturn{RestUnsewn: true})
	says(3, 2)
	say(4, 1)
	_, err := s.KitLost(t.Context(), s.fresh(), kits[4], "", time.Time{})
	require.NoError(t, err)
	says(4, 1)
}
