package site

import (
	"context"
	"fmt"
	"strings"
	"time"

	"boltward/internal/backup"
	"boltward/internal/postgres"
)

// backupsPart is what Settings says of backups, which belong to no drive alone.
type backupsPart struct {
	Good   *backupRow // the last good one
	Lately []backupRow
	// What the program was told, where it makes any by itself.
	ByItself     bool
	Folder, Keep string
	Every        string
	Keys         []string
}

// backupsOn is that with the page it stands on.
type backupsOn struct {
	View *view
	Part *backupsPart
}

// backupRow is one backup in words.
type backupRow struct {
	At     time.Time
	How    string
	Became string
	Bad    bool
	File   string
	SHA256 string
}

func (s *Site) backupsPart(ctx context.Context) (*backupsPart, error) {
	made, err := s.db.BackupsMade(ctx)
	if err != nil {
		return nil, err
	}
	p := &backupsPart{}
	if set := made.Settings; set != nil {
		p.ByItself, p.Folder, p.Every = true, set.Folder, everyWords(set.Every())
		p.Keep = keepWords(backup.Keep{Days: set.KeepDays, Weeks: set.KeepWeeks, Months: set.KeepMonths})
		for _, key := range set.Recipients {
			p.Keys = append(p.Keys, shortKey(key))
		}
	}
	if made.Good != nil {
		row := newBackupRow(*made.Good)
		p.Good = &row
	}
	for _, b := range made.Lately {
		p.Lately = append(p.Lately, newBackupRow(b))
	}
	return p, nil
}

func newBackupRow(b postgres.Backup) backupRow {
	row := backupRow{At: b.BeganAt, How: "by hand", File: b.File, SHA256: b.SHA256}
	if b.ByItself {
		row.How = "by itself"
	}
	switch b.State {
	case postgres.BackupGood:
		rows := int64(0)
		for _, n := range b.Counts {
			rows += n
		}
		row.Became = fmt.Sprintf("good: %s rows, %s", thousands(rows), fileSize(b.Bytes))
		if b.GoneAt != nil {
			row.Became += ", not in its folder any more"
		}
	case postgres.BackupRunning:
		row.Became = "being made"
	case postgres.BackupStopped:
		row.Became, row.Bad = "stopped: "+b.Trouble, true
	case postgres.BackupFailed:
		row.Became, row.Bad = "failed: "+b.Trouble, true
	}
	return row
}

// everyWords says how often: every day, every 6 hours.
func everyWords(every time.Duration) string {
	for _, unit := range []struct {
		of   time.Duration
		name string
	}{{24 * time.Hour, "day"}, {time.Hour, "hour"}, {time.Minute, "minute"}} {
		if n := int(every / unit.of); n > 0 && every%unit.of == 0 {
			if n == 1 {
				return "every " + unit.name
			}
			return fmt.Sprintf("every %d %ss", n, unit.name)
		}
	}
	return "every " + every.String()
}

func keepWords(k backup.Keep) string {
	var parts []string
	for _, of := range []struct {
		n         int
		one, many string
	}{{k.Days, "day", "days"}, {k.Weeks, "week", "weeks"}, {k.Months, "month", "months"}} {
		if of.n > 0 {
			parts = append(parts, counted(of.n, of.one, of.many))
		}
	}
	if n := len(parts) - 1; n > 0 {
		return strings.Join(parts[:n], ", ") + " and " + parts[n]
	}
	return strings.Join(parts, "")
}

// shortKey names a public key by its two ends.
func shortKey(key string) string {
	if len(key) <= 20 {
		return key
	}
	return key[:12] + "…" + key[len(key)-6:]
}

func fileSize(n int64) string {
	if n < 1<<20 {
		return fmt.Sprintf("%.1f KiB", float64(n)/(1<<10))
	}
	return fmt.Sprintf("%.1f MiB", float64(n)/(1<<20))
}
