package site

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A comma between digits sets thousands apart or begins a fraction, which no count has.
func TestTypedCount(t *testing.T) {
	for typed, want := range map[string]int{"": 7, "0": 0, "6": 6, "120": 120, "5 ": 5, "1,200": 1200, "1 200": 1200, "1,000,000": 1_000_000} {
		problems := map[string]string{}
		require.Equal(t, want, typedCount(problems, "n", typed, 7), "typedCount(%q)", typed)
		require.Empty(t, problems, "typedCount(%q)", typed)
	}
	for _, typed := range []string{"8,5", "2,50", "1,5000", "12,", ",5", "2 5", "2.5", "1.200", "1,20,000", "-1", "six", "1,000,001"} {
		problems := map[string]string{}
		require.Equal(t, 7, typedCount(problems, "n", typed, 7), "typedCount(%q)", typed)
		require.Equal(t, "Type a whole number such as 6.", problems["n"], "typedCount(%q)", typed)
	}
}
