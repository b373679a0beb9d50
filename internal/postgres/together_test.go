package postgres

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"boltward/internal/drive"
	"boltward/internal/pgtest"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// sent notes how many statements went off at a time.
type sent struct{ rounds []int }

func (s *sent) TraceQueryStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceQueryStartData) context.Context {
	s.rounds = append(s.rounds, 1)
	return ctx
}

func (s *sent) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

func (s *sent) TraceBatchStart(ctx context.Context, _ *pgx.Conn, data pgx.TraceBatchStartData) context.Context {
	s.rounds = append(s.rounds, data.Batch.Len())
	return ctx
}

func (s *sent) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {}

func (s *sent) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData) {}

// togetherStore gives a store with one connection alone, so that whoever asks for a second waits for ever.
func togetherStore(t *testing.T) (*Store, *sent) {
	db, trace := pgtest.New(t), &sent{}
	config := db.Pool.Config()
	config.ConnConfig.Tracer, config.MaxConns = trace, 1
	pool, err := pgxpool.NewWithConfig(t.Context(), config)
	require.NoError(t, err)
	t.Cleanup(pool.Close)
	return New(pool, time.Now), trace
}

// counted asks for each number up to n by itself and adds them to the list.
func counted(s *Store, list *[]int, n int) func(context.Context) error {
	return func(ctx context.Context) error {
		for i := range n {
			var got int
			if err := s.pool.QueryRow(ctx, `SELECT $1::int`, i).Scan(&got); err != nil {
				return err
			}
			*list = append(*list, got)
		}
		return nil
	}
}

func upTo(n int) (list []int) {
	for i := range n {
		list = append(list, i)
	}
	return list
}

func TestReadsGoTogether(t *testing.T) {
	s, trace := togetherStore(t)
	var a, b, c, d, rows []int
	err := s.Together(t.Context(),
		counted(s, &a, 3),
		func(ctx context.Context) error {
			if err := counted(s, &b, 1)(ctx); err != nil {
				return err
			}
			return s.Together(ctx, counted(s, &c, 2), counted(s, &d, 4))
		},
		func(context.Context) error { return nil },
		func(ctx context.Context) error {
			found, err := s.pool.Query(ctx, `SELECT generate_series(0, 4)`)
			if err != nil {
				return err
			}
			rows, err = pgx.CollectRows(found, pgx.RowTo[int])
			return err
		})
	require.NoError(t, err)
	assert.Equal(t, [][]int{upTo(3), upTo(1), upTo(2), upTo(4), upTo(5)}, [][]int{a, b, c, d, rows})
	assert.Equal(t, []int{3, 3, 3, 1, 1}, trace.rounds, "of each round all that is asked in it")
	require.NoError(t, s.Together(t.Context()), "nothing to read")

	require.NoError(t, s.Whole(t.Context(), time.Now, func(s *Store) error {
		a = nil
		return s.Together(t.Context(), counted(s, &a, 2), counted(s, &b, 1))
	}))
	assert.Equal(t, upTo(2), a, "in a transaction too")
}

func TestWhatGoesTogetherFailsTogether(t *testing.T) {
	s, _ := togetherStore(t)
	own := errors.New("of the function itself")
	var list []int
	for name, read := range map[string]struct {
		fails func(context.Context) error
		says  string
	}{
		"itself":    {func(context.Context) error { return own }, own.Error()},
		"afterward": {func(ctx context.Context) error { return errors.Join(counted(s, &list, 1)(ctx), own) }, own.Error()},
		"the statement": {func(ctx context.Context) error {
			var n int
			return s.pool.QueryRow(ctx, `SELECT 1 / $1::int`, 0).Scan(&n)
		}, "division by zero"},
		"no such table": {func(ctx context.Context) error {
			_, err := s.pool.Query(ctx, `SELECT FROM no_such_table`)
			return err
		}, "no_such_table"},
		"nothing found": {func(ctx context.Context) error {
			var n int
			return s.pool.QueryRow(ctx, `SELECT 1 WHERE false`).Scan(&n)
		}, pgx.ErrNoRows.Error()},
		"a write": {func(ctx context.Context) error {
			_, err := s.pool.Exec(ctx, `DELETE FROM drives`)
			return err
		}, errOnlyReads.Error()},
		"a transaction": {func(ctx context.Context) error {
			_, err := s.pool.Begin(ctx)
			return err
		}, errOnlyReads.Error()},
		"a snapshot": {func(ctx context.Context) error {
			return pgx.BeginTxFunc(ctx, s.root, pgx.TxOptions{AccessMode: pgx.ReadOnly}, func(pgx.Tx) error { return nil })
		}, errOnlyReads.Error()},
		"a wish": {func(ctx context.Context) error {
			_, err := once(ctx, s, drive.Act{Drive: "spring", Key: "together", At: s.now()}, "nothing", nil, func(pgx.Tx) (int, error) { return 0, nil })
			return err
		}, errOnlyReads.Error()},
	} {
		for _, place := range []string{"first", "last", "inside"} {
			t.Run(fmt.Sprint(name, " ", place), func(t *testing.T) {
				var before, after []int
				reads := []func(context.Context) error{read.fails, counted(s, &before, 3), counted(s, &after, 3)}
				switch place {
				case "last":
					reads[0], reads[2] = reads[2], reads[0]
				case "inside":
					reads[1] = func(ctx context.Context) error { return s.Together(ctx, counted(s, &before, 2), read.fails) }
				}
				require.ErrorContains(t, s.Together(t.Context(), reads...), read.says)
				// The one connection is back, and answers rightly.
				list = nil
				require.NoError(t, counted(s, &list, 2)(t.Context()))
				require.Equal(t, upTo(2), list)
			})
		}
	}
	t.Run("a panic", func(t *testing.T) {
		require.PanicsWithValue(t, "out of range", func() {
			_ = s.Together(t.Context(), counted(s, &list, 3), func(ctx context.Context) error {
				_ = counted(s, &list, 1)(ctx)
				panic("out of range")
			})
		})
		list = nil
		require.NoError(t, counted(s, &list, 2)(t.Context()))
	})
	t.Run("nobody waits any more", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		require.ErrorIs(t, s.Together(ctx, counted(s, &list, 1), counted(s, &list, 1)), context.Canceled)
		list = nil
		require.NoError(t, counted(s, &list, 2)(t.Context()))
	})
}
