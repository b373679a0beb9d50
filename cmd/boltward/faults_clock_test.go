package main

import (
	"context"
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/pgtest"
)

// untilTheEnd lets a session lie unused for as long as it lives. It is judged by the clock of Postgres, of
// which nothing tells a jump of four days forward from four days in which nobody came: by the usual
// setting everybody would have to sign in again, and rightly.
const untilTheEnd = "10080"

// jumps are how far a clock is off, one after the other.
var jumps = []time.Duration{time.Hour, -time.Hour, 49 * time.Hour, -49 * time.Hour, 0}

// The clock of the program jumps, then that of Postgres, under people who send forms:
// none is refused for it, none is done twice, and work that waits is done.
func TestClocksJump(t *testing.T) {
	t.Parallel()
	rounds := 1
	if longRun() {
		rounds = 20
	}
	database := pgtest.New(t)
	env, _, errs := testEnv(t, map[string]string{"DATABASE_URL": database.URL, "BOLTWARD_IDLE_MINUTES": untilTheEnd})
	var off atomic.Int64
	env.Now = func() time.Time { return time.Now().Add(time.Duration(off.Load())) }
	said, stop := started(t, env)
	p := &program{t: t}
	for said.Scan() {
		switch found := anAddress.FindString(said.Text()); {
		case p.address == "":
			p.address = found
		case found != "":
			p.link = found
		}
		if p.link != "" {
			break
		}
	}
	go func() {
		for said.Scan() {
		}
	}()
	h := newPlain(t, p.address)
	organiser(t, h, p)
	startDrive(t, h, "Harbour pillowcases")
	askForSix(t, h)
	takeInThreeLots(t, h)
	c := newCrowd(t, h)
	// What came on a day that is yet to come would be refused, with reason.
	c.blank["lot"].Set("received_on", time.Now().AddDate(0, 0, -5).Format(time.DateOnly))
	set := settings{"DATABASE_URL": database.URL}
	db, owner := database.Pool, database.Owner()
	// What Postgres takes for now is looked for here first.
	_, err := owner.Exec(t.Context(), `CREATE SCHEMA skewed;
		CREATE TABLE skewed.clock (off interval NOT NULL);
		INSERT INTO skewed.clock VALUES ('0');
		CREATE FUNCTION skewed.now() RETURNS timestamptz LANGUAGE sql STABLE AS $$ SELECT pg_catalog.now() + off FROM skewed.clock $$;
		GRANT USAGE ON SCHEMA skewed TO PUBLIC;
		GRANT SELECT ON skewed.clock TO PUBLIC`)
	require.NoError(t, err)
	var name string
	require.NoError(t, db.QueryRow(t.Context(), `SELECT current_database()`).Scan(&name))
	_, err = owner.Exec(t.Context(), fmt.Sprintf(`ALTER DATABASE %s SET search_path = skewed, public, pg_catalog`, name))
	require.NoError(t, err)
	// Connections that stand know nothing of it.
	_, err = db.Exec(t.Context(), `SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND usename = current_user AND pid <> pg_backend_pid()`)
	require.NoError(t, err)
	db.Reset()
	c.send(3)
	c.more(3)
	for range rounds {
		for _, jump := range jumps {
			off.Store(int64(jump))
			c.more(6)
			_, err := owner.Exec(t.Context(), `UPDATE skewed.clock SET off = $1`, -jump)
			require.NoError(t, err)
			var seen time.Time
			require.NoError(t, db.QueryRow(t.Context(), `SELECT now()`).Scan(&seen))
			require.InDelta(t, -jump.Seconds(), time.Until(seen).Seconds(), 600, "the clock of Postgres jumped")
			c.more(6)
			c.there(context.WithoutCancel(t.Context()), db)
		}
	}
	// With its own clock a day ahead and the other's a day behind, a plan comes.
	off.Store(int64(24 * time.Hour))
	_, err = owner.Exec(t.Context(), `UPDATE skewed.clock SET off = '-24 hours'`)
	require.NoError(t, err)
	h.open(home + "/plan")
	press(t, h, "Make a plan")
	becomesPlanned(t, h, home+"/plan/1")
	c.end()
	c.there(t.Context(), db)
	c.same(40)
	balanced(t, t.Context(), db)
	wellChecked(t, set)
	t.Logf("%d jumps of two clocks: %d forms confirmed, all of them there", rounds*len(jumps), len(c.confirmed()))
	require.NoError(t, stop(), errs.String())
}
