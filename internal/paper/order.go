package paper

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/bidi"
)

// inReadingOrder gives words as they stand on the line from left to right, without
// marks that are not seen.
func inReadingOrder(words string) string {
	words = strings.Map(func(r rune) rune {
		switch {
		case r < ' ' || r == 0x7F:
			return ' '
		case r >= 0x200B && r <= 0x200F, r >= 0x202A && r <= 0x202E, r >= 0x2060 && r <= 0x2069, r == 0xFEFF, r == 0xFE0F:
			return -1
		}
		return r
	}, words)
	if !strings.ContainsFunc(words, func(r rune) bool { return r >= 0x0590 && r <= 0x08FF || r >= 0xFB1D && r <= 0xFEFC }) {
		return words
	}
	letters := []rune(joined(words))
	return string(turned(letters, levels(letters)))
}

// Kinds of letters, as far as the order on a line goes.
const (
	leftward = iota + 1 // Hebrew, Arabic
	rightward
	number
	neutral
)

// levels gives how deep each letter lies in stretches that run against the line: even ones
// run to the right, odd ones to the left. This is the Unicode Bidirectional Algorithm
// (UAX 9, rules P2, W1 to W7, N1, N2 and I1, I2) without marks that embed, which are left
// out before, and without pairs of brackets.
func levels(letters []rune) []int {
	kinds, base := kindsOf(letters)
	levels := make([]int, len(letters))
	for i := range kinds {
		switch {
		case kinds[i] == leftward:
			levels[i] = 1
		case kinds[i] == number:
			levels[i] = 2
		case kinds[i] == rightward:
			levels[i] = 2 * base
		}
	}
	for i := 0; i < len(kinds); i++ {
		if kinds[i] != neutral {
			continue
		}
		end := i
		for end < len(kinds) && kinds[end] == neutral {
			end++
		}
		level := base
		if before, after := side(kinds, i-1, base), side(kinds, end, base); before == after {
			level = map[int]int{leftward: 1, rightward: 2 * base}[before]
		}
		for ; i < end; i++ {
			levels[i] = level
		}
		i--
	}
	return levels
}

// kindsOf tells the letters apart, and gives 1 where the line runs to the left: its first
// letter says. Numbers after a letter that runs to the right go with it.
func kindsOf(letters []rune) (kinds []int, base int) {
	kinds = make([]int, len(letters))
	first, last := 0, 0
	for i, r := range letters {
		p, _ := bidi.LookupRune(r)
		switch class := p.Class(); {
		case class == bidi.R || class == bidi.AL:
			kinds[i] = leftward
		case class == bidi.L:
			kinds[i] = rightward
		case class == bidi.EN || class == bidi.AN:
			kinds[i] = number
		case class == bidi.NSM && i > 0:
			kinds[i] = kinds[i-1]
		default:
			kinds[i] = neutral
		}
		if first == 0 && (kinds[i] == leftward || kinds[i] == rightward) {
			first = kinds[i]
		}
	}
	if first == leftward {
		base, last = 1, leftward
	} else {
		last = rightward
	}
	for i, kind := range kinds {
		switch {
		case kind == leftward || kind == rightward:
			last = kind
		case kind == number && last == rightward:
			kinds[i] = rightward
		case kind == neutral && i > 0 && i+1 < len(letters) && strings.ContainsRune(".,:/-+", letters[i]) && unicode.IsDigit(letters[i-1]) && unicode.IsDigit(letters[i+1]):
			kinds[i] = kinds[i-1] // 2.5 and 12/4 are one number
		}
	}
	return kinds, base
}

// side is which way letters beside a neutral stretch run; numbers count as those they
// stand among, and beyond the line is the line itself.
func side(kinds []int, i, base int) int {
	switch {
	case i < 0 || i >= len(kinds):
		return []int{rightward, leftward}[base]
	case kinds[i] == number:
		return leftward
	}
	return kinds[i]
}

// turned turns stretches round, the deepest first (UAX 9, rules L2 and L4).
func turned(letters []rune, levels []int) []rune {
	out := append([]rune(nil), letters...)
	for i, level := range levels {
		if mirror, is := mirrored[out[i]]; is && level%2 == 1 {
			out[i] = mirror
		}
	}
	at := append([]int(nil), levels...)
	for deep := 2; deep > 0; deep-- {
		for i := 0; i < len(out); i++ {
			end := i
			for end < len(out) && at[end] >= deep {
				end++
			}
			for l, r := i, end-1; l < r; l, r = l+1, r-1 {
				out[l], out[r], at[l], at[r] = out[r], out[l], at[r], at[l]
			}
			i = max(i, end-1)
		}
	}
	return out
}

var mirrored = map[rune]rune{'(': ')', ')': '(', '[': ']', ']': '[', '{': '}', '}': '{', '<': '>', '>': '<', '«': '»', '»': '«', '‹': '›', '›': '‹'}
