package main

import (
	"testing"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"
)

// The program's own connections, and those that tests open by themselves, have statements planned alike.
func TestStatementsArePlannedAlike(t *testing.T) {
	t.Parallel()
	set, _ := withDatabase(t)
	ours, err := openPool(t.Context(), set["DATABASE_URL"])
	require.NoError(t, err)
	defer ours.Close()
	plain, err := pgxpool.New(t.Context(), set["DATABASE_URL"])
	require.NoError(t, err)
	defer plain.Close()
	for setting, want := range map[string]string{"jit": "off", "random_page_cost": "1.1", "plan_cache_mode": "force_generic_plan"} {
		for _, pool := range []*pgxpool.Pool{ours, plain} {
			var is string
			require.NoError(t, pool.QueryRow(t.Context(), `SELECT current_setting($1)`, setting).Scan(&is))
			require.Equal(t, want, is, setting)
		}
	}
}
