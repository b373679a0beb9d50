package paper

import (
	"bytes"
	"strings"
	"testing"

	"boltward/internal/drive"
	"boltward/internal/words"

	"github.com/stretchr/testify/require"
)

// A sheet on which a letter cannot be printed says so at its foot, inside the paper;
// the next sheet, which has all of them, does not.
func TestSheetsTellOfLettersTheyLack(t *testing.T) {
	letters := posts(words.NoLaw, 2)
	letters[0].To = "Αθηνά Παπαδοπούλου 王小明 🧵\n4 Mill Lane"
	var pdf bytes.Buffer
	require.NoError(t, Letters(&pdf, "Letters", letterRules(drive.PaperA4, drive.WordingPlain), letters, made))
	sheets := readSheets(t, pdf.Bytes())
	require.Len(t, sheets, 2)
	require.Contains(t, sheets[0].words(), "□□□ □\n4 Mill", "Greek is there, the others are boxes")
	require.Contains(t, sheets[0].words(), "Αθηνά Παπαδοπούλου")
	var told []spoken
	for _, said := range sheets[0].texts {
		if strings.Contains(said.words, "cannot be printed here: write it in by hand") {
			told = append(told, said)
		}
	}
	require.Len(t, told, 1)
	require.InDelta(t, sheets[0].height-5, told[0].y, 0.01)
	require.Greater(t, told[0].x, 10.0)
	require.NotContains(t, sheets[1].words(), "cannot be printed")
}

// Shapes of letters as charts of the Unicode Standard name them (Arabic Presentation
// Forms-A and -B): isolated, final, initial, medial.
func TestArabicLettersJoin(t *testing.T) {
	for typed, want := range map[string]string{
		"بيت":      "\uFE91\uFEF4\uFE96",                    // beh initial, yeh medial, teh final
		"دار":      "\uFEA9\uFE8D\uFEAD",                    // three that join nothing after them
		"سلام":     "\uFEB3\uFEFC\uFEE1",                    // lam and alef are one
		"لا":       "\uFEFB",                                // alone too
		"مَكتب":    "\uFEE3\u064E\uFEDC\uFE98\uFE90",        // a mark parts nothing
		"هدى علي":  "\uFEEB\uFEAA\uFEEF \uFECB\uFEE0\uFEF2", // words do not join
		"پگاه":     "\uFB58\uFB95\uFE8E\uFEE9",              // Persian
		"ء":        "\uFE80",                                // joins nothing
		"Ward ب 4": "Ward \uFE8F 4",                         //
		"Łucja":    "Łucja",                                 //
		"بـت":      "\uFE91\u0640\uFE96",                    // a stroke joins both
	} {
		require.Equal(t, want, joined(typed), "joined(%s)", typed)
	}
}

// What runs to the left stands among what runs to the right as readers of it expect. The
// orders are those of the Unicode Bidirectional Algorithm, UAX 9, worked out by hand.
func TestWordsStandInReadingOrder(t *testing.T) {
	for typed, want := range map[string]string{
		"אבג":               "גבא",
		"אבג 12":            "12 גבא",
		"12 אבג":            "גבא 12",
		"אבג 4 ward":        "ward 4 גבא",
		"ward אבג 4 x":      "ward 4 גבא x",
		"Ward 4: אבג, דהו.": "Ward 4: והד ,גבא.",
		"אבג; ward; דהו":    "והד ;ward ;גבא",
		"אבג (דהו) 2.5 m":   "m 2.5 (והד) גבא",
		"Kit 107-2 (אבג)":   "Kit 107-2 (גבא)",
		"Ward 4 (3)":        "Ward 4 (3)",
	} {
		require.Equal(t, want, inReadingOrder(typed), "inReadingOrder(%s)", typed)
	}
}
