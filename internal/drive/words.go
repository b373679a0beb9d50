package drive

import (
	"slices"
	"strings"
	"unicode"
)

// Words reads a list that a person wrote with commas, semicolons, slashes, plus, "and" or new lines between
// its members, on a page or in a spreadsheet: themes and colours. Each is lower case with single
// spaces; what is empty or said twice is dropped, the order stays.
func Words(text string) []string {
	var list []string
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(",;/+&\n\r", r) }) {
		words := strings.Fields(part)
		for i := range words {
			if strings.EqualFold(words[i], "and") {
				words[i] = ";"
			}
		}
		list = append(list, strings.Split(strings.Join(words, " "), ";")...)
	}
	return TidyWords(list)
}

// TidyWords is Words for a list that stands already. It is never nil.
func TidyWords(list []string) []string {
	tidy := make([]string, 0, len(list))
	for _, word := range list {
		word = strings.ToLower(strings.Join(strings.Fields(word), " "))
		if word != "" && !slices.Contains(tidy, word) {
			tidy = append(tidy, word)
		}
	}
	return tidy
}

// TidySentences is TidyWords for what people say in their own words, such as the
// rules of a ward: capitals stay, since 60 °C is not 60 °c.
func TidySentences(list []string) []string {
	tidy := make([]string, 0, len(list))
	for _, sentence := range list {
		sentence = strings.Join(strings.Fields(sentence), " ")
		same := func(said string) bool { return strings.EqualFold(said, sentence) }
		if sentence != "" && !slices.ContainsFunc(tidy, same) {
			tidy = append(tidy, sentence)
		}
	}
	return tidy
}

// Unseen says whether nobody sees a rune and no keyboard makes it: control characters, and the
// marks that come along with what is copied from a message or a web page, of which some turn the
// writing of a whole page. What joins letters or keeps them apart stays: some scripts need it.
func Unseen(r rune) bool {
	switch {
	case r == '\n' || r == '\r' || r == '\t':
		return false
	case r == '\u00ad', r == '\u200b', r == '\u200e', r == '\u200f', r >= '\u202a' && r <= '\u202e', r >= '\u2060' && r <= '\u2069', r == '\ufeff':
		return true
	}
	return unicode.IsControl(r)
}

// WithoutUnseen gives a text without what nobody sees of it.
func WithoutUnseen(s string) string {
	return strings.Map(func(r rune) rune {
		if Unseen(r) {
			return -1
		}
		return r
	}, s)
}

// TidyName gives a name without stray spaces or anything unseen, and with the straight apostrophe: phones type the
// curly one by themselves, spreadsheets and keyboards do not, and whoever is known by name must
// not be two for that.
func TidyName(name string) string {
	return strings.ReplaceAll(strings.Join(strings.Fields(WithoutUnseen(name)), " "), "’", "'")
}

// KeptName gives the name that stands where the typed one differs by its apostrophes alone. Where both once came
// in, two are called alike, and neither has to be renamed for whatever else is changed about them.
func KeptName(stands, typed string) string {
	if strings.ReplaceAll(stands, "’", "'") == typed {
		return stands
	}
	return typed
}
