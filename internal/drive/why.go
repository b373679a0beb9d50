package drive

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"boltward/internal/length"
	"boltward/internal/planning"
)

// ReasonWords says of each line that is short why, by the line's id in plans.
func ReasonWords(reasons []planning.Reason, names planning.Names) map[string]string {
	words := map[string]string{}
	for _, r := range reasons {
		words[r.Quota] = r.Words(string(length.MM), names)
	}
	return words
}

// ReasonNames gives the names by which people of the drive know lines and cloth, lengths in
// their unit. problem says which lots are of a kind of cloth; nil where that is not wanted.
func ReasonNames(unit length.Unit, lines []AskedLine, problem *planning.Problem) planning.Names {
	recipients := map[string]string{}
	for _, l := range lines {
		recipients[NumberID(l.Number)] = l.RecipientName
	}
	lots := map[string][]string{}
	if problem != nil {
		for _, f := range problem.Fabrics {
			lots[f.Group] = append(lots[f.Group], lotOf(f.ID))
		}
	}
	return planning.Names{
		Quota: func(id string) string {
			if name, known := recipients[id]; known {
				return name
			}
			return "line " + id
		},
		Groups: func(ids []string) string { return groupsWords(ids, lots) },
		Cloth:  func(long planning.Decimal) string { return Yardage(long, unit) },
		Side: func(d planning.Decimal) string {
			l, err := side(d)
			if err != nil {
				return d.String() + " mm"
			}
			return length.Format(l, unit)
		},
	}
}

// UnsureFibre names the lots of a problem that no plan gives to somebody who takes certain fibres
// only, because nobody has said of what they are; empty where there is none.
func UnsureFibre(problem *planning.Problem, fibres []string) string {
	if len(fibres) == 0 {
		return ""
	}
	var lots []string
	for _, f := range problem.Fabrics {
		if strings.HasPrefix(f.Group, FibreNotSure) {
			lots = append(lots, lotOf(f.ID))
		}
	}
	if len(lots) == 0 {
		return ""
	}
	return lotWords(lots)
}

// Yardage says how much cloth is asked for, rounded up: quarter yards, or tenths of a metre.
func Yardage(long planning.Decimal, unit length.Unit) string {
	if unit.Metric() {
		return fmt.Sprintf("%.1f m", math.Ceil(long.Float()/100-1e-9)/10)
	}
	const quarter = 36 * 25.4 / 4
	return planning.Yards(int(math.Ceil(long.Float()/quarter - 1e-9)))
}

// groupsWords says what cloth of some groups is: by its looks where they are few, else how
// many kinds; and of which lots, where those are given.
func groupsWords(ids []string, lots map[string][]string) string {
	var looks, of []string
	for _, id := range ids {
		if l := groupLook(id); !slices.Contains(looks, l) {
			looks = append(looks, l)
		}
		of = append(of, lots[id]...)
	}
	slices.Sort(looks)
	text := fmt.Sprintf("%d kinds of cloth", len(looks))
	if len(looks) <= 3 {
		text = "the " + and(looks)
	}
	if len(of) > 0 {
		text += " (" + lotWords(of) + ")"
	}
	return text
}

// groupLook reads from a group's id what people see of it: "coral and white sea prints". See
// Cloth.group, which writes it.
func groupLook(id string) string {
	part := strings.Split(id, groupSeam)
	if len(part) < 7 {
		return id
	}
	var words []string
	if part[5] != noWords {
		words = append(words, and(strings.Split(part[5], ", ")))
	}
	if part[6] != noWords && part[3] == PrintFeature {
		words = append(words, and(strings.Split(part[6], ", ")))
	}
	return strings.Join(append(words, PrintWords(part[3])), " ")
}

// PrintWords says a print in the plural.
func PrintWords(print string) string {
	switch print {
	case PrintSolid:
		return "solids"
	case PrintTonal:
		return "tonals"
	}
	return "prints"
}

// lotWords names up to five lots in the order of their numbers.
func lotWords(lots []string) string {
	lots = slices.Compact(slices.Sorted(slices.Values(lots)))
	slices.SortStableFunc(lots, func(a, b string) int {
		x, errX := strconv.ParseInt(a, 10, 64)
		y, errY := strconv.ParseInt(b, 10, 64)
		if errX != nil || errY != nil {
			return strings.Compare(a, b)
		}
		return int(min(max(x-y, -1), 1))
	})
	if n := len(lots); n > 5 {
		return "lots " + strings.Join(lots[:5], ", ") + fmt.Sprintf(" and %d more", n-5)
	}
	if len(lots) == 1 {
		return "lot " + lots[0]
	}
	return "lots " + and(lots)
}
