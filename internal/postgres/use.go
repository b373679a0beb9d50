package postgres

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"boltward/internal/apperr"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
)

// Whoever uses a database shares one lock of it, on each connection of a pool and on one more that
// is there also while the pool has none; a restore has that lock alone. So no connection that might
// ask or write lives while rows are put back, and none has to ask again for each statement.

// useLock is the number of that lock.
const useLock = 7_340_061

// Whoever is barred by others looks again every barredLook, for barredAtMost in all: what has just
// ended gives its locks back a moment later.
const (
	barredLook   = 100 * time.Millisecond
	barredAtMost = 3 * time.Second
)

// ErrRestoring is what a connection meets while a backup is being restored.
var ErrRestoring = errors.New("a backup is being restored into this database")

const shareUse = `SELECT pg_try_advisory_lock_shared($1)`

// ShareUse lets a new connection of a pool use the database as long as it is open. While a backup is
// being restored it is ErrRestoring.
func ShareUse(ctx context.Context, conn *pgx.Conn) error {
	if err := noticed(ctx, conn); err != nil {
		return err
	}
	mine, err := tryUse(ctx, conn, shareUse, 0)
	if err == nil && !mine {
		err = ErrRestoring
	}
	return wrapped("use the database", err)
}

// tryUse tries to take the lock, for so long.
func tryUse(ctx context.Context, conn *pgx.Conn, q string, within time.Duration) (mine bool, err error) {
	for end := time.Now().Add(within); ; {
		if err := conn.QueryRow(ctx, q, pgx.QueryExecModeSimpleProtocol, useLock).Scan(&mine); err != nil || mine || !time.Now().Before(end) {
			return mine, err
		}
		if !sleep(ctx, barredLook) {
			return false, ctx.Err()
		}
	}
}

// Use is the share of one process.
type Use struct {
	held sessionLock
	mu   sync.Mutex
	err  error
}

// BeginUse takes it, on a connection of its own, from before the pool has its first one. While a
// backup is being restored it is a conflict, at most barredAtMost later.
func BeginUse(ctx context.Context, pool *pgxpool.Pool) (*Use, error) {
	u := &Use{held: sessionLock{pool: pool, what: "use the database"}}
	u.held.lock = func(ctx context.Context, conn *pgx.Conn) error {
		if err := lastUse(ctx, conn); err != nil {
			return err
		}
		mine, err := tryUse(ctx, conn, shareUse, barredAtMost)
		if err != nil || mine {
			return err
		}
		who, err := usedBy(ctx, conn)
		if err != nil {
			return err
		}
		return apperr.Conflict("A backup is being restored into this database%s: start this once that has ended. Nothing was changed.", who)
	}
	if err := u.held.take(ctx, beginWithin); err != nil {
		if refused := apperr.As(err); refused != nil {
			return nil, refused
		}
		return nil, err
	}
	u.held.lock = func(ctx context.Context, conn *pgx.Conn) error {
		if err := lastUse(ctx, conn); err != nil {
			return err
		}
		return ShareUse(ctx, conn)
	}
	return u, nil
}

// Stay keeps it until ctx ends, and takes it anew where its connection was lost; lost is told why.
func (u *Use) Stay(ctx context.Context, lost func(error)) { u.held.stay(ctx, u.now, lost) }

func (u *Use) now(err error) {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.err = err
}

// Held returns nil while the share is held, as far as Stay knows, and else why it is not; ErrRestoring
// while a backup is being restored.
func (u *Use) Held() error {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.err
}

// End gives it back, after Stay.
func (u *Use) End(ctx context.Context) error { return u.held.letGo(ctx) }

// Alone is the whole of the lock: nobody else uses the database. Rows are put in on its own
// connection, so they are kept only while it is held.
type Alone struct{ held sessionLock }

// TakeAlone takes it as the owner of the database. Where somebody uses the database it is a conflict
// that names them, by application_name.
func TakeAlone(ctx context.Context, owner *pgxpool.Pool) (*Alone, error) {
	a := &Alone{sessionLock{pool: owner, what: "shut others out of the database", lock: func(ctx context.Context, conn *pgx.Conn) error {
		if after := owner.Config().AfterConnect; after != nil {
			if err := after(ctx, conn); err != nil {
				return err
			}
		}
		if err := lastUse(ctx, conn); err != nil {
			return err
		}
		mine, err := tryUse(ctx, conn, `SELECT pg_try_advisory_lock($1)`, barredAtMost)
		if err != nil || mine {
			return err
		}
		who, err := usedBy(ctx, conn)
		if err != nil {
			return err
		}
		return apperr.Conflict("This database is in use%s. Stop whatever uses it, and restore then; application_name in pg_stat_activity says who is connected. Nothing was changed.", who)
	}}}
	if err := a.held.take(ctx, beginWithin); err != nil {
		if refused := apperr.As(err); refused != nil {
			return nil, refused
		}
		return nil, err
	}
	return a, nil
}

