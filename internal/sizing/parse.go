package sizing

import (
	"fmt"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/length"
)

// The readers below take the short forms that people type for a spec's parts: in
// one box of a form, or after a flag. def is the unit of bare numbers; where one
// number of a form has a unit, the bare ones beside it take that. Sizes that will be
// cut are rounded up. They refuse with one *apperr.Error under the name given.

// ParseSeam reads plain:1/2in or french:1/4in+1/4in.
func ParseSeam(name, s string, def length.Unit) (Seam, error) {
	kind, rest, ok := strings.Cut(s, ":")
	kind = strings.ToLower(strings.TrimSpace(kind))
	if !ok || kind != string(Plain) && kind != string(French) {
		return Seam{}, apperr.Invalid(name, "%q is not a seam: write plain:1/2in or french:1/4in+1/4in.", short(s))
	}
	parts := strings.Split(rest, "+")
	if kind == string(Plain) {
		if len(parts) != 1 {
			return Seam{}, apperr.Invalid(name, "A plain seam has one width: write plain:1/2in.")
		}
		l, err := length.Parse(rest, def, length.Up)
		if err != nil {
			return Seam{}, apperr.Invalid(name, "The plain seam: %v", err)
		}
		return Seam{Kind: Plain, First: l}, nil
	}
	if len(parts) != 2 {
		return Seam{}, apperr.Invalid(name, "A French seam has a first and a second width: write french:1/4in+1/4in.")
	}
	first, second, err := pair(name, parts, def, "first French seam", "second French seam")
	return Seam{Kind: French, First: first, Second: second}, err
}

// ParseHem reads 1in+1/4in, depth and turn-under, or a depth alone.
func ParseHem(name, s string, def length.Unit) (Hem, error) {
	parts := strings.Split(s, "+")
	switch len(parts) {
	case 1:
		l, err := length.Parse(s, def, length.Up)
		if err != nil {
			return Hem{}, apperr.Invalid(name, "The hem's depth: %v", err)
		}
		return Hem{Depth: l}, nil
	case 2:
		depth, turn, err := pair(name, parts, def, "hem's depth", "hem's turn-under")
		return Hem{Depth: depth, Turn: turn}, err
	}
	return Hem{}, apperr.Invalid(name, "A hem has a depth and a turn-under: write 1in+1/4in.")
}

// pair reads two lengths that share a unit where only one has it.
func pair(name string, parts []string, def length.Unit, firstIs, secondIs string) (first, second length.Length, err error) {
	// Neither is read with a default at first, to see which has a unit of its own.
	_, u, errFirst := length.ParseWritten(parts[0], "", length.Up)
	if errFirst != nil {
		if _, u, err = length.ParseWritten(parts[1], "", length.Up); err != nil {
			u = def
		}
	}
	if first, err = length.Parse(parts[0], u, length.Up); err != nil {
		return 0, 0, apperr.Invalid(name, "The %s: %v", firstIs, err)
	}
	if second, err = length.Parse(parts[1], u, length.Up); err != nil {
		return 0, 0, apperr.Invalid(name, "The %s: %v", secondIs, err)
	}
	return first, second, nil
}

// ParsePillow reads 20x26in, or the name of a usual pillow.
func ParsePillow(name, s string, def length.Unit) (Rect, error) {
	if p, ok := PillowNamed(s); ok {
		return p.Size, nil
	}
	w, l, err := length.ParseRect(s, def, length.Up)
	if err == nil {
		return Rect{w, l}, nil
	}
	if strings.ContainsAny(s, "0123456789") {
		return Rect{}, apperr.Invalid(name, "%v", err)
	}
	var names []string
	for _, p := range Pillows() {
		names = append(names, p.Name)
	}
	return Rect{}, apperr.Invalid(name, "%q is no pillow known here: write its size like 20x26in, or one of %s.", short(s), strings.Join(names, ", "))
}

// longestList bounds what is read as a list of cuts.
const longestList = 1000

// ParseCuts reads body=42x27in,cuff=42x9in, each around × along, and gives the unit
// that was written first. Parts end at a comma or semicolon before the next role, so
// decimal commas stay in their numbers.
func ParseCuts(name, s string, def length.Unit) ([]Cut, length.Unit, error) {
	if len(s) > longestList {
		return nil, "", apperr.Invalid(name, "That is too long for a list of cuts: write it like body=42x27in,cuff=42x9in.")
	}
	var cuts []Cut
	var unit length.Unit
	for _, item := range splitRoles(s) {
		role, size, ok := strings.Cut(item, "=")
		role = strings.ToLower(strings.TrimSpace(role))
		if !ok || role == "" {
			return nil, "", apperr.Invalid(name, "%q is not a cut: write it like body=42x27in,cuff=42x9in.", short(item))
		}
		around, along, u, err := length.ParseRectWritten(size, def, length.Up)
		if err != nil {
			return nil, "", apperr.Invalid(name, "The %s: %v", short(role), err)
		}
		if unit == "" {
			unit = u
		}
		cuts = append(cuts, Cut{Role: role, Around: around, Along: along})
	}
	return cuts, unit, nil
}

// splitRoles parts a list at the commas and semicolons that a word and = follow.
func splitRoles(s string) []string {
	var items []string
	start := 0
	for i, c := range s {
		if c != ',' && c != ';' {
			continue
		}
		before, _, ok := strings.Cut(s[i+1:], "=")
		word := strings.TrimSpace(before)
		if c == ';' || ok && word != "" && !strings.ContainsAny(word, ",;0123456789") {
			items = append(items, s[start:i])
			start = i + 1
		}
	}
	return append(items, s[start:])
}

// ParseShrink reads 5,3 or 5%,3%: percent along the cloth and across it; one number
// alone is both. Decimals take a full stop. Step is the usual one for u.
func ParseShrink(name, s string, u length.Unit) (Shrink, error) {
	parts := strings.Split(s, ",")
	if len(parts) > 2 {
		return Shrink{}, apperr.Invalid(name, "Give percent along and across, like 5,3; decimals with a full stop.")
	}
	along, err := parsePercent(parts[0])
	if err != nil {
		return Shrink{}, apperr.Invalid(name, "Along the cloth: %v.", err)
	}
	across := along
	if len(parts) == 2 {
		if across, err = parsePercent(parts[1]); err != nil {
			return Shrink{}, apperr.Invalid(name, "Across the cloth: %v.", err)
		}
	}
	out := Shrink{Along: along, Across: across, Step: DefaultStep(u)}
	if out.none() {
		return Shrink{}, nil
	}
	if why := out.fault(); why != "" {
		return Shrink{}, apperr.Invalid(name, "%s", why)
	}
	return out, nil
}

// parsePercent reads 5, 2.5 or 2.75 %, to a hundredth.
func parsePercent(s string) (Percent, error) {
	text := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(s), "%"))
	bad := fmt.Errorf("%q is not a share: write 5 for cloth that becomes 5 %% shorter, or 2.5", short(s))
	whole, frac, point := strings.Cut(text, ".")
	if whole == "" || len(whole) > 6 || point && frac == "" || len(frac) > 2 {
		return 0, bad
	}
	var p Percent
	for _, c := range whole + (frac + "00")[:2] {
		if c < '0' || c > '9' {
			return 0, bad
		}
		p = p*10 + Percent(c-'0')
	}
	return p, nil
}

// short keeps what was typed fit to be repeated in a message.
func short(s string) string {
	s = strings.TrimSpace(strings.ToValidUTF8(s, "?"))
	if r := []rune(s); len(r) > 40 {
		return string(r[:39]) + "…"
	}
	return s
}
