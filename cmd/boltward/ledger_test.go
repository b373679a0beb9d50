package main

import (
	"context"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"
)

// differences compare what the ledgers say, added up anew, with the balances that
// were kept along the way. Each query gives a line for everything that does not agree.
var differences = map[string]string{
	"every piece holds what its entries moved": `
		WITH moved AS (
			SELECT drive_id, lot, piece, to_account AS account, area, CASE WHEN to_account = 'free' THEN length ELSE 0 END AS length FROM fabric_entries WHERE piece > 0
			UNION ALL
			SELECT drive_id, lot, piece, from_account, -area, CASE WHEN from_account = 'free' THEN -length ELSE 0 END FROM fabric_entries WHERE piece > 0
		), sums AS (
			SELECT drive_id, lot, piece,
				-coalesce(sum(area) FILTER (WHERE account IN ('outside', 'origin')), 0) AS received,
				coalesce(sum(area) FILTER (WHERE account = 'free'), 0) AS free,
				coalesce(sum(area) FILTER (WHERE account = 'promised'), 0) AS promised,
				coalesce(sum(area) FILTER (WHERE account = 'cut'), 0) AS cut,
				coalesce(sum(area) FILTER (WHERE account = 'out'), 0) AS out,
				coalesce(sum(area) FILTER (WHERE account = 'parted'), 0) AS parted,
				coalesce(sum(length), 0) AS length
			FROM moved GROUP BY drive_id, lot, piece
		)
		SELECT format('piece %s/%s of %s: %s, its entries say %s', p.lot, p.piece, p.drive_id,
			ROW(p.received, p.free, p.promised, p.cut, p.out, p.parted, p.free_length),
			ROW(s.received, s.free, s.promised, s.cut, s.out, s.parted, s.length))
		FROM pieces p LEFT JOIN sums s USING (drive_id, lot, piece)
		WHERE ROW(p.received, p.free, p.promised, p.cut, p.out, p.parted, p.free_length)
			IS DISTINCT FROM ROW(s.received, s.free, s.promised, s.cut, s.out, s.parted, s.length)
			OR p.received <> p.free + p.promised + p.cut + p.out + p.parted OR p.free <> p.width * p.free_length`,
	"what is parted from one piece is what another came with": `
		SELECT format('lot %s of %s: parted %s, received by remnants %s', lot, drive_id, parted, remnants)
		FROM (
			SELECT drive_id, lot, sum(parted) AS parted, coalesce(sum(received) FILTER (WHERE origin IS NOT NULL), 0) AS remnants
			FROM pieces GROUP BY drive_id, lot
		) AS lots WHERE parted <> remnants`,
	"every kit is where its last entry put it": `
		WITH steps AS (
			SELECT *, lag(to_state, 1, 'born') OVER one AS before, row_number() OVER (PARTITION BY drive_id, kit, part ORDER BY id DESC) AS back
			FROM kit_entries WINDOW one AS (PARTITION BY drive_id, kit, part ORDER BY id)
		)
		SELECT format('kit %s-%s of %s: %s, its last entry says %s', k.number, k.part, k.drive_id,
			ROW(k.state, k.holder, k.due, k.cases), ROW(s.to_state, s.holder, s.due, s.cases))
		FROM kits k LEFT JOIN steps s ON s.drive_id = k.drive_id AND s.kit = k.number AND s.part = k.part AND s.back = 1
		WHERE ROW(k.state, k.holder, k.due, k.cases) IS DISTINCT FROM
			ROW(s.to_state, CASE WHEN s.to_state = 'out' THEN s.holder END, CASE WHEN s.to_state = 'out' THEN s.due END, s.cases)
		UNION ALL
		SELECT format('kit %s-%s of %s: entry %s goes on from %s, it was %s', kit, part, drive_id, id, from_state, before)
		FROM steps WHERE from_state <> before`,
	"pillowcases stand where their entries moved them": `
		WITH moved AS (
			SELECT drive_id, to_asked AS asked, size, to_kit AS kit, to_part AS part, to_state AS state, n FROM case_entries WHERE to_state <> 'born'
			UNION ALL
			SELECT drive_id, asked, size, kit, part, from_state, -n FROM case_entries WHERE from_state <> 'born'
		), sums AS (
			SELECT drive_id, asked, size, kit, part, state, sum(n)::integer AS n FROM moved GROUP BY drive_id, asked, size, kit, part, state
		)
		SELECT format('%s of line %s, size %s, kit %s-%s of %s: %s, the entries say %s', state, asked, size, kit, part, drive_id, b.n, s.n)
		FROM case_balances b FULL JOIN sums s USING (drive_id, asked, size, kit, part, state)
		WHERE coalesce(b.n, 0) <> coalesce(s.n, 0) OR b.n < 0`,
	"a kit holds as many pillowcases as stand in it": `
		SELECT format('kit %s-%s of %s, %s: %s, the ledger of pillowcases says %s', k.number, k.part, k.drive_id, k.state, k.cases, coalesce(b.n, 0))
		FROM kits k LEFT JOIN (
			SELECT drive_id, kit, part, sum(n) AS n FROM case_balances
			WHERE state IN ('planned', 'cut', 'out', 'to mend') GROUP BY drive_id, kit, part
		) AS b ON b.drive_id = k.drive_id AND b.kit = k.number AND b.part = k.part
		WHERE k.state IN ('planned', 'on the table', 'cut', 'ready', 'out') AND k.cases <> coalesce(b.n, 0)`,
	"a plan is wholly there, or wholly not": `
		SELECT format('plan %s of %s is %s: %s', number, drive_id, state, ROW(sheets, panels, kits, cases, promised, steps, wishes))
		FROM (
			SELECT p.drive_id, p.number, p.state, p.cases AS made, p.accepted_at,
				jsonb_array_length(p.plan -> 'layouts') AS layouts, jsonb_array_length(p.plan -> 'kits') AS bags,
				(SELECT count(*) FROM jsonb_path_query(p.plan, '$.layouts[*].panels[*]')) AS pieces,
				(SELECT count(*) FROM sheets s WHERE s.drive_id = p.drive_id AND s.plan = p.number) AS sheets,
				(SELECT count(*) FROM panels n JOIN sheets s ON s.drive_id = n.drive_id AND s.number = n.sheet WHERE s.drive_id = p.drive_id AND s.plan = p.number) AS panels,
				(SELECT count(*) FROM kits k WHERE k.drive_id = p.drive_id AND k.plan = p.number AND k.part = 1) AS kits,
				(SELECT coalesce(sum(e.n), 0) FROM case_entries e JOIN kits k ON k.drive_id = e.drive_id AND k.number = e.to_kit AND k.part = e.to_part
					WHERE k.drive_id = p.drive_id AND k.plan = p.number AND e.from_state = 'born' AND e.to_state = 'planned') AS cases,
				(SELECT count(*) FROM fabric_entries e WHERE e.drive_id = p.drive_id AND e.plan = p.number AND e.kind = 'promised') AS promised,
				(SELECT count(*) FROM audit a WHERE a.drive_id = p.drive_id AND a.act = 'plan accepted' AND a.subject = p.number::text) AS steps,
				(SELECT count(*) FROM once o WHERE o.drive_id = p.drive_id AND o.operation = 'accept plan' AND o.answer ->> 'Plan' = p.number::text) AS wishes
			FROM plans p
		) AS plans
		WHERE CASE WHEN accepted_at IS NOT NULL
			THEN sheets <> layouts OR panels <> pieces OR kits <> bags OR cases <> made OR promised <> layouts OR steps <> 1 OR wishes <> 1
			ELSE sheets + panels + kits + cases + promised + steps + wishes > 0 END`,
	"no wish is left without its answer": `
		SELECT format('%s by %s in %s', operation, who, drive_id) FROM once WHERE answer IS NULL`,
}

