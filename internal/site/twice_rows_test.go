package site

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// changing says what of a table a form may change when it is sent a second time, and why.
type changing struct {
	columns []string // none: every row
	why     string
}

// changesAgain are the tables of which something may; all others stay as they are, to the row.
func changesAgain() map[string]changing {
	return map[string]changing{
		"sessions":         {why: "a session is written anew with each answer: what it says once, and until when it holds"},
		"sign_in_attempts": {why: "each try of a password counts, the right one too"},
		"sign_ins":         {columns: []string{"seen_at"}, why: "when somebody was last seen"},
		"half_sign_ins":    {columns: []string{"wrong"}, why: "each refused code counts"},
		"memberships":      {columns: []string{"seen_at"}, why: "when somebody was last seen"},
		"lots_in_hand":     {columns: []string{"at"}, why: "whoever stands at a lot still stands there; it decides for ten minutes which lot others are offered"},
		"photos":           {columns: []string{"kept_at"}, why: "a photo comes before the form that names it, and stays for a while without one"},
	}
}

// beginsAnew are the forms that let somebody in: who lost the first answer has no session, and
// gets one of their own by the second.
func beginsAnew() []string { return []string{"/sign-in", "/sign-in/link/:token", "/invite/:token"} }

// everything gives the rows of every table, by table, but for what a form of that route may change
// when it is sent again.
func (ts *testSite) everything(route string) map[string][]string {
	ts.t.Helper()
	ctx := ts.t.Context()
	if ts.tables == nil {
		const tables = `SELECT c.relname FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
			WHERE n.nspname = 'public' AND c.relkind = 'r' ORDER BY c.relname`
		rows, err := ts.DB.Owner().Query(ctx, tables)
		require.NoError(ts.t, err)
		ts.tables, err = pgx.CollectRows(rows, pgx.RowTo[string])
		require.NoError(ts.t, err)
	}
	free := changesAgain()
	var parts []string
	for _, name := range ts.tables {
		may, known := free[name]
		if known && may.columns == nil || (name == "sign_ins" || name == "half_sign_ins" || name == "devices") && slices.Contains(beginsAnew(), route) {
			continue
		}
		row := "to_jsonb(x)"
		for _, column := range may.columns {
			row += " - '" + column + "'"
		}
		parts = append(parts, fmt.Sprintf(`SELECT '%s', left((%s)::text, 2000) || md5((%s)::text) FROM %s x`, name, row, row, pgx.Identifier{name}.Sanitize()))
	}
	rows, err := ts.DB.Owner().Query(ctx, strings.Join(parts, " UNION ALL ")+" ORDER BY 1, 2")
	require.NoError(ts.t, err)
	all := map[string][]string{}
	var name, row string
	_, err = pgx.ForEachRow(rows, []any{&name, &row}, func() error {
		all[name] = append(all[name], row)
		return nil
	})
	require.NoError(ts.t, err)
	return all
}

// differences gives what one of two lists of the rows of every table has and the other has not.
func differences(before, after map[string][]string) []string {
	var told []string
	less := func(sign string, all, but map[string][]string) {
		for _, name := range slices.Sorted(maps.Keys(all)) {
			left := slices.Clone(but[name])
			for _, row := range all[name] {
				if at := slices.Index(left, row); at >= 0 {
					left = slices.Delete(left, at, at+1)
				} else {
					told = append(told, sign+" "+name+" "+row)
				}
			}
		}
	}
	less("-", before, after)
	less("+", after, before)
	return told
}

// What a second sending changes is seen: a row more, a row less, a row that is another.
func TestDifferencesAreSeen(t *testing.T) {
	ts := newTestSite(t)
	before := ts.everything("")
	require.Empty(t, differences(before, ts.everything("")))
	require.Contains(t, before, "audit")
	require.Contains(t, before, "drives")
	for name := range changesAgain() {
		require.Contains(t, ts.tables, name)
	}
	_, err := ts.DB.Owner().Exec(t.Context(), `UPDATE drives SET name = 'another'`)
	require.NoError(t, err)
	changed := differences(before, ts.everything(""))
	require.Len(t, changed, 2)
	require.Contains(t, changed[0], "- drives ")
	require.Contains(t, changed[1], "+ drives ")
	require.Len(t, differences(map[string][]string{"kits": {"a"}}, map[string][]string{"kits": {"a", "a"}}), 1)
}
