package postgres

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
)

// sessionLock is a lock of a session in Postgres, on a connection of its own beside a pool. The lock
// goes with the connection, and that with the process, however it ends. No clock has a say in it.
type sessionLock struct {
	pool *pgxpool.Pool
	what string // what it is for, in errors
	lock func(context.Context, *pgx.Conn) error
	conn *pgx.Conn // nil while the lock is lost
}

// beginWithin is how long Postgres may take to give the lock at the start, also where the machine
// has much else to do.
const beginWithin = 30 * time.Second

// Where the connection was lost the lock is taken anew after holdAgain, and after twice as long each
// time that fails, up to holdAtMost; what keeps failing is told once in lostAgain. Whether it is lost
// is asked every askEvery, for askWithin: nothing else tells of a connection whose other end is gone
// without a word. All of it together takes less than two looks for orphans are apart (internal/jobs).
const (
	holdAgain  = 250 * time.Millisecond
	holdAtMost = time.Second
	lostAgain  = time.Minute
	askEvery   = 2 * time.Second
	askWithin  = 2 * time.Second
)

func (l *sessionLock) take(ctx context.Context, within time.Duration) error {
	config := l.pool.Config()
	if config.BeforeConnect != nil {
		if err := config.BeforeConnect(ctx, config.ConnConfig); err != nil {
			return fmt.Errorf("%s: %w", l.what, err)
		}
	}
	// Only what goes over the wire has a limit: BeforeConnect may start Postgres first.
	ctx, cancel := context.WithTimeout(ctx, within)
	defer cancel()
	conn, err := pgx.ConnectConfig(ctx, config.ConnConfig)
	if err != nil {
		return fmt.Errorf("%s: %w", l.what, err)
	}
	if err := l.lock(ctx, conn); err != nil {
		// What is closed after a failure has nothing more to say.
		_ = conn.Close(ctx)
		return fmt.Errorf("%s: %w", l.what, err)
	}
	l.conn = conn
	return nil
}

// stay keeps the lock until ctx ends, and takes it anew where its connection was lost. now is told
// each time how it stands, nil for held; lost is told why it is not, and not too often.
func (l *sessionLock) stay(ctx context.Context, now, lost func(error)) {
	again, told := holdAgain, time.Time{}
	for ctx.Err() == nil {
		if l.conn == nil {
			if err := l.take(ctx, askWithin); err != nil {
				now(err)
				if ctx.Err() == nil && time.Since(told) > lostAgain {
					told = time.Now()
					lost(err)
				}
				if !sleep(ctx, again) {
					return
				}
				again = min(2*again, holdAtMost)
				continue
			}
			now(nil)
			again = holdAgain
		}
		err := l.there(ctx)
		if err == nil {
			continue
		}
		// It is lost, or about to end with the process.
		_ = l.letGo(ctx)
		if ctx.Err() == nil {
			err = fmt.Errorf("%s: the connection was lost: %w", l.what, err)
			now(err)
			told = time.Now()
			lost(err)
		}
	}
}

// there waits askEvery and asks whether the connection is there still. One that is
// closed says so at once.
func (l *sessionLock) there(ctx context.Context) error {
	waiting, cancel := context.WithTimeout(ctx, askEvery)
	defer cancel()
	// Nobody notifies on it.
	if _, err := l.conn.WaitForNotification(waiting); err != nil && !pgconn.Timeout(err) {
		return err
	}
	asking, cancel := context.WithTimeout(ctx, askWithin)
	defer cancel()
	_, err := l.conn.Exec(asking, `SELECT 1`)
	return err
}

// letGo gives the lock back with its connection, whether ctx has ended or not.
func (l *sessionLock) letGo(ctx context.Context) error {
	if l.conn == nil {
		return nil
	}
	late, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Second)
	defer cancel()
	err := l.conn.Close(late)
	l.conn = nil
	return err
}
