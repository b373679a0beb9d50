package main

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/backup"
)

func TestBackupSettings(t *testing.T) {
	_, public, err := backup.NewIdentity()
	require.NoError(t, err)
	private, _, err := backup.NewIdentity()
	require.NoError(t, err)
	read := func(set map[string]string) (backup.Settings, error) {
		return backupSettings(Env{Getenv: func(name string) string { return set[name] }})
	}
	s, err := read(nil)
	require.NoError(t, err)
	require.False(t, s.Set() || s.None)
	s, err = read(map[string]string{"BOLTWARD_BACKUPS": "none"})
	require.NoError(t, err)
	require.True(t, s.None && !s.Set())
	s, err = read(map[string]string{"BOLTWARD_BACKUPS": "copies", "BOLTWARD_BACKUP_TO": public + ", " + public})
	require.NoError(t, err)
	require.True(t, s.Set() && filepath.IsAbs(s.Folder))
	require.Equal(t, []string{public, public}, s.Recipients)
	require.Equal(t, 24*time.Hour, s.Every)
	require.Equal(t, backup.UsualKeep(), s.Keep)
	s, err = read(map[string]string{"BOLTWARD_BACKUPS": "copies", "BOLTWARD_BACKUP_TO": public, "BOLTWARD_BACKUP_EVERY": "2d", "BOLTWARD_BACKUP_KEEP": "3w"})
	require.NoError(t, err)
	require.Equal(t, 48*time.Hour, s.Every)
	require.Equal(t, backup.Keep{Weeks: 3}, s.Keep)
	for field, set := range map[string]map[string]string{
		"BOLTWARD_BACKUPS":        {"BOLTWARD_BACKUP_TO": public},
		"BOLTWARD_BACKUP_TO":      {"BOLTWARD_BACKUPS": "copies"},
		"It is private":           {"BOLTWARD_BACKUPS": "copies", "BOLTWARD_BACKUP_TO": private},
		"BOLTWARD_BACKUP_EVERY":   {"BOLTWARD_BACKUPS": "copies", "BOLTWARD_BACKUP_TO": public, "BOLTWARD_BACKUP_EVERY": "1m"},
		"in days":                 {"BOLTWARD_BACKUPS": "copies", "BOLTWARD_BACKUP_TO": public, "BOLTWARD_BACKUP_EVERY": "-3d"},
		"BOLTWARD_BACKUP_EVERY: ": {"BOLTWARD_BACKUP_EVERY": "often"},
		"BOLTWARD_BACKUP_KEEP: ":  {"BOLTWARD_BACKUPS": "none", "BOLTWARD_BACKUP_KEEP": "7"},
		"BOLTWARD_BACKUP_KEEP":    {"BOLTWARD_BACKUPS": "copies", "BOLTWARD_BACKUP_TO": public, "BOLTWARD_BACKUP_KEEP": "forever"},
	} {
		_, err := read(set)
		require.Error(t, err, field)
		if field[:2] == "BO" {
			require.ErrorContains(t, err, field)
		}
		require.NotContains(t, err.Error(), "AGE-SECRET", "a private key is not repeated")
	}
}
