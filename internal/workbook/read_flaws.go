package workbook

import (
	"fmt"
	"regexp"
	"strings"

	"boltward/internal/length"
	"boltward/internal/sizing"
)

// A length inside a sentence, after quotes and fractions were made plain, and two
// of them as people say where a flaw is.
const lengthPattern = `\d[\d ./]*(?:-\d+/\d+)?(?:,\d+)?\s*(?:"|'|inches|inch|in|yards|yard|yds|yd|metres|meters|metre|meter|cm|mm|ft|feet|m)?(?: \d[\d /]*\s*(?:"|inches|inch|in))?`

// What a flaw is read by; compiled once and never changed.
var (
	flawPattern  = regexp.MustCompile(`^(\D*?)\s*(` + lengthPattern + `)\s*(?:to|until|till|and|-)\s*(` + lengthPattern + `)(.*)$`)
	reachPattern = regexp.MustCompile(`(?:(` + lengthPattern + `)\s*(?:to|until|till|and|-)\s*)?(` + lengthPattern + `)`)
)

// ParseFlaws reads where flaws are, as people note them: stain across at 30 to 33
// in; hole from 1 yd to 1 yd 3 in, 4 in in from the edge; fold from 0 to 3 yd, 20
// to 22 in from the edge. Flaws are parted by a
// semicolon or a new line. Lengths run from the end that was measured first; a
// bare number is in u. A flaw whose reach is not said goes all the way across;
// notes say where that was taken for granted. Errors are sentences for people.
func ParseFlaws(text string, u length.Unit) (flaws []sizing.Flaw, notes []string, err error) {
	for _, part := range strings.FieldsFunc(text, func(c rune) bool { return c == ';' || c == '\n' || c == '\r' }) {
		part = plainFlaw(part)
		switch part {
		case "", "no", "none", "n", "-", "0":
			continue
		}
		f, note, err := parseFlaw(part, u)
		if err != nil {
			return nil, nil, err
		}
		flaws = append(flaws, f)
		if note != "" {
			notes = append(notes, note)
		}
	}
	return flaws, notes, nil
}

// FlawLike shows how a flaw is written, in the unit that people measure in.
func FlawLike(unit length.Unit) string {
	if unit.Metric() {
		return "75 to 83 cm across"
	}
	return "30 to 33 in across"
}

func plainFlaw(s string) string {
	s = strings.NewReplacer("″", `"`, "”", `"`, "“", `"`, "''", `"`, "′", "'", "’", "'", "–", " - ", "—", " - ", "\u00a0", " ",
		"½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8", "⅓", " 1/3", "⅔", " 2/3").Replace(s)
	return strings.Join(strings.Fields(strings.ToLower(s)), " ")
}

func parseFlaw(text string, u length.Unit) (sizing.Flaw, string, error) {
	found := flawPattern.FindStringSubmatch(text)
	if found == nil {
		return sizing.Flaw{}, "", fmt.Errorf("%q does not say from where to where along the length; write it like %s", short(text, 60), FlawLike(u))
	}
	from, to := strings.TrimSpace(found[2]), strings.TrimSpace(found[3])
	end, unit, err := length.ParseWritten(to, u, length.Up)
	if err != nil {
		return sizing.Flaw{}, "", fmt.Errorf("where the flaw ends: %w", err)
	}
	// 30 to 33 in: the unit stands once and counts for both.
	begin, err := length.Parse(from, unit, length.Down)
	if err != nil {
		return sizing.Flaw{}, "", fmt.Errorf("where the flaw begins: %w", err)
	}
	if begin >= end {
		return sizing.Flaw{}, "", fmt.Errorf("%q runs from a greater to a lesser length; turn the two round", short(text, 60))
	}
	f := sizing.Flaw{From: begin, To: end}
	rest := found[1] + " " + found[4]
	if !strings.Contains(rest, "edge") && !strings.Contains(rest, "selvedge") && !strings.Contains(rest, "selvage") {
		return f, "", nil
	}
	reach := reachPattern.FindStringSubmatch(found[4])
	if reach == nil {
		return f, "How far the flaw reaches in from the edge is not said: it is cut out across the whole width.", nil
	}
	if f.Reach, unit, err = length.ParseWritten(strings.TrimSpace(reach[2]), unit, length.Up); err != nil {
		return sizing.Flaw{}, "", fmt.Errorf("how far the flaw reaches in: %w", err)
	}
	if reach[1] != "" {
		if f.Clear, err = length.Parse(strings.TrimSpace(reach[1]), unit, length.Down); err != nil {
			return sizing.Flaw{}, "", fmt.Errorf("how far from the edge the flaw begins: %w", err)
		}
		if f.Clear >= f.Reach {
			return sizing.Flaw{}, "", fmt.Errorf("%q runs from a greater to a lesser distance from the edge; turn the two round", short(text, 60))
		}
	}
	f.Far = strings.Contains(rest, "far")
	return f, "", nil
}

// flaws reads the cell of flaws.
func (r *entry) flaws() []sizing.Flaw {
	flaws, notes, err := ParseFlaws(r.text("flaws"), r.d.Unit)
	if err != nil {
		r.fault("flaws", "%s", sentence(err))
		return nil
	}
	r.notes = append(r.notes, notes...)
	return flaws
}
