package drive

import (
	"cmp"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// NamesLike gives the names that may be meant by what is typed, the likeliest
// first and at most this many: those that begin so, those with a word that begins
// so, those that hold it, and those that differ by a slip of a letter or two.
// Capitals and accents do not count. Nothing typed is like nothing.
func NamesLike(names []string, typed string, most int) []string {
	typed = plainName(typed)
	if typed == "" {
		return nil
	}
	type found struct {
		name string
		rank int
	}
	var list []found
	for _, name := range names {
		if rank, ok := likeness(plainName(name), typed); ok {
			list = append(list, found{name, rank})
		}
	}
	slices.SortStableFunc(list, func(a, b found) int {
		return cmp.Or(cmp.Compare(a.rank, b.rank), cmp.Compare(plainName(a.name), plainName(b.name)))
	})
	var out []string
	for _, f := range list[:min(most, len(list))] {
		out = append(out, f.name)
	}
	return out
}

// SameName says whether two names are one as a list of names sees it.
func SameName(a, b string) bool {
	return strings.EqualFold(TidyName(a), TidyName(b))
}

// likeness ranks a plain name against what is typed; 0 is the same.
func likeness(name, typed string) (int, bool) {
	slips := 1
	if len(typed) > 6 {
		slips = 2
	}
	switch {
	case name == typed:
		return 0, true
	case strings.HasPrefix(name, typed):
		return 1, true
	case strings.Contains(name, " "+typed):
		return 2, true
	case len(typed) > 2 && strings.Contains(name, typed):
		return 3, true
	case len(typed) > 3 && slipsBetween(name, typed, slips) <= slips:
		return 4, true
	}
	return 0, false
}

// plainName is a name in small letters without accents and with single spaces.
func plainName(name string) string {
	var b strings.Builder
	for _, r := range norm.NFD.String(strings.ToLower(name)) {
		switch {
		case unicode.Is(unicode.Mn, r):
		case unicode.IsLetter(r), unicode.IsDigit(r):
			b.WriteRune(r)
		default:
			b.WriteRune(' ')
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// slipsBetween counts the letters to put in, take out, change or swap with the
// next to make b of a, as Damerau and Levenshtein count without overlaps; it stops
// counting above most.
func slipsBetween(a, b string, most int) int {
	x, y := []rune(a), []rune(b)
	if d := len(x) - len(y); d > most || -d > most {
		return most + 1
	}
	before, last, now := make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(x); i++ {
		now[0] = i
		least := i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			now[j] = min(last[j]+1, now[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				now[j] = min(now[j], before[j-2]+1)
			}
			least = min(least, now[j])
		}
		if least > most {
			return most + 1
		}
		before, last, now = last, now, before
	}
	return last[len(y)]
}
