package postgres

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// What is personal in this test has zephyr in it, or this number.
const (
	zephyr      = "Zephyrine Quarrel"
	zephyrMail  = "zephyrine@example.org"
	zephyrPhone = "0999 777"
	zephyrHome  = "7 Zephyr Lane"
)

// Every method that takes an act writes who did it to the audit trail, once for
// each thing it changed; and neither the trail, nor the ledgers, nor what is kept
// for repeats, nor the queue names anybody.
func TestEveryActIsInTheTrailAndNamesNobody(t *testing.T) {
	s := newStore(t)
	all := story(t, s)
	var want, got []string
	store := reflect.TypeFor[*Store]()
	for i := range store.NumMethod() {
		m := store.Method(i)
		if slices.Contains([]string{"BoxOfForm", "KitReported", "PasswordChanged", "SecondStepEnded"}, m.Name) { // they only ask whether an act was done
			continue
		}
		if m.Type.NumIn() > 2 && m.Type.In(2) == reflect.TypeFor[drive.Act]() {
			want = append(want, m.Name)
		}
	}
	for i, one := range all {
		got = append(got, one.method)
		act := s.fresh()
		act.Request, act.Initials = "request-"+one.method, "ZQ" // which stay out of the trail
		require.NoError(t, one.do(act), "%s, act %d", one.method, i)
		const q = `SELECT count(*), bool_and(at = $2 AND act <> '' AND kind <> '' AND subject <> '' AND drive_id = 'spring'
			AND who = CASE WHEN act = 'drive started' OR $3 IN ('MakeInvite', 'MakePass', 'EraseAccount') THEN 0 ELSE 1 END) FROM audit WHERE request = $1`
		var entries int
		var whole *bool
		require.NoError(t, s.db.Pool.QueryRow(t.Context(), q, act.Request, act.At, one.method).Scan(&entries, &whole))
		require.Positive(t, entries, "%s is in the trail", one.method)
		require.True(t, *whole, "%s is in the trail with who, when, in which drive and what", one.method)
	}
	require.ElementsMatch(t, want, got, "every method that takes an act is told here")
	agrees(t, s)

	for _, table := range append(onlyGrow[:], "once", "counters", "pieces", "kit_entries") {
		kept := strings.ToLower(rowsOf(t, s, table))
		require.NotContains(t, kept, "zephyr", table)
		require.NotContains(t, kept, zephyrPhone, table)
	}
	var queue string
	require.NoError(t, s.db.Owner().QueryRow(t.Context(), `SELECT coalesce(string_agg(j::text, ''), '') FROM river.river_job j`).Scan(&queue))
	require.NotContains(t, strings.ToLower(queue), "zephyr")
	require.Contains(t, rowsOf(t, s, "people", "deliveries", "delivery_answers", "delivery_settled", "accounts"), zephyr, "where it belongs")
}

// Passwords and the first organiser are in the trail too.
func TestLinksAreInTheTrail(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	id, err := s.FirstLink(t.Context())
	require.NoError(t, err)
	p, err := s.UseFirstLink(t.Context(), id, zephyr, zephyrMail, "hash")
	require.NoError(t, err)
	id, err = s.AccountLink(t.Context(), s.act("link"), zephyrMail)
	require.NoError(t, err)
	_, err = s.UseAccountLink(t.Context(), id, "other")
	require.NoError(t, err)
	const q = `SELECT count(*) FROM audit WHERE who = $1 AND subject = $1::text AND (drive_id, act) IN
		(('', 'first organiser'), ('spring', 'role set'), ('', 'password chosen'))`
	var entries int
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), q, p.ID).Scan(&entries))
	require.Equal(t, 3, entries)
	require.NotContains(t, strings.ToLower(rowsOf(t, s, "audit", "once", "links")), "zephyr")
}