// heldWithin is how long Postgres may take to say whether the lock is held.
const heldWithin = 30 * time.Second

// Held returns nil while nobody else can use the database, and else a conflict, whether ctx has ended
// or not.
func (a *Alone) Held(ctx context.Context) error {
	late, cancel := context.WithTimeout(context.WithoutCancel(ctx), heldWithin)
	defer cancel()
	return aloneOn(late, a.held.conn)
}

// aloneOn asks a connection whether it has the lock itself: one that a pooler lends for a while has not.
func aloneOn(ctx context.Context, db querier) error {
	const q = `SELECT EXISTS (SELECT FROM pg_locks WHERE pid = pg_backend_pid() AND mode = 'ExclusiveLock' AND ` + isUse + `)`
	var mine bool
	err := db.QueryRow(ctx, q, useLock).Scan(&mine)
	switch {
	case errors.Is(ctx.Err(), context.Canceled):
		return wrapped("look whether others are shut out", ctx.Err())
	case err != nil:
		return apperr.Conflict("The connection by which nobody else could use the database was lost (%v).", err)
	case !mine:
		return apperr.Conflict("Others may use this database meanwhile: the lock that shuts them out is not with the connection that took it. DATABASE_URL must lead to Postgres itself, not to a pooler of connections.")
	}
	return nil
}

// End lets others in again.
func (a *Alone) End(ctx context.Context) error { return a.held.letGo(ctx) }

// isUse is what of pg_locks is the lock, $1 being its number.
const isUse = `locktype = 'advisory' AND granted AND database = (SELECT oid FROM pg_database WHERE datname = current_database())
	AND classid = 0 AND objid = $1::bigint::oid AND objsubid = 1`

// usedBy names who has the lock, as words to add; empty where nobody has it any more.
func usedBy(ctx context.Context, conn *pgx.Conn) (string, error) {
	const q = `SELECT DISTINCT coalesce(nullif(application_name, ''), 'process ' || pid || ' of Postgres')
		FROM pg_locks JOIN pg_stat_activity USING (pid) WHERE ` + isUse + ` ORDER BY 1`
	rows, err := conn.Query(ctx, q, useLock)
	if err != nil {
		return "", fmt.Errorf("who uses the database: %w", err)
	}
	names, err := collect(rows, "who uses the database", pgx.RowTo[string])
	if err != nil || len(names) == 0 {
		return "", err
	}
	return " (" + strings.Join(names, "; ") + ")", nil
}

// noticed lets Postgres notice within two minutes that the machine at the other end is gone, also where
// it waits for what it has sent to arrive: the lock goes with the connection.
func noticed(ctx context.Context, conn *pgx.Conn) error {
	const q = `SET tcp_keepalives_idle = 60; SET tcp_keepalives_interval = 10; SET tcp_keepalives_count = 6; SET tcp_user_timeout = '120s'`
	if _, err := conn.Exec(ctx, q); err != nil {
		return fmt.Errorf("let the connection's end be noticed: %w", err)
	}
	return nil
}

// lastUse keeps Postgres from ending a connection that has nothing to say for long, too.
func lastUse(ctx context.Context, conn *pgx.Conn) error {
	if err := noticed(ctx, conn); err != nil {
		return err
	}
	if _, err := conn.Exec(ctx, `SET idle_session_timeout = 0`); err != nil {
		return fmt.Errorf("let the connection last: %w", err)
	}
	return nil
}

// CutOff is what a connection meets where a restore was cut off before it had erased again who was
// erased since. Whoever opens pages is told no more than that nothing answers.
type CutOff struct{ Why *apperr.Error }

func (e *CutOff) Error() string { return e.Why.Error() }

// NoneCutOff lets a new connection of a pool be used only where no restore into the database was cut
// off before it had erased again who was erased since: one may have run since the process began, while
// all its connections were lost. Else it is a CutOff.
func NoneCutOff(ctx context.Context, conn *pgx.Conn) error {
	err := nobodyToErase(ctx, conn)
	if refused, is := errors.AsType[*pgconn.PgError](err); is && (refused.Code == undefinedTable || refused.Code == insufficientPrivilege) {
		return nil // what is not prepared yet is refused as that
	}
	if why := apperr.As(err); why != nil {
		return &CutOff{why}
	}
	return err
}
