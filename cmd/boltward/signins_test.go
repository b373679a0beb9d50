package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// How long sign-ins are kept is a number of days that can be meant, for whoever serves or works.
func TestHowLongSignInsAreKept(t *testing.T) {
	for _, command := range []string{"serve", "work"} {
		for _, days := range []string{"6", "401", "a month", "-9", "7.5"} {
			code, _, errs := say(t, settings{"BOLTWARD_SIGN_INS_DAYS": days, "DATABASE_URL": "postgres://nobody@127.0.0.1:9/none"}, command)
			require.Equal(t, 2, code, "%s with %q: %s", command, days, errs)
			require.Contains(t, errs, "BOLTWARD_SIGN_INS_DAYS")
			require.Contains(t, errs, "from 7")
		}
	}
}

// How long a session may lie unused is a number of minutes that can be meant, or 0.
func TestHowLongASessionMayLieUnused(t *testing.T) {
	for _, minutes := range []string{"4", "10081", "-1", "two hours", "7.5", "1e2"} {
		code, _, errs := say(t, settings{"BOLTWARD_IDLE_MINUTES": minutes, "DATABASE_URL": "postgres://nobody@127.0.0.1:9/none"}, "serve")
		require.Equal(t, 2, code, "%q: %s", minutes, errs)
		require.Contains(t, errs, "BOLTWARD_IDLE_MINUTES")
		require.Contains(t, errs, "from 5 to 10080")
	}
	for minutes, want := range map[string]time.Duration{"": 2 * time.Hour, "0": 0, "5": 5 * time.Minute, "10080": 7 * 24 * time.Hour} {
		env, _, _ := testEnv(t, map[string]string{"BOLTWARD_IDLE_MINUTES": minutes})
		cfg, err := readServeConfig(env)
		require.NoError(t, err, minutes)
		require.Equal(t, want, cfg.idle, minutes)
	}
	_, out, _ := say(t, nil, "help", "serve")
	require.Contains(t, out, "BOLTWARD_IDLE_MINUTES")
	require.Contains(t, out, "0: never")
}
