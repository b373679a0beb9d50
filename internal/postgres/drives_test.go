package postgres

import (
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
)

func TestCreateDrive(t *testing.T) {
	s := newStore(t)
	d := startDrive(t, s)
	got, err := s.Drive(t.Context(), "spring")
	require.NoError(t, err)
	got.CreatedAt = d.CreatedAt
	require.Equal(t, d, got)

	again, err := s.CreateDrive(t.Context(), drive.Act{Key: "start-spring", At: noon, Request: "test"}, drive.NewDrive("spring", "Drive spring", "Europe/Dublin", length.In))
	require.NoError(t, err, "a repeat answers what the first answered")
	require.Equal(t, d.ID, again.ID)
	_, err = s.CreateDrive(t.Context(), drive.Act{Key: "start-again", At: noon}, drive.NewDrive("spring", "Other", "Europe/Dublin", length.In))
	require.Contains(t, apperr.Fields(err), "id", "%v", err)
	_, err = s.CreateDrive(t.Context(), drive.Act{Key: "start-odd", At: noon}, drive.NewDrive("Spring 2026", "Other", "Mars/Base", length.Yd))
	require.Subset(t, keys(apperr.Fields(err)), []string{"zone", "unit"})
	_, err = s.CreateDrive(t.Context(), drive.Act{Key: "start-odd-id", At: noon}, drive.NewDrive("Spring 2026", "Other", "UTC", length.CM))
	require.Contains(t, apperr.Fields(err), "id", "%v", err)
}

func TestUpdateDrive(t *testing.T) {
	s := newStore(t)
	d := startDrive(t, s)
	startDriveAs(t, s, "autumn")

	changed := d
	changed.Name, changed.KitCases, changed.SpareShare = "Spring pillowcases", 6, 5
	changed.ID = "autumn"
	got, err := s.UpdateDrive(t.Context(), s.act("rules"), changed)
	require.NoError(t, err)
	require.Equal(t, "spring", got.ID, "an act changes its own drive")
	require.Equal(t, 2, got.Version)
	stored, err := s.Drive(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, 6, stored.KitCases)
	again, err := s.UpdateDrive(t.Context(), s.act("rules"), changed)
	require.NoError(t, err)
	require.Equal(t, 2, again.Version)
	_, err = s.UpdateDrive(t.Context(), s.fresh(), d)
	require.True(t, apperr.Is(err, apperr.KindConflict), "version 1 is stale: %v", err)
	stored.SpareShare, stored.KitCases, stored.KeepWidth = 51, 0, 0
	_, err = s.UpdateDrive(t.Context(), s.fresh(), stored)
	require.Subset(t, keys(apperr.Fields(err)), []string{"spare_share", "kit_cases", "keep_width"})
	_, err = s.UpdateDrive(t.Context(), s.actIn("winter", "none"), d)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
}