// rows are what a pool and a transaction both give.
type rows interface {
	Query(ctx context.Context, q string, args ...any) (pgx.Rows, error)
}

// unbalanced gives what differs, by what should hold.
func unbalanced(t testing.TB, ctx context.Context, db rows) map[string][]string {
	t.Helper()
	all := map[string][]string{}
	for name, q := range differences {
		rows, err := db.Query(ctx, q)
		require.NoError(t, err, name)
		found, err := pgx.CollectRows(rows, pgx.RowTo[string])
		require.NoError(t, err, name)
		if len(found) > 0 {
			all[name] = found
		}
	}
	return all
}

// balanced adds all ledgers up anew and requires that nothing differs.
func balanced(t testing.TB, ctx context.Context, db rows) {
	t.Helper()
	require.Empty(t, unbalanced(t, ctx, db))
}

// Sums that could not differ would prove nothing: each notices what the owner of
// the tables forges.
func sumsNotice(t *testing.T, ctx context.Context, owner *pgxpool.Pool) {
	t.Helper()
	for forgery, noticed := range map[string]string{
		`UPDATE pieces SET free_length = free_length - 1, free = free - width, out = out + width WHERE (drive_id, lot, piece) = (SELECT drive_id, lot, piece FROM pieces WHERE free > 0 LIMIT 1)`: "every piece holds what its entries moved",
		`UPDATE pieces SET parted = parted + 1, out = out - 1 WHERE (drive_id, lot, piece) = (SELECT drive_id, lot, piece FROM pieces WHERE out > 0 LIMIT 1)`:                                     "what is parted from one piece is what another came with",
		`UPDATE kits SET due = due + 1 WHERE state = 'out'`:                              "every kit is where its last entry put it",
		`UPDATE case_balances SET n = n + 1 WHERE state = 'good' OR state = 'confirmed'`: "pillowcases stand where their entries moved them",
		`UPDATE kits SET cases = cases + 1 WHERE state = 'out'`:                          "a kit holds as many pillowcases as stand in it",
		`UPDATE plans SET accepted_at = NULL WHERE state = 'accepted'`:                   "a plan is wholly there, or wholly not",
		`DELETE FROM panels WHERE panel = 1`:                                             "a plan is wholly there, or wholly not",
		`UPDATE once SET answer = NULL`:                                                  "no wish is left without its answer",
	} {
		tx, err := owner.Begin(ctx)
		require.NoError(t, err)
		done, err := tx.Exec(ctx, forgery)
		require.NoError(t, err, forgery)
		require.Positive(t, done.RowsAffected(), forgery)
		require.Contains(t, unbalanced(t, ctx, tx), noticed, forgery)
		require.NoError(t, tx.Rollback(ctx))
	}
}
