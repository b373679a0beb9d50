package postgres

import (
	"testing"

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
