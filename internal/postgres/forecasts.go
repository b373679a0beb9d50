package postgres

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"boltward/internal/drive"
	"boltward/internal/task"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"
)

// OutlookFacts gives what the outlook of a drive is made from on a day, but for what is asked for,
// which AskedLines gives.
func (s *Store) OutlookFacts(ctx context.Context, driveID string, today time.Time) (drive.OutlookFacts, error) {
	f := drive.OutlookFacts{Today: today, Lacks: map[string]int{}}
	var err error
	if f.Flow, err = s.Flow(ctx, driveID, today); err != nil {
		return f, err
	}
	plan, reasons, err := s.NewestReasons(ctx, driveID)
	if err != nil {
		return f, err
	}
	f.Plan = plan.Number
	for _, r := range reasons {
		f.Lacks[r.Quota] = r.Missing
	}
	const q = `SELECT wishes FROM asks WHERE drive_id = $1 AND wishes IS NOT NULL`
	var wishes []byte
	err = s.pool.QueryRow(ctx, q, driveID).Scan(&wishes)
	switch {
	case errors.Is(err, pgx.ErrNoRows):
	case err != nil:
		return f, fmt.Errorf("what to ask for: %w", err)
	default:
		if err := json.Unmarshal(wishes, &f.Wishes); err != nil {
			return f, fmt.Errorf("what to ask for: %w", err)
		}
	}
	return f, nil
}

// NewestInTrail gives the number of the newest entry of a drive's trail; 0 where there is none.
func (s *Store) NewestInTrail(ctx context.Context, driveID string) (int64, error) {
	const q = `SELECT coalesce((SELECT id FROM audit WHERE drive_id = $1 ORDER BY id DESC LIMIT 1), 0)`
	var id int64
	if err := s.pool.QueryRow(ctx, q, driveID).Scan(&id); err != nil {
		return 0, fmt.Errorf("newest in the trail: %w", err)
	}
	return id, nil
}

// KeptForecast gives the outlook that is kept of a drive in this form; nil where none is.
func (s *Store) KeptForecast(ctx context.Context, driveID string, form int) (*drive.KeptForecast, error) {
	const q = `SELECT made_at, today, seconds, form, trail, found FROM forecasts WHERE drive_id = $1 AND form = $2 AND found IS NOT NULL`
	var k drive.KeptForecast
	err := s.pool.QueryRow(ctx, q, driveID, form).Scan(&k.MadeAt, &k.Today, &k.Seconds, &k.Form, &k.Trail, &k.Found)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("kept forecast: %w", err)
	}
	return &k, nil
}

// KeepForecast keeps an outlook in place of an older one.
func (s *Store) KeepForecast(ctx context.Context, driveID string, k drive.KeptForecast) error {
	const q = `INSERT INTO forecasts AS f (drive_id, made_at, today, seconds, form, trail, found) VALUES ($1, $2, $3, $4, $5, $6, $7)
		ON CONFLICT ON CONSTRAINT forecasts_pkey DO UPDATE
		SET made_at = $2, today = $3, seconds = $4, form = $5, trail = $6, found = $7 WHERE f.made_at <= $2`
	if _, err := s.pool.Exec(ctx, q, driveID, k.MadeAt, k.Today, k.Seconds, k.Form, k.Trail, k.Found); err != nil {
		return fmt.Errorf("keep a forecast: %w", err)
	}
	return nil
}

// forecastRest is how long a forecast is left alone at least, and forecastShare how much of the
// time one drive may be worked out: a hundredth.
const (
	forecastRest  = 10 * time.Second
	forecastShare = 100
)

// forecastLate is how much later than its own moment, and than others' after it, an act may be
// seen by others.
const forecastLate = time.Minute

// RefreshForecasts has the outlooks worked out of drives in which something has happened since, or
// another day has begun, and gives how many. form is what they are kept in; another is made anew.
func (s *Store) RefreshForecasts(ctx context.Context, form int) (int64, error) {
	const q = `SELECT d.id FROM drives d LEFT JOIN forecasts f ON f.drive_id = d.id AND f.form = $2
		WHERE EXISTS (SELECT FROM asked l WHERE l.drive_id = d.id) AND (f.drive_id IS NULL
			OR f.made_at < $1::timestamptz - greatest($3::interval, f.seconds * $4 * interval '1 second')
				AND (f.today <> ($1::timestamptz AT TIME ZONE d.zone)::date
					OR EXISTS (SELECT FROM (SELECT id, at FROM audit WHERE drive_id = d.id ORDER BY id DESC LIMIT 1) a WHERE a.id > f.trail OR a.at > f.made_at - $5::interval)
					OR EXISTS (SELECT FROM asks k WHERE k.drive_id = d.id AND k.made_at > f.made_at)))
		ORDER BY d.id`
	rows, err := s.pool.Query(ctx, q, s.now(), form, forecastRest, forecastShare, forecastLate)
	if err != nil {
		return 0, fmt.Errorf("drives to forecast: %w", err)
	}
	ids, err := collect(rows, "drives to forecast", pgx.RowTo[string])
	if err != nil || len(ids) == 0 {
		return 0, err
	}
	opts := &river.InsertOpts{Priority: 4, MaxAttempts: 3, UniqueOpts: river.UniqueOpts{ByArgs: true, ByState: []rivertype.JobState{
		rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRetryable, rivertype.JobStateRunning, rivertype.JobStateScheduled,
	}}}
	var n int64
	for _, id := range ids {
		err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
			put, err := s.work.InsertTx(ctx, tx, task.Forecast{Drive: id}, opts)
			if err == nil && !put.UniqueSkippedAsDuplicate {
				n++
			}
			return err
		})
		if err != nil {
			return n, fmt.Errorf("enqueue a forecast: %w", err)
		}
	}
	return n, nil
}
