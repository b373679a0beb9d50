package drive

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// What is worked out from a form changes with the day; the form does not.
func TestAFormSaysWhetherAWishIsTheSame(t *testing.T) {
	hash := func(a Act, operation string, body any) string {
		sum, err := a.Hash(operation, body)
		require.NoError(t, err)
		return string(sum)
	}
	sent, other := Act{Form: []byte("sent on Monday")}, Act{Form: []byte("another")}
	require.Equal(t, hash(sent, "tag", "Monday"), hash(sent, "tag", "Tuesday"))
	require.NotEqual(t, hash(sent, "tag", "Monday"), hash(other, "tag", "Monday"))
	require.NotEqual(t, hash(sent, "tag", "Monday"), hash(sent, "untag", "Monday"))
	require.NotEqual(t, hash(Act{}, "tag", "Monday"), hash(Act{}, "tag", "Tuesday"), "without a form the body says it")
	require.NotEqual(t, hash(sent, "tag", "Monday"), hash(Act{}, "tag", "Monday"))
	_, err := Act{}.Hash("tag", func() {})
	require.Error(t, err)
}
