package drive

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSewnOrLost(t *testing.T) {
	var alike, unlike []LoosePanel
	for n := range 3 {
		alike = append(alike, LoosePanel{Role: "body", Lot: 1, Panel: n, Pillowcase: n + 1})
		unlike = append(unlike, LoosePanel{Role: "body", Lot: int64(n), Panel: n, Pillowcase: n + 1})
	}
	gone, known := SewnOrLost(alike, 2)
	require.Equal(t, []any{alike[:1], true}, []any{gone, known})
	gone, known = SewnOrLost(unlike, 2)
	require.Equal(t, []any{unlike, false}, []any{gone, known}, "nobody knows which")
	for _, panels := range [][]LoosePanel{alike, unlike} {
		gone, known = SewnOrLost(panels, 3)
		require.Equal(t, []any{0, true}, []any{len(gone), known}, "none of it is away")
	}
}
