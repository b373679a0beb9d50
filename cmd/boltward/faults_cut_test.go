package main

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The connection to Postgres is cut after any message of those that a form takes,
// and, worst of all, when COMMIT is done and the program has not heard of it: whoever
// sends the form once more gets the first answer, and nothing is done twice.
func TestConnectionCut(t *testing.T) {
	t.Parallel()
	set, _ := withDatabase(t)
	direct := settings{"DATABASE_URL": set["DATABASE_URL"]}
	between := newCutter(t, set["DATABASE_URL"])
	set["DATABASE_URL"] = between.urlText
	p := launch(t, set, "serve", "--jobs=false")
	p.answers()
	c := newCrowd(t, inHarbour(t, p))
	db := poolOf(t, direct)

	// Each message has its turn in the long run, a few of them else.
	rounds, most := 1, 9
	if longRun() {
		rounds, most = 20, 1
	}
	seed := uint64(time.Now().UnixNano())
	random := rand.New(rand.NewPCG(seed, 0))
	number, cuts, lost := 0, 0, 0
	for range rounds {
		for _, what := range []string{"person", "lot", "kit"} {
			number++
			f := c.form(what, number)
			c.insist(f) // with what it takes the first time
			for after := 1 + random.IntN(most); ; after += 1 + random.IntN(most) {
				number++
				f := c.form(what, number)
				between.cutAfter(after)
				first := c.post(f)
				cut := between.rest()
				c.insist(f)
				again := c.confirmed()[f.name].location
				if first != "" {
					require.Equal(t, first, again, "%s, cut after %d", f.name, after)
				}
				if !cut {
					break
				}
				cuts++
			}
			number++
			f = c.form(what, number)
			between.cutAtCommit()
			first := c.post(f)
			require.True(t, between.rest(), "%s has a COMMIT", what)
			if first == "" {
				lost++
			}
			c.insist(f)
			if first != "" {
				require.Equal(t, first, c.confirmed()[f.name].location)
			}
		}
		c.there(t.Context(), db)
	}
	wellChecked(t, direct)
	c.same(30)
	c.there(t.Context(), db)
	t.Logf("cut %d times along the way and %d times at COMMIT (seed %d): %d answers were lost there, no form was done twice", cuts, 3*rounds, seed, lost)
	require.Positive(t, lost, "an answer was lost that COMMIT had earned")
}
