package main

import (
	"context"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/pgtest"
	"boltward/internal/postgres"
)

func TestCheckCommand(t *testing.T) {
	db := pgtest.New(t)
	say := func(args ...string) (int, string, string) {
		env, out, errs := testEnv(t, map[string]string{"DATABASE_URL": db.URL})
		env.Args = args
		code := dispatch(context.Background(), env, commands())
		return code, out.String(), errs.String()
	}
	code, out, errs := say("check")
	require.Zero(t, code, errs)
	require.Equal(t, "Every balance agrees with its ledger.\n", out, "nothing is there yet")

	db = demoDatabase(t)
	code, out, errs = say("check")
	require.Zero(t, code, "the demo: %s%s", out, errs)
	require.True(t, strings.HasPrefix(out, "lantern-row: "), out)
	code, out, errs = say("check", "--json")
	require.Zero(t, code, errs)
	var found postgres.Balances
	require.NoError(t, json.Unmarshal([]byte(out), &found))
	n := found.Drives["lantern-row"]
	require.Positive(t, n.Counts["fabric_entries"])
	require.Positive(t, n.Counts["audit"])
	require.NotEmpty(t, n.Sums["fabric free"])
	require.NotEmpty(t, n.Sums["pillowcases confirmed"])
	require.Equal(t, int64(1), found.Outside["drives"])
	require.Contains(t, out, `"differences":[]`)
	_, again, _ := say("check", "--json")
	require.Equal(t, out, again)
	require.Greater(t, len(found.Checksums), 40)
	require.Contains(t, found.Checksums, "fabric_entries")
	found.Checksums = nil // in which any digits may come
	rest, err := json.Marshal(found)
	require.NoError(t, err)
	require.NotContains(t, string(rest), "2026", "nothing of time")

	// And the books of the demo add up, from whatever day to whatever day.
	store := postgres.New(db.Pool, time.Now)
	today := time.Now().UTC().Truncate(24 * time.Hour)
	for from := -36; from <= 0; from += 6 {
		for to := from; to <= 1; to += 7 {
			of := postgres.BooksOf{Drive: "lantern-row", From: today.AddDate(0, 0, from), To: today.AddDate(0, 0, to)}
			require.NoError(t, store.Books(t.Context(), of, func(books drive.Books) error {
				for l, err := range books.Fabric {
					require.NoError(t, err)
					require.Equal(t, l.OnShelf, l.Closing(), "from day %d to day %d: %+v", from, to, l)
				}
				for l, err := range books.Cases {
					require.NoError(t, err)
					require.Equal(t, l.Counts.Alive(), l.Closing(), "from day %d to day %d: %+v", from, to, l)
				}
				return nil
			}))
		}
	}

	for _, days := range [][2]int{{-400, 0}, {-21, -8}} {
		booksAgreeWithSQL(t, db, store, postgres.BooksOf{Drive: "lantern-row", From: today.AddDate(0, 0, days[0]), To: today.AddDate(0, 0, days[1])})
	}

	// Every kind of balance is held against its ledger: each of these, which only the
	// owner of the tables can do, is noticed and named.
	for statement, says := range map[string]string{
		`UPDATE pieces SET free = free - width, out = out + width, free_length = free_length - 1 WHERE (lot, piece) = (SELECT lot, piece FROM pieces WHERE free > 0 ORDER BY 1, 2 LIMIT 1)`: ", free length: the balance is ",
		`UPDATE kits SET due = due + 1 WHERE number = (SELECT min(number) FROM kits WHERE due IS NOT NULL)`:                                                                                 "place, holder, since, due and pillowcases are (out,",
		`UPDATE kits SET cases = cases + 1 WHERE (number, part) = (SELECT number, part FROM kits WHERE state = 'back' ORDER BY 1, 2 LIMIT 1)`:                                               " is back and says that it holds ",
		`UPDATE case_balances SET n = n + 1 WHERE state = 'confirmed'`:                                                                                                                      "confirmed: the balance is ",
		`UPDATE box_lines SET confirmed = confirmed - 1 WHERE confirmed > 0`:                                                                                                                "packed, unpacked, sent, confirmed, missing and returned are ",
		`UPDATE lots SET measured_at = NULL WHERE number = (SELECT min(lot) FROM pieces WHERE free > 0)`:                                                                                    "has cloth, and lot ",
		`UPDATE counters SET last = 1 WHERE kind = 'lot'`:                                                                                                                                   "the highest lot is ",
		`UPDATE sheets SET used = used + 1 WHERE number = (SELECT max(number) FROM sheets WHERE state = 'waiting')`:                                                                         "promised and ",
		`SELECT setval('kit_entries_id_seq', (SELECT max(id) FROM kit_entries) - 1)`:                                                                                                        "of no drive: the sequence public.kit_entries_id_seq has given ",
		`SELECT setval('audit_id_seq', 1, false)`:                                                                                                                                           "of no drive: the sequence public.audit_id_seq has given 0, and public.audit holds ",
	} {
		_, err := db.Owner().Exec(t.Context(), statement)
		require.NoError(t, err, statement)
		code, out, errs = say("check")
		require.Equal(t, exitFailed, code, "%s: %s", statement, out)
		require.Contains(t, out, says, statement)
		require.Contains(t, errs, "not agree")
	}
}
