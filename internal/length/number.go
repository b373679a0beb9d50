package length

import (
	"fmt"
	"math/big"
	"strings"
)

// decimal reads a number with its decimal point or comma and its thousands.
func decimal(s string) (*big.Rat, error) {
	dots, commas := strings.Count(s, "."), strings.Count(s, ",")
	point := "."
	switch {
	case dots == 0 && commas == 0:
		point = ""
	case dots > 0 && commas > 0:
		// Whichever comes last is the decimal sign, as in 1,200.5 and 1.200,5.
		if strings.LastIndexByte(s, ',') > strings.LastIndexByte(s, '.') {
			point = ","
		}
	case dots > 1 || commas > 1:
		point = ""
	case commas == 1:
		whole, rest, _ := strings.Cut(s, ",")
		if len(rest) == 3 && len(whole) <= 3 && whole != "" && whole[0] != '0' {
			return nil, fmt.Errorf("%s can mean %s or %s; write it without the comma, or with a full stop", s, whole+rest, whole+"."+rest)
		}
		point = ","
	}
	whole, frac := s, ""
	if point != "" {
		i := strings.LastIndex(s, point)
		whole, frac = s[:i], s[i+1:]
	}
	whole, ok := joinThousands(whole)
	v, ok2 := new(big.Rat).SetString("0" + whole + "." + frac + "0")
	if !ok || !ok2 {
		return nil, fmt.Errorf("%s is not a number; write it like 1200 or 2.5", s)
	}
	return v, nil
}

// joinThousands takes 1,200,000 or 1.200.000 and gives 1200000; it refuses
// groups that are not of three digits and signs that are mixed.
func joinThousands(s string) (string, bool) {
	hasDot, hasComma := strings.Contains(s, "."), strings.Contains(s, ",")
	if hasDot && hasComma {
		return "", false
	}
	groups := strings.FieldsFunc(s, func(c rune) bool { return c == '.' || c == ',' })
	if len(groups) <= 1 {
		return s, !hasDot && !hasComma
	}
	for i, g := range groups {
		if i == 0 && len(g) > 3 || i > 0 && len(g) != 3 {
			return "", false
		}
	}
	return strings.Join(groups, ""), true
}

// wholeNumber reads digits alone.
func wholeNumber(s string) (*big.Rat, bool) {
	if s == "" || strings.ContainsAny(s, ".,") {
		return nil, false
	}
	return new(big.Rat).SetString(s)
}
