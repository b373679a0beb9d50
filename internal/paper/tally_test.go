package paper

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/papertest"
)

func TestTallySheets(t *testing.T) {
	for name, s := range map[string]Sheet{"A4": A4, "Letter": Letter} {
		var b bytes.Buffer
		require.NoError(t, Tally(&b, spring(), s, 2, made))
		sheets := readSheets(t, b.Bytes())
		require.Len(t, sheets, 2, name)
		require.InDelta(t, mm(s.Height), sheets[0].width, 0.1, "it lies on its side")
		require.Contains(t, sheets[0].words(), "Spring drive: fabric that came in")
		require.Contains(t, sheets[0].words(), "Length (yd)")
		require.Contains(t, sheets[1].words(), "\n30\n", "rows are numbered on")
		golden(t, "tally-"+strings.ToLower(name), b.Bytes())
		for _, sheet := range sheets {
			for _, said := range sheet.texts {
				require.True(t, said.x >= 5 && said.x < sheet.width-5 && said.y > 5 && said.y < sheet.height-5, "%s: %q at %.0f, %.0f", name, said.words, said.x, said.y)
			}
		}
		var again bytes.Buffer
		require.NoError(t, Tally(&again, spring(), s, 2, made))
		require.Equal(t, b.Bytes(), again.Bytes(), "the same contents give the same bytes")
	}
}

// Read back by zbar as they are printed.
func TestTagsAreScanned(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, Tags(&b, spring(), "https://drive.example.org", A4, 96, 10, made))
	sheets := readSheets(t, b.Bytes())
	require.Len(t, sheets, 2)
	golden(t, "tags", b.Bytes())
	require.Contains(t, sheets[0].words(), "96\n")
	require.Contains(t, sheets[1].words(), "105\n")
	for _, said := range sheets[0].texts {
		if said.words == "96" {
			require.Greater(t, said.points, 60.0, "to be read across a table")
		}
	}
	papertest.Needs(t, "zbarimg")
	var want []string
	for n := int64(96); n < 104; n++ {
		want = append(want, TagAddress("https://drive.example.org/", "spring", n))
	}
	require.ElementsMatch(t, want, strings.Fields(readCode(t, b.Bytes(), 0, 0, A4.Width, A4.Height)))
}

// Letter is shorter than A4: digits of three and four figures end above the white round the code
// there too.
func TestTagsOnEachPaperAreScanned(t *testing.T) {
	papertest.Needs(t, "zbarimg")
	for name, s := range map[string]Sheet{"A4": A4, "Letter": Letter} {
		for _, first := range []int64{1, 688, 995} {
			var b bytes.Buffer
			require.NoError(t, Tags(&b, spring(), "https://drive.example.org", s, first, 8, made))
			var want []string
			for n := first; n < first+8; n++ {
				want = append(want, TagAddress("https://drive.example.org/", "spring", n))
			}
			require.ElementsMatch(t, want, strings.Fields(readCode(t, b.Bytes(), 0, 0, s.Width, s.Height)), "%s from %d", name, first)
		}
	}
}

// Sheets of a drive with a long name say what they are all the same: of the lists of a cutting
// day only the headings of columns told which was which.
func TestSheetsSayWhatTheyAre(t *testing.T) {
	d := spring()
	d.Name = strings.Repeat("Upper and Lower Marshfold ", 4) + "pillowcase drive"
	sheets := []drive.CutSheet{laidOut()}
	for what, draw := range map[string]func(*bytes.Buffer, Sheet) error{
		"fabric that came in":             func(b *bytes.Buffer, s Sheet) error { return Tally(b, d, s, 1, made) },
		"kits taken":                      func(b *bytes.Buffer, s Sheet) error { return SignOut(b, d, s, nil, 1, made) },
		"fabric to pull from the shelves": func(b *bytes.Buffer, s Sheet) error { return PullList(b, d, s, sheets, made) },
		"bundles by kit":                  func(b *bytes.Buffer, s Sheet) error { return SortByKit(b, d, s, sheets, made) },
	} {
		for _, s := range []Sheet{A4, Letter} {
			var b bytes.Buffer
			require.NoError(t, draw(&b, s))
			words := readSheets(t, b.Bytes())[0].words()
			require.Contains(t, words, "…: "+what)
			require.Contains(t, words, "Upper and Lower Marsh")
		}
	}
}
