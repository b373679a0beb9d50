package postgres

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"
)

// countedBy is a column that a sequence counts for.
type countedBy struct {
	Sequence string `db:"sequence"` // with its schema, as the others
	Table    string `db:"of"`
	Column   string `db:"counted"`
	Last     int64  `db:"last"` // that was given; 0 where none was
	Down     bool   `db:"down"` // each number is below the one before, as those of hands at tablets
}

// furthest gives the number in the column that was given last: the highest, or the lowest of a
// sequence that counts down; 0 where there is none.
func (c countedBy) furthest(ctx context.Context, db querier) (n int64, err error) {
	last := "max"
	if c.Down {
		last = "min"
	}
	q := fmt.Sprintf(`SELECT coalesce(%s(%s), 0)::bigint FROM %s`, last, pgx.Identifier{c.Column}.Sanitize(), ordered(c.Table))
	if err := db.QueryRow(ctx, q).Scan(&n); err != nil {
		return 0, fmt.Errorf("what %s has counted: %w", c.Sequence, err)
	}
	return n, nil
}

// behind says whether the next number after Last may be one that is there.
func (c countedBy) behind(furthest int64) bool {
	if c.Down {
		return c.Last > furthest
	}
	return c.Last < furthest
}

// countedColumns gives every column that has a sequence of its own, which this login may read.
func countedColumns(ctx context.Context, db querier) ([]countedBy, error) {
	const q = `SELECT s.schemaname || '.' || s.sequencename AS sequence, n.nspname || '.' || t.relname AS of, a.attname::text AS counted, coalesce(s.last_value, 0) AS last, s.increment_by < 0 AS down
		FROM pg_sequences s JOIN pg_class c ON c.oid = to_regclass(format('%I.%I', s.schemaname, s.sequencename))
		JOIN pg_depend d ON d.classid = 'pg_class'::regclass AND d.objid = c.oid AND d.refclassid = 'pg_class'::regclass AND d.refobjsubid > 0 AND d.deptype IN ('a', 'i')
		JOIN pg_class t ON t.oid = d.refobjid JOIN pg_namespace n ON n.oid = t.relnamespace
		JOIN pg_attribute a ON a.attrelid = t.oid AND a.attnum = d.refobjsubid
		WHERE s.schemaname IN ('public', 'river') AND CASE WHEN c.relkind = 'S' THEN has_sequence_privilege(c.oid, 'SELECT, USAGE') END AND has_column_privilege(t.oid, a.attnum, 'SELECT')
		ORDER BY 1`
	rows, err := db.Query(ctx, q)
	if err != nil {
		return nil, fmt.Errorf("list counted columns: %w", err)
	}
	return collect(rows, "list counted columns", pgx.RowToStructByName[countedBy])
}

// checkSequences adds each sequence that has not come as far as what its column holds: the next row that it
// numbers would have the number of one that is there.
func (b *Balances) checkSequences(ctx context.Context, tx pgx.Tx) error {
	columns, err := countedColumns(ctx, tx)
	if err != nil {
		return err
	}
	for _, c := range columns {
		furthest, err := c.furthest(ctx, tx)
		if err != nil {
			return err
		}
		if c.behind(furthest) {
			b.differs(Difference{What: fmt.Sprintf("the sequence %s has given %d, and %s holds %d", c.Sequence, c.Last, c.Table, furthest)})
		}
	}
	return nil
}
