package words

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func letterFacts(law Law) LetterFacts {
	return LetterFacts{
		Drive: "Spring drive", Name: "Mary Ellis", On: "24 Oct 2026", Gave: []string{"3 pieces of flannel, blue"}, Law: law, SignedBy: "Ada Byrne",
	}
}

// What each law asks of a letter, by checks of its own text; the sources stand in it.
func TestLettersAreWordedByTheLaw(t *testing.T) {
	for law, want := range map[Law]struct{ says, saysNot []string }{
		NoLaw:  {[]string{"states no value", "depends on the law where you live", "adviser"}, []string{"Gift Aid", "$250", "receipt"}},
		US:     {[]string{"No goods or services were given in return", "$250", "26 USC 170(f)(8)", "states no value", "adviser"}, []string{"Gift Aid", "CRA"}},
		Canada: {[]string{"Fair market value on the day it was given", "not by us: ____", "no receipt", "CSP-F07", "adviser"}, []string{"Gift Aid", "$250"}},
		UK:     {[]string{"Gift Aid does not apply to gifts of goods", "3.2.1", "states no value", "adviser"}, []string{"$", "CRA"}},
	} {
		text := In("en").Letter(letterFacts(law)).Text()
		for _, says := range append(want.says, "Dear Mary Ellis,", "24 Oct 2026", "- 3 pieces of flannel, blue", "Ada Byrne") {
			require.Contains(t, text, says, "%s", law)
		}
		for _, not := range want.saysNot {
			require.NotContains(t, text, not, "%s", law)
		}
		// No sum of money but the threshold the law itself names.
		money := regexp.MustCompile(`[$£€]\s*[\d.,]*\d`).FindAllString(strings.ReplaceAll(text, "$250", ""), -1)
		require.Empty(t, money, "%s states no value", law)
	}
}

func TestLettersSayWhatWasGivenInReturn(t *testing.T) {
	for _, law := range []Law{US, Canada} {
		f := letterFacts(law)
		f.InReturn, f.Registered = "a tea towel", "12-3456789"
		text := In("en").Letter(f).Text()
		require.Contains(t, text, "In return for this gift you were given: a tea towel.")
		require.Contains(t, text, "12-3456789")
		require.NotContains(t, text, "No goods or services")
	}
	us := letterFacts(US)
	us.InReturn = "a tea towel"
	require.Contains(t, In("en").Letter(us).Text(), "estimated in good faith: ____", "their value is for a person to write")
}

func TestEveryLetterInEveryLanguage(t *testing.T) {
	for _, l := range Languages() {
		for _, law := range []Law{NoLaw, US, Canada, UK} {
			f := letterFacts(law)
			f.InPlan, f.Delivered, f.SignedBy = 1, 1, ""
			letter := l.Letter(f)
			require.Equal(t, l.Tag, letter.Lang)
			require.NotEmpty(t, letter.Subject)
			require.NotEmpty(t, letter.Law)
			require.Equal(t, "Spring drive", letter.SignedBy, "somebody signs")
			require.Contains(t, letter.After[0], "1 of them, and 1 has been delivered")
			require.NotContains(t, letter.Text(), "%!")
		}
	}
}
