package paper

import (
	"bytes"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestGoldenSignOut(t *testing.T) {
	var kits []SignOutKit
	for i := range 16 {
		kits = append(kits, SignOutKit{Number: fmt.Sprint(100 + i), What: "4 pillowcases, Standard", For: "Alder Ward, on the third floor behind the lifts"})
	}
	kits[3].Number = "1234-12"
	for name, s := range map[string]Sheet{"a4": A4, "letter": Letter} {
		var pdf bytes.Buffer
		require.NoError(t, SignOut(&pdf, spring(), s, kits, 12, made))
		sheets := readSheets(t, pdf.Bytes())
		require.Equal(t, 2, len(sheets))
		for _, sheet := range sheets {
			for _, said := range sheet.texts {
				require.True(t, said.x > 5 && said.x < mm(s.Height)-5 && said.y > 5 && said.y < mm(s.Width)-5, "%q is off the sheet", said.words)
			}
		}
		golden(t, "sign-out-"+name, pdf.Bytes())
	}
}
