package paper

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/words"

	"github.com/stretchr/testify/require"
)

func posts(law words.Law, lots int) []Post {
	facts := words.LetterFacts{Drive: "Spring drive", Name: "Mary Ellis", On: "24 October 2026", Law: law, SignedBy: "Ada Byrne", InPlan: 12, Delivered: 4}
	for i := range lots {
		facts.Gave = append(facts.Gave, fmt.Sprintf("%d pieces of quilting cotton, blue and green, the first 2 1/2 yd long and 44 in wide", i+2))
	}
	second := facts
	second.Name, second.InPlan = "Łucja Żak", 0
	return []Post{
		{Letter: words.In("en").Letter(facts), To: "Mary Ellis\n4 Mill Lane\nOldtown 12345", Day: "26 October 2026"},
		{Letter: words.In("en").Letter(second), To: "Łucja Żak", Day: "26 October 2026"},
	}
}

func letterRules(paper, wording string) drive.LetterRules {
	d := drive.NewDrive("spring", "Spring drive", "Europe/Dublin", length.CM)
	rules := d.LetterRules()
	rules.Paper, rules.Wording, rules.Sender = paper, wording, "Spring drive\n1 Quilt Street\nOldtown"
	rules.WindowLeft, rules.WindowTop = rules.Window()
	return rules
}

func TestGoldenLetters(t *testing.T) {
	for wording, paper := range map[string]string{drive.WordingPlain: drive.PaperA4, drive.WordingUS: drive.PaperLetter, drive.WordingCanada: drive.PaperLetter, drive.WordingUK: drive.PaperA4} {
		var pdf bytes.Buffer
		require.NoError(t, Letters(&pdf, "Letters", letterRules(paper, wording), posts(words.Law(wording), 2), made))
		golden(t, "letter-"+strings.ToLower(wording), pdf.Bytes())
	}
}

// The address lies in the window, whole, and nothing else of the letter does.
func TestAddressesLieInTheWindow(t *testing.T) {
	for _, paper := range drive.LetterPapers() {
		rules := letterRules(paper, drive.WordingPlain)
		rules.WindowLeft += 10 * length.Millimetre
		var pdf bytes.Buffer
		require.NoError(t, Letters(&pdf, "Letters", rules, posts(words.NoLaw, 2), made))
		sheets := readSheets(t, pdf.Bytes())
		require.Len(t, sheets, 2, "a letter a sheet")
		w, h := rules.Size()
		require.InDelta(t, mm(w), sheets[0].width, 0.01)
		require.InDelta(t, mm(h), sheets[0].height, 0.01)
		left, top := mm(rules.WindowLeft), mm(rules.WindowTop)
		var seen []string
		for _, said := range sheets[0].texts {
			if said.y > top && said.y < top+35 && said.x < left+80 {
				require.InDelta(t, left, said.x, 0.01)
				seen = append(seen, said.words)
			}
		}
		require.Equal(t, []string{"Mary Ellis", "4 Mill Lane", "Oldtown 12345"}, seen, "on %s", paper)
	}
}

// Post comes by what is in the window: a long name or street is there whole.
func TestLongAddressesAreWhole(t *testing.T) {
	letters := posts(words.NoLaw, 2)[:1]
	letters[0].To = "The Honourable Society of Quilters and Patchworkers of Upper Oldtown\nŻółć Wąchock-Brzęczyszczykiewiczówna z Chrząszczyżewoszyc pow. Łękołody\nFourteenth floor, the annexe behind the old weaving mill on Mill Lane\nOldtown 12345"
	rules := letterRules(drive.PaperA4, drive.WordingPlain)
	var pdf bytes.Buffer
	require.NoError(t, Letters(&pdf, "Letters", rules, letters, made))
	left, top := mm(rules.WindowLeft), mm(rules.WindowTop)
	var seen []string
	for _, said := range readSheets(t, pdf.Bytes())[0].texts {
		if said.y > top && said.y <= top+35 && said.x < left+80 {
			seen = append(seen, said.words)
		}
	}
	require.Equal(t, strings.ReplaceAll(letters[0].To, "\n", " "), strings.Join(seen, " "))
}

// A gift of many lots runs over sheets and loses no line; none leaves the paper.
func TestLongLettersGoOn(t *testing.T) {
	var pdf bytes.Buffer
	require.NoError(t, Letters(&pdf, "Letters", letterRules(drive.PaperLetter, drive.WordingCanada), posts(words.Canada, 70)[:1], made))
	sheets := readSheets(t, pdf.Bytes())
	require.Greater(t, len(sheets), 1)
	var all strings.Builder
	for _, s := range sheets {
		for _, said := range s.texts {
			require.Less(t, said.y, s.height-15)
			require.Greater(t, said.x, 15.0)
		}
		all.WriteString(s.words())
	}
	for i := range 70 {
		require.Contains(t, all.String(), fmt.Sprintf("%d pieces of quilting", i+2))
	}
	require.Contains(t, all.String(), "Fair market value")
}
