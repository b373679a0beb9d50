package postgres

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// OnceKept is how long a repeated wish is still recognised.
const OnceKept = 30 * 24 * time.Hour

// once runs one wish at most once. The first with its key runs fn in a
// transaction and keeps the answer; a repeat waits for the first and gets the
// same answer; the same key with another body is a conflict. Where the act comes with
// a form, the form as it was sent is the body. When fn refuses, nothing is kept, so the
// person may mend the form and send it again. A transaction that Postgres ended for a
// deadlock is run again.
func once[T any](ctx context.Context, s *Store, act drive.Act, operation string, body any, fn func(tx pgx.Tx) (T, error)) (T, error) {
	return onceAsking(ctx, s, act, operation, body, nil, func(w *wishTx) (T, error) { return fn(w) })
}

// onceAsking is once for a wish that knows beforehand what it asks first: that goes to Postgres
// with the claim, and is asked for a repeat too. So ask only reads and locks, by numbers and never by
// what was typed, which is not judged yet; and what it finds is judged by fn alone.
func onceAsking[T any](ctx context.Context, s *Store, act drive.Act, operation string, body any, ask func(*pgx.Batch), fn func(w *wishTx) (T, error)) (T, error) {
	var answer T
	hash, err := act.Hash(operation, body)
	if err != nil {
		return answer, err
	}
	if act.Key == "" {
		return answer, fmt.Errorf("%s: an act without a key", operation)
	}
	for try := 1; ; try++ {
		err = s.claim(ctx, act, operation, hash, ask, func(w *wishTx, first bool) error {
			if first {
				answer, err = runOnce(ctx, w, act, operation, fn)
			} else {
				answer, err = firstAnswer[T](ctx, w, act, hash)
			}
			return err
		})
		if err == nil {
			return answer, nil
		}
		if try < 4 && isRetryable(err) {
			continue
		}
		var zero T
		return zero, person(err)
	}
}

// claim runs fn in a transaction that has claimed a wish, and says whether it is the first to.
// To begin, to claim and to ask is one way to Postgres and back.
func (s *Store) claim(ctx context.Context, act drive.Act, operation string, hash []byte, ask func(*pgx.Batch), fn func(w *wishTx, first bool) error) (err error) {
	const q = `INSERT INTO once (drive_id, who, key, operation, hash, at) VALUES ($1, $2, $3, $4, $5, $6)
		ON CONFLICT ON CONSTRAINT once_pkey DO NOTHING`
	first := false
	var batch pgx.Batch
	if !s.whole {
		batch.BeginTx(pgx.TxOptions{})
	}
	batch.Queue(q, act.Drive, act.Who, act.Key, operation, hash, act.At).Exec(func(tag pgconn.CommandTag) error {
		first = tag.RowsAffected() == 1
		return nil
	})
	if ask != nil {
		ask(&batch)
	}
	if s.whole {
		return pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
			if err := tx.SendBatch(ctx, &batch).Close(); err != nil {
				return fmt.Errorf("claim %s: %w", operation, err)
			}
			return fn(&wishTx{Tx: tx}, first)
		})
	}
	conn, err := s.root.Acquire(ctx)
	if err != nil {
		return fmt.Errorf("claim %s: %w", operation, err)
	}
	defer conn.Release()
	begun := conn.SendBatch(ctx, &batch)
	w := &wishTx{Tx: begun.Tx(), commits: true}
	err = begun.Close()
	if w.Tx != nil {
		defer func() {
			if w.kept {
				return
			}
			// After a commit there is nothing to take back; a connection that cannot take back is given up.
			if back := w.Rollback(ctx); err == nil && !errors.Is(back, pgx.ErrTxClosed) {
				err = back
			}
		}()
	}
	if err != nil {
		return fmt.Errorf("claim %s: %w", operation, err)
	}
	if err := fn(w, first); err != nil || w.kept {
		return err
	}
	return w.Commit(ctx)
}

// wishTx is the transaction of a wish.
type wishTx struct {
	pgx.Tx
	last    pgx.Batch // what goes to Postgres with the answer, such as its trail; only Postgres may refuse it, for the commit is on its way by then
	commits bool      // it ends with that: it is no part of another
	kept    bool      // it has
}

// runOnce grants a wish and keeps its answer. What it leaves to the last, the answer and the commit
// go to Postgres in one go, so that whoever waits for a row of it waits the shorter.
func runOnce[T any](ctx context.Context, w *wishTx, act drive.Act, operation string, fn func(w *wishTx) (T, error)) (T, error) {
	answer, err := fn(w)
	if err != nil {
		return answer, err
	}
	text, err := json.Marshal(answer)
	if err != nil {
		return answer, fmt.Errorf("keep the answer of %s: %w", operation, err)
	}
	const keep = `UPDATE once SET answer = $4 WHERE drive_id = $1 AND who = $2 AND key = $3`
	w.last.Queue(keep, act.Drive, act.Who, act.Key, text)
	if w.commits {
		w.last.Queue(`commit`).Exec(func(tag pgconn.CommandTag) error {
			if w.kept = tag.String() == "COMMIT"; !w.kept {
				return pgx.ErrTxCommitRollback
			}
			return nil
		})
	}
	if err := w.SendBatch(ctx, &w.last).Close(); err != nil {
		return answer, fmt.Errorf("keep %s: %w", operation, err)
	}
	return answer, nil
}

func firstAnswer[T any](ctx context.Context, tx querier, act drive.Act, hash []byte) (T, error) {
	var answer T
	const q = `SELECT hash, answer FROM once WHERE drive_id = $1 AND who = $2 AND key = $3`
	var kept, text []byte
	if err := tx.QueryRow(ctx, q, act.Drive, act.Who, act.Key).Scan(&kept, &text); err != nil {
		return answer, fmt.Errorf("the first answer: %w", err)
	}
	if !bytes.Equal(kept, hash) {
		return answer, apperr.Conflict("This form was sent before with other contents. Open the page again and look at what stands before you repeat it.")
	}
	if err := json.Unmarshal(text, &answer); err != nil {
		return answer, fmt.Errorf("the first answer: %w", err)
	}
	return answer, nil
}

// kept gives the first answer to a wish that was granted before; the zero answer
// where it was not. It is for what can no longer be read as it was meant once it is done.
func kept[T any](ctx context.Context, s *Store, act drive.Act, operation string, body any) (T, error) {
	var none T
	hash, err := act.Hash(operation, body)
	if err != nil {
		return none, err
	}
	answer, err := firstAnswer[T](ctx, s.pool, act, hash)
	if errors.Is(err, pgx.ErrNoRows) {
		return none, nil
	}
	return answer, err
}

// strangersKey gives the key of a wish of somebody who is not signed in, apart from those
// of the command line, which stand under nobody as well.
func strangersKey(what, key string) string {
	return fmt.Sprintf("%s %x", what, sha256.Sum256([]byte(key)))
}

// ForgetOnce removes wishes kept longer than OnceKept and says how many.
func (s *Store) ForgetOnce(ctx context.Context) (int64, error) {
	const q = `DELETE FROM once WHERE at < $1`
	tag, err := s.pool.Exec(ctx, q, s.now().Add(-OnceKept))
	if err != nil {
		return 0, fmt.Errorf("forget old wishes: %w", err)
	}
	return tag.RowsAffected(), nil
}

func isRetryable(err error) bool {
	var pg *pgconn.PgError
	return errors.As(err, &pg) && (pg.Code == "40P01" || pg.Code == "40001")
}
