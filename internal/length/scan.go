package length

import (
	"strings"
	"unicode"
)

// longest is how many characters of a length are read; nobody writes more, and
// it keeps the whole numbers of a hostile one small.
const longest = 80

// token is a word, a number or a single mark.
type token struct {
	kind rune // 'n' number, 'w' word or unit mark, otherwise the mark itself
	text string
}

// marks turns the many signs for one thing into one: typographic quotes and
// primes, dashes, slashes and spaces. Fractions come apart with a space before
// them, so that 27½ reads like 27 1/2.
var marks = strings.NewReplacer(
	"″", `"`, "”", `"`, "“", `"`, "„", `"`, "‟", `"`, "′′", `"`, "’’", `"`, "‘‘", `"`, "''", `"`, "´´", `"`,
	"′", "'", "’", "'", "‘", "'", "´", "'",
	"–", "-", "—", "-", "−", "-", "‐", "-", "‑", "-",
	"⁄", "/", "∕", "/",
	"\u00a0", " ", "\u2007", " ", "\u2008", " ", "\u2009", " ", "\u200a", " ", "\u202f", " ", "\t", " ",
	"½", " 1/2", "⅓", " 1/3", "⅔", " 2/3", "¼", " 1/4", "¾", " 3/4",
	"⅕", " 1/5", "⅖", " 2/5", "⅗", " 3/5", "⅘", " 4/5", "⅙", " 1/6", "⅚", " 5/6",
	"⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8", "⅒", " 1/10",
)

func normalise(s string) string { return strings.ToLower(marks.Replace(s)) }

// scan parts a normalised text into tokens. A character that has no place in a
// length comes back as a word, so that the message can show it.
func scan(s string) []token {
	var toks []token
	r := []rune(s)
	for i := 0; i < len(r); {
		switch c := r[i]; {
		case c == ' ':
			i++
		case digit(c) || c == '.' && i+1 < len(r) && digit(r[i+1]):
			j := i + 1
			for j < len(r) && (digit(r[j]) || (r[j] == '.' || r[j] == ',') && j+1 < len(r) && digit(r[j+1])) {
				j++
			}
			toks = append(toks, token{'n', string(r[i:j])})
			i = j
		case c == '/' || c == '-' || c == ',' || c == '&' || c == '+':
			toks = append(toks, token{c, string(c)})
			i++
		case c == '"' || c == '\'':
			toks = append(toks, token{'w', string(c)})
			i++
		case unicode.IsLetter(c):
			j := i + 1
			for j < len(r) && unicode.IsLetter(r[j]) {
				j++
			}
			toks = append(toks, token{'w', string(r[i:j])})
			if j < len(r) && r[j] == '.' {
				j++
			}
			i = j
		default:
			toks = append(toks, token{'w', string(c)})
			i++
		}
	}
	return toks
}

func digit(c rune) bool { return '0' <= c && c <= '9' }

// shorten keeps what was typed fit to be repeated in a message.
func shorten(s string) string {
	s = strings.TrimSpace(strings.ToValidUTF8(s, "?"))
	if r := []rune(s); len(r) > 40 {
		return string(r[:39]) + "…"
	}
	return s
}
