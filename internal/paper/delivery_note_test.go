package paper

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/papertest"

	"github.com/stretchr/testify/require"
)

// aNote is a delivery of so many boxes, each with two sizes in three themes.
func aNote(boxes int) drive.DeliveryNote {
	n := drive.DeliveryNote{
		Number: 12, SentOn: &made, CarriedBy: "Tobias Wrenfield", Note: "Ring at the side door.",
		Recipient: drive.Recipient{Name: "Larkspur children's ward", Contact: "Play team desk", Rules: []string{"washed without fragrance", "bagged singly"}},
		Overrides: []drive.NoteOverride{{Rule: "bagged singly", Reason: "bags ran out, in pairs", Box: 2}},
	}
	for b := range boxes {
		for _, r := range []drive.NoteRow{{Size: "standard", Theme: "space", N: 3}, {Size: "standard", Theme: "farm, trains", N: 2}, {Size: "travel", N: 1}} {
			r.Box, r.PackedBy, r.CheckedBy = int64(b+1), "SP", "EN"
			n.Rows = append(n.Rows, r)
		}
	}
	return n
}

const ownPage = "https://drive.example.org/r/pg9gjptf98h5uthk.fmtugsamyedjerw67er2gg7ipa"

func TestGoldenDeliveryNote(t *testing.T) {
	for name, s := range map[string]Sheet{"a4": A4, "letter": Letter} {
		var pdf bytes.Buffer
		require.NoError(t, DeliveryNote(&pdf, spring(), "https://drive.example.org", ownPage, s, aNote(2), made))
		golden(t, "delivery-note-"+name, pdf.Bytes())
		words := readSheets(t, pdf.Bytes())[0].words()
		for _, says := range []string{"Delivery note 12", "12 pillowcases in 2 boxes", "By size: 10 standard; 2 travel", "By theme: 6 space; 4 farm, trains; 2 other", "– washed without fragrance", "Box 2, bagged singly: bags ran out, in pairs", "Signature", "Date"} {
			require.Contains(t, words, says)
		}
		require.NotContains(t, words, "– bagged singly\n", "a rule that was not kept is not told as kept")
	}
}

// A long delivery goes on over sheets: no box is lost, nothing leaves the paper, and there is
// room to sign on the last.
func TestLongDeliveryNotesGoOn(t *testing.T) {
	var pdf bytes.Buffer
	require.NoError(t, DeliveryNote(&pdf, spring(), "https://drive.example.org", "", Letter, aNote(40), made))
	sheets := readSheets(t, pdf.Bytes())
	require.Greater(t, len(sheets), 2)
	var all strings.Builder
	for _, s := range sheets {
		for _, said := range s.texts {
			require.True(t, said.x > 5 && said.x < s.width-5 && said.y > 5 && said.y < s.height-5, "%q is off the sheet", said.words)
		}
		all.WriteString("\n" + s.words())
	}
	for b := range 40 {
		require.Contains(t, all.String(), fmt.Sprintf("\n%d\n", b+1))
	}
	require.Contains(t, all.String(), "240 pillowcases in 40 boxes")
	require.Contains(t, sheets[len(sheets)-1].words(), "Signature")
}

// Both codes are read as a printer prints them.
func TestCodesOfADeliveryNoteAreRead(t *testing.T) {
	papertest.Needs(t, "zbarimg")
	var pdf bytes.Buffer
	require.NoError(t, DeliveryNote(&pdf, spring(), "https://drive.example.org", ownPage, A4, aNote(1), made))
	side, edge := length.Length(noteSquare*float64(length.Millimetre)), length.Length(sheetEdge*float64(length.Millimetre))
	right := A4.Width - edge - side
	require.Equal(t, Address("https://drive.example.org", spring().ID, drive.CodeDelivery, "12"), readCode(t, pdf.Bytes(), right, edge, side, side))
	require.Equal(t, ownPage, readCode(t, pdf.Bytes(), right-side-5*length.Millimetre, edge, side, side))
}

// Where nothing is known of any theme, none is other than another.
func TestNoteWithoutThemesSaysNone(t *testing.T) {
	n := aNote(1)
	for i := range n.Rows {
		n.Rows[i].Theme = ""
	}
	var pdf bytes.Buffer
	require.NoError(t, DeliveryNote(&pdf, spring(), "https://drive.example.org", "", A4, n, made))
	words := readSheets(t, pdf.Bytes())[0].words()
	require.NotContains(t, words, "other")
	require.Contains(t, words, "–")
}
