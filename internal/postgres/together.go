package postgres

import (
	"context"
	"errors"
	"iter"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
)

// Together runs functions that read with the context they are given, and sends what all of
// them ask next in one go: a page that needs ten answers waits for the database as often as
// its longest function asks. They run in turns, never at once, so they may write to variables
// of whoever called; none can rely on what another found. What they ask may not write (but that
// a session is used, which none of them reads), may not
// begin a transaction, and is read to its end before the next is asked. The first error ends
// it all. A function may itself read together.
func (s *Store) Together(ctx context.Context, reads ...func(context.Context) error) (err error) {
	var turns []*turn
	defer func() {
		for _, t := range turns {
			t.stop()
		}
	}()
	for _, read := range reads {
		t := newTurn(ctx, read)
		turns = append(turns, t)
		if err := t.run(); err != nil {
			return err
		}
	}
	for {
		var asked []*question
		for _, t := range turns {
			asked = append(asked, t.asked...)
		}
		if len(asked) == 0 {
			return nil
		}
		if outer := turnOf(ctx); outer != nil {
			if !outer.wait(asked) {
				return errNobodyWaits
			}
			err = runAll(turns)
		} else {
			err = s.answer(ctx, asked, turns)
		}
		if err != nil {
			return err
		}
	}
}

// answer sends questions and lets who asked them go on.
func (s *Store) answer(ctx context.Context, asked []*question, turns []*turn) (err error) {
	var batch pgx.Batch
	for _, q := range asked {
		batch.Queue(q.sql, q.args...)
	}
	answers := s.send.SendBatch(ctx, &batch)
	defer func() {
		// What failed was told to the function that asked.
		if closed := answers.Close(); err == nil {
			err = closed
		}
	}()
	for _, q := range asked {
		q.answers = answers
	}
	return runAll(turns)
}

// runAll lets everybody who waits go on, in the order in which they asked.
func runAll(turns []*turn) error {
	for _, t := range turns {
		if len(t.asked) == 0 {
			continue
		}
		if err := t.run(); err != nil {
			return err
		}
	}
	return nil
}

var (
	errNobodyWaits = errors.New("what is read together ended before this was asked")
	errOnlyReads   = errors.New("what reads together neither writes nor begins a transaction")
)

// question is one statement that waits to be sent with others.
type question struct {
	sql     string
	args    []any
	answers pgx.BatchResults
}

// turn is one function of those that read together.
type turn struct {
	asked []*question // what it waits for
	wait  func([]*question) (goOn bool)
	next  func() ([]*question, bool)
	stop  func()
	err   error
}

type turnKey struct{}

// turnOf gives the turn that this is read in, nil where nothing is read together.
func turnOf(ctx context.Context) *turn {
	t, _ := ctx.Value(turnKey{}).(*turn)
	return t
}

func newTurn(ctx context.Context, read func(context.Context) error) *turn {
	t := &turn{}
	t.next, t.stop = iter.Pull(func(wait func([]*question) bool) {
		t.wait = wait
		t.err = read(context.WithValue(ctx, turnKey{}, t))
	})
	return t
}

// run goes on until the function asks again or ends.
func (t *turn) run() error {
	t.asked, _ = t.next()
	return t.err
}

// ask gives the answer to a question, once it was sent with those of others.
func (t *turn) ask(sql string, args []any) (pgx.BatchResults, error) {
	q := &question{sql: sql, args: args}
	if !t.wait([]*question{q}) {
		return nil, errNobodyWaits
	}
	return q.answers, nil
}

// asking is a connection whose reads wait for others where they are read together.
type asking struct{ connection }

func (a asking) Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error) {
	t := turnOf(ctx)
	if t == nil {
		return a.connection.Query(ctx, sql, args...)
	}
	answers, err := t.ask(sql, args)
	if err != nil {
		return nil, err
	}
	return answers.Query()
}

func (a asking) QueryRow(ctx context.Context, sql string, args ...any) pgx.Row {
	t := turnOf(ctx)
	if t == nil {
		return a.connection.QueryRow(ctx, sql, args...)
	}
	answers, err := t.ask(sql, args)
	if err != nil {
		return failed{err}
	}
	return answers.QueryRow()
}

func (a asking) Begin(ctx context.Context) (pgx.Tx, error) {
	if turnOf(ctx) != nil {
		return nil, errOnlyReads
	}
	return a.connection.Begin(ctx)
}

func (a asking) Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error) {
	if turnOf(ctx) != nil {
		return pgconn.CommandTag{}, errOnlyReads
	}
	return a.connection.Exec(ctx, sql, args...)
}

// beginning is a pool, where nothing begins while something is read together.
type beginning struct{ *pgxpool.Pool }

func (b beginning) Begin(ctx context.Context) (pgx.Tx, error) { return b.BeginTx(ctx, pgx.TxOptions{}) }

func (b beginning) BeginTx(ctx context.Context, options pgx.TxOptions) (pgx.Tx, error) {
	if turnOf(ctx) != nil {
		return nil, errOnlyReads
	}
	return b.Pool.BeginTx(ctx, options)
}

func (b beginning) Acquire(ctx context.Context) (*pgxpool.Conn, error) {
	if turnOf(ctx) != nil {
		return nil, errOnlyReads
	}
	return b.Pool.Acquire(ctx)
}

// sender sends what is asked together.
type sender interface {
	SendBatch(ctx context.Context, b *pgx.Batch) pgx.BatchResults
}

// failed is a row that was not asked for.
type failed struct{ err error }

func (f failed) Scan(...any) error { return f.err }
