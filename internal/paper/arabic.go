package paper

import "strings"

// Arabic letters take their shape from their neighbours. Unicode has each shape as a
// character of its own (Arabic Presentation Forms, in the order isolated, final, initial,
// medial), and the typeface has those; a PDF joins nothing by itself.

// arabicForms gives the first of a letter's shapes and how many it has: four, or two where
// it never joins what comes after it.
var arabicForms = func() map[rune]arabicForm {
	forms := map[rune]arabicForm{
		'\u067E': {'\uFB56', 4}, '\u0686': {'\uFB7A', 4}, '\u0698': {'\uFB8A', 2},
		'\u06A9': {'\uFB8E', 4}, '\u06AF': {'\uFB92', 4}, '\u06CC': {'\uFBFC', 4},
		tatweel: {tatweel, 4},
	}
	// From hamza to yeh the shapes follow each other.
	at := '\uFE80'
	letter := '\u0621'
	for _, n := range []rune{1, 2, 2, 2, 2, 4, 2, 4, 2, 4, 4, 4, 4, 4, 2, 2, 2, 2, 4, 4, 4, 4, 4, 4, 4, 4} {
		forms[letter] = arabicForm{at, n}
		letter, at = letter+1, at+n
	}
	letter = '\u0641'
	for _, n := range []rune{4, 4, 4, 4, 4, 4, 4, 2, 2, 4} {
		forms[letter] = arabicForm{at, n}
		letter, at = letter+1, at+n
	}
	return forms
}()

type arabicForm struct{ first, shapes rune }

const (
	tatweel = '\u0640' // a stroke that only joins
	lam     = '\u0644'
)

// lamAlef gives the one shape that lam and an alef after it have together, isolated.
var lamAlef = map[rune]rune{'\u0622': '\uFEF5', '\u0623': '\uFEF7', '\u0625': '\uFEF9', '\u0627': '\uFEFB'}

// joined gives words with their Arabic letters in the shapes they have beside each other,
// in the order they were typed.
func joined(words string) string {
	letters := []rune(words)
	var b strings.Builder
	before := false // the letter before joins this one
	for i := 0; i < len(letters); i++ {
		r := letters[i]
		form, is := arabicForms[r]
		switch {
		case isHaraka(r):
			b.WriteRune(r)
			continue
		case !is:
			b.WriteRune(r)
			before = false
			continue
		}
		if r == lam && i+1 < len(letters) && lamAlef[letters[i+1]] != 0 {
			b.WriteRune(lamAlef[letters[i+1]] + one(before))
			before = false
			i++
			continue
		}
		after := form.shapes == 4 && joinsBack(letters[i+1:])
		shape := one(before && form.shapes > 1) + 2*one(after)
		if r == tatweel {
			shape = 0
		}
		b.WriteRune(form.first + shape)
		before = form.shapes == 4
	}
	return b.String()
}

func one(so bool) rune {
	if so {
		return 1
	}
	return 0
}

// joinsBack says whether the next letter takes the hand of the one before it.
func joinsBack(next []rune) bool {
	for _, r := range next {
		if !isHaraka(r) {
			return arabicForms[r].shapes > 1
		}
	}
	return false
}

// isHaraka tells marks above and below letters, which part nothing.
func isHaraka(r rune) bool { return r >= 0x064B && r <= 0x065F || r == 0x0670 }
