package drive

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestNamesLike(t *testing.T) {
	names := []string{"Orla Brandtveit", "Pim Orlando", "José Núñez", "The bolt shop", "Brandt & Sons", "Ora Lind", "חנה לוי"}
	for _, tt := range []struct {
		typed string
		want  []string
	}{
		{"orla", []string{"Orla Brandtveit", "Pim Orlando"}},
		{"or", []string{"Ora Lind", "Orla Brandtveit", "Pim Orlando"}},
		{"Orla Brandveit", []string{"Orla Brandtveit"}},
		{"Olra Brandtveit", []string{"Orla Brandtveit"}},
		{"jose nunez", []string{"José Núñez"}},
		{"JOSÉ", []string{"José Núñez"}},
		{"brandt", []string{"Brandt & Sons", "Orla Brandtveit"}},
		{"shop", []string{"The bolt shop"}},
		{"חנה", []string{"חנה לוי"}},
		{"", nil},
		{"?!", nil},
		{"Somebody else", nil},
	} {
		require.Equal(t, tt.want, NamesLike(names, tt.typed, 5), "NamesLike(%q)", tt.typed)
	}
	require.Len(t, NamesLike(names, "or", 2), 2)
	require.True(t, SameName(" orla  brandtveit", "Orla Brandtveit"))
	require.True(t, SameName("Nora O'Dell", "nora O’Dell"), "phones type the curly apostrophe by themselves")
	require.False(t, SameName("Jose", "José"), "the store keeps accents apart")
}

func TestSlipsBetween(t *testing.T) {
	for _, tt := range []struct {
		a, b string
		want int
	}{
		{"kitten", "sitting", 3}, // the textbook pair of Levenshtein's distance
		{"", "abc", 3},
		{"bolt", "blot", 1},
		{"same", "same", 0},
	} {
		require.Equal(t, tt.want, slipsBetween(tt.a, tt.b, 5), "slipsBetween(%q, %q)", tt.a, tt.b)
		require.Equal(t, tt.want, slipsBetween(tt.b, tt.a, 5), "slipsBetween(%q, %q)", tt.b, tt.a)
	}
	require.Equal(t, 2, slipsBetween("kitten", "sitting", 1), "it stops above most")
}
