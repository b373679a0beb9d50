package main

import (
	"cmp"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/backup"
)

// How often backups are made where nothing else is said, and at most.
const (
	backupsUsually = 24 * time.Hour
	backupsAtMost  = 10 * time.Minute
)

// backupsNone in place of a folder ends backups by themselves.
const backupsNone = "none"

// backupsHelp is part of the help of the commands that make backups by themselves.
const backupsHelp = `
Backups by themselves, where a folder is named (of any processes that are told so, one makes them at a time):
  BOLTWARD_BACKUPS    the folder, best on another disk; none ends them, and nobody is told any more that none comes.
                      Beside them boltward-erased.txt says by number who was erased, for boltward restore
  BOLTWARD_BACKUP_TO  public keys with commas between (boltward backup --new-identity makes one)
  BOLTWARD_BACKUP_EVERY, BOLTWARD_BACKUP_KEEP  how often (24h), and the last of how many days, weeks and months stay (7d 5w 12m)`

// backupSettings reads what is to be backed up without a person; nothing where no folder
// is named. The installation's key is the caller's to add.
func backupSettings(env Env) (backup.Settings, error) {
	var s backup.Settings
	var err error
	if s.Every, err = backupEvery(env.Getenv("BOLTWARD_BACKUP_EVERY")); err != nil {
		return s, err
	}
	if s.Keep, err = backup.ParseKeep("BOLTWARD_BACKUP_KEEP", cmp.Or(env.Getenv("BOLTWARD_BACKUP_KEEP"), backup.UsualKeep().String())); err != nil {
		return s, err
	}
	folder, to := env.Getenv("BOLTWARD_BACKUPS"), env.Getenv("BOLTWARD_BACKUP_TO")
	if folder == "" {
		if to != "" {
			return s, apperr.Invalid("BOLTWARD_BACKUPS", "Backups are to go to a public key, and no folder is named for them.")
		}
		return s, nil
	}
	if folder == backupsNone {
		return backup.Settings{None: true}, nil
	}
	if s.Folder, err = filepath.Abs(folder); err != nil {
		return s, fmt.Errorf("folder of backups: %w", err)
	}
	for key := range strings.SplitSeq(to, ",") {
		if key = strings.TrimSpace(key); key != "" {
			s.Recipients = append(s.Recipients, key)
		}
	}
	if _, err := backup.PublicKeys("BOLTWARD_BACKUP_TO", s.Recipients); err != nil {
		return s, err
	}
	return s, nil
}

// backupEvery reads 6h, 90m or 2d.
func backupEvery(text string) (time.Duration, error) {
	if text == "" {
		return backupsUsually, nil
	}
	every, err := time.ParseDuration(text)
	if days, isDays := strings.CutSuffix(text, "d"); isDays {
		var n int
		n, err = strconv.Atoi(days)
		every = time.Duration(min(n, 1000)) * 24 * time.Hour
	}
	if err != nil || every < backupsAtMost {
		return 0, apperr.Invalid("BOLTWARD_BACKUP_EVERY", "%q is no time between backups: 24h, 6h or 2d is; the least is 10m.", text)
	}
	return every, nil
}
