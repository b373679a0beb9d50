package postgres

import (
	"context"
	"errors"
	"fmt"
	"iter"

	"github.com/jackc/pgx/v5"
)

// Rows of the books are handed over in bunches, of which some lie ready, of all lists
// together: enough that the database works out the next lists while whoever writes is still
// at one before, and nothing that grows with the drive is held.
const (
	bunchOfRows = 256
	bunchesKept = 96
)

// errGivenUp is why a list is not fetched: one before it was not fetched to its end.
var errGivenUp = errors.New("given up with a list before")

// bookReader fetches the lists of the books by the one connection of their transaction,
// ahead of whoever goes through them. Where the whole is wished it goes from list to list.
type bookReader struct {
	ctx   context.Context
	tx    pgx.Tx
	whole bool
	lists []bookList
	next  int           // the list whose turn it is, where the whole is wished
	ahead chan struct{} // holds one for each bunch that lies ready
	stop  chan struct{}
	done  chan struct{} // closed when nothing is fetched any more; nil where nothing is
	given bool          // up: a list of the whole was left before its end
}

// bookList is one list to fetch: read gives false where it was stopped or failed, and skip
// ends one that is not fetched any more.
type bookList struct {
	read func(stop <-chan struct{}) bool
	skip func()
}

// begin fetches a list, and where the whole is wished those after it.
func (r *bookReader) begin(list int) {
	lists := r.lists[list : list+1]
	if r.whole {
		lists = r.lists[list:]
	}
	stop, done := make(chan struct{}), make(chan struct{})
	r.stop, r.done = stop, done
	go func() {
		defer close(done)
		whole := true
		for _, l := range lists {
			if whole {
				whole = l.read(stop)
			} else {
				l.skip()
			}
		}
	}()
}

// end lets fetching end and waits for it, so that the connection is free. Of the whole
// nothing is fetched after it.
func (r *bookReader) end() {
	if r.done == nil {
		return
	}
	close(r.stop)
	<-r.done
	r.done, r.given = nil, r.whole
	// What lay ready of a list that was left goes with it.
	r.ahead = make(chan struct{}, bunchesKept)
}

// turn is called before a list is gone through.
func (r *bookReader) turn(list int) error {
	switch {
	case r.given:
		return errGivenUp
	case r.whole && list != r.next:
		return errors.New("the lists of the whole books are gone through once each, in their order")
	case !r.whole && r.done != nil:
		return errors.New("one list of the books is gone through at a time")
	case r.done == nil:
		r.begin(list)
	}
	r.next++
	return nil
}

// bookRows gives the rows of a query as they arrive. It is gone through once.
func bookRows[T any](r *bookReader, what, q string, args ...any) iter.Seq2[T, error] {
	ready := make(chan []T, bunchesKept) // never full before ahead is
	var failed error                     // is written before ready is closed
	list := len(r.lists)
	r.lists = append(r.lists, bookList{
		read: func(stop <-chan struct{}) bool {
			defer close(ready)
			whole, err := fetch(r, ready, stop, q, args)
			if err != nil {
				failed = fmt.Errorf("books, %s: %w", what, err)
			}
			return whole && err == nil
		},
		skip: func() {
			failed = fmt.Errorf("books, %s: %w", what, errGivenUp)
			close(ready)
		},
	})
	return func(yield func(T, error) bool) {
		var none T
		if err := r.turn(list); err != nil {
			yield(none, fmt.Errorf("books, %s: %w", what, err))
			return
		}
		for rows := range ready {
			<-r.ahead
			for _, row := range rows {
				if !yield(row, nil) {
					r.end()
					return
				}
			}
		}
		if !r.whole {
			r.end()
		}
		if failed != nil {
			yield(none, failed)
		}
	}
}

// fetch sends the rows of a query in bunches; false where it was stopped before the end.
func fetch[T any](r *bookReader, ready chan<- []T, stop <-chan struct{}, q string, args []any) (whole bool, err error) {
	rows, err := r.tx.Query(r.ctx, q, args...)
	if err != nil {
		return false, err
	}
	defer rows.Close()
	bunch := make([]T, 0, bunchOfRows)
	send := func() bool {
		select {
		case r.ahead <- struct{}{}:
			ready <- bunch
			bunch = make([]T, 0, bunchOfRows)
			return true
		case <-stop:
			return false
		}
	}
	for rows.Next() {
		row, err := pgx.RowToStructByName[T](rows)
		if err != nil {
			return false, err
		}
		if bunch = append(bunch, row); len(bunch) == bunchOfRows && !send() {
			return false, nil
		}
	}
	if err := rows.Err(); err != nil {
		return false, err
	}
	return len(bunch) == 0 || send(), nil
}
