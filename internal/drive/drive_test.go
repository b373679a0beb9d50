package drive

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// An address never changes, so letters with marks leave no holes in it.
func TestAddress(t *testing.T) {
	for name, want := range map[string]string{
		"Spring ward, 2027":    "spring-ward-2027",
		"Møllebakken sømkreds": "mollebakken-somkreds",
		"Nähkreis Größe Łódź":  "nahkreis-grosse-lodz",
		"École d’Été":          "ecole-d-ete",
		"Ærø":                  "aero",
		"  --  ":               "",
		"祝日":                   "",
	} {
		require.Equal(t, want, Address(name), "Address(%q)", name)
	}
}
