package main

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// How long sign-ins are kept is a number of days that can be meant, for whoever serves or works.
func TestHowLongSignInsAreKept(t *testing.T) {
	for _, command := range []string{"serve", "work"} {
		for _, days := range []string{"6", "401", "a month", "-9", "7.5"} {
			code, _, errs := run(t, settings{"BOLTWARD_SIGN_INS_DAYS": days, "DATABASE_URL": "postgres://nobody@127.0.0.1:9/none"}, command)
			require.Equal(t, 2, code, "%s with %q: %s", command, days, errs)
			require.Contains(t, errs, "BOLTWARD_SIGN_INS_DAYS")
			require.Contains(t, errs, "from 7")
		}
	}
}
