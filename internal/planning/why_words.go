package planning

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Names are what people call that which a problem names by ids. Each may be nil: the id itself
// then, and lengths in the problem's unit.
type Names struct {
	Quota  func(id string) string
	Groups func(ids []string) string // cloth of these groups together: "the coral prints (lot 12)"
	Cloth  func(long Decimal) string // how much cloth: "2 1/4 yd"
	Side   func(side Decimal) string // a side of a panel: "41 in"
}

func (n Names) of(unit string) Names {
	if n.Quota == nil {
		n.Quota = func(id string) string { return id }
	}
	if n.Groups == nil {
		n.Groups = Listed
	}
	if n.Cloth == nil {
		n.Cloth = func(long Decimal) string { return clothWords(long.Float(), unit) }
	}
	if n.Side == nil {
		n.Side = func(side Decimal) string { return side.String() + " " + unit }
	}
	return n
}

// Words says why a quota is short, a sentence or two a lack. unit is the problem's.
func (r Reason) Words(unit string, names Names) string {
	names = names.of(unit)
	var text []string
	for i, l := range r.Lacks {
		text = append(text, l.words(names, i > 0))
	}
	return strings.Join(text, " ")
}

// words says one lack; further, where others were said before it.
func (l Lack) words(names Names, further bool) string {
	switch l.Why {
	case LackCase:
		return "No size is chosen for it."
	case LackSuits:
		return "No cloth on the shelf suits it. " + l.takes(names)
	case LackSize:
		return fmt.Sprintf("No piece of %s is large enough for a body of %s. %s", names.Groups(l.Groups), l.body(names), l.takes(names))
	case LackTrim:
		return fmt.Sprintf("Nothing on the shelf goes with %s as %s: %s for about %s.", names.Groups(l.Groups), l.roles(), waits(l.Cases), l.amounts(names))
	case LackTrimOut:
		return fmt.Sprintf("What goes with %s as %s is used up: %s for about %s.", names.Groups(l.Groups), l.roles(), waits(l.Cases), l.amounts(names))
	case LackSearch:
		return fmt.Sprintf("%d more could be made of what is left: the search ended before it got there. Plan again and give it longer.", l.Cases)
	case LackCloth:
		gone := l.goneTo(names)
		if further {
			// What was said before may be all the cloth there ever was: none need have been used.
			return fmt.Sprintf("There is no more cloth for the other %d%s. ", l.Cases, said("; it went to ", gone)) + l.takes(names)
		}
		return "The cloth that suits it is used up" + said(", by ", gone) + ". " + l.takes(names)
	}
	return "Not looked into: too many lines are short at once."
}

// goneTo says to whom the cloth went, the first three of them, if to anybody; quotas that people
// know by one name count together.
func (l Lack) goneTo(names Names) string {
	var who []Took
	for _, t := range l.Went {
		name := names.Quota(t.Quota)
		at := slices.IndexFunc(who, func(o Took) bool { return o.Quota == name })
		if at < 0 {
			at = len(who)
			who = append(who, Took{Quota: name})
		}
		who[at].Cases += t.Cases
	}
	slices.SortStableFunc(who, func(a, b Took) int { return b.Cases - a.Cases })
	var list []string
	for i, t := range who {
		if i == 3 {
			list = append(list, fmt.Sprintf("%d others", len(who)-i))
			break
		}
		list = append(list, fmt.Sprintf("%s (%d)", t.Quota, t.Cases))
	}
	return and(list)
}

// said puts words before others that are there.
func said(before, words string) string {
	if words == "" {
		return ""
	}
	return before + words
}

// body says the sides of the body that is needed.
func (l Lack) body(names Names) string {
	for _, n := range l.Needs {
		if n.Role == Body {
			return names.Side(n.Around) + " × " + names.Side(n.Along)
		}
	}
	return "its size"
}

func (l Lack) takes(names Names) string {
	switch {
	case len(l.Needs) == 0:
		return ""
	case l.Cases == 1:
		return fmt.Sprintf("1 more takes about %s.", l.amounts(names))
	}
	return fmt.Sprintf("%d more take about %s.", l.Cases, l.amounts(names))
}

// amounts says how much cloth of each role is needed.
func (l Lack) amounts(names Names) string {
	var list []string
	for _, n := range l.Needs {
		if n.Role == Body {
			list = append(list, names.Cloth(n.Length)+" for bodies")
		} else {
			list = append(list, names.Cloth(n.Length)+" of "+n.Role)
		}
	}
	return and(list)
}

func (l Lack) roles() string {
	var list []string
	for _, n := range l.Needs {
		list = append(list, n.Role)
	}
	return and(unique(list))
}

func waits(n int) string {
	if n == 1 {
		return "1 body waits"
	}
	return fmt.Sprintf("%d bodies wait", n)
}

// clothWords says a length of cloth in quarter yards or tenths of a metre, rounded up.
func clothWords(long float64, unit string) string {
	switch unit {
	case "in":
		return Yards(int(math.Ceil(long/9 - 1e-9)))
	case "cm":
		long *= 10
	}
	return fmt.Sprintf("%.1f m", math.Ceil(long/100-1e-9)/10)
}

// Yards says a number of quarter yards: "2 1/4 yd".
func Yards(quarters int) string {
	text := [...]string{"", " 1/4", " 1/2", " 3/4"}[quarters%4]
	if quarters/4 > 0 || text == "" {
		text = fmt.Sprint(quarters/4) + text
	}
	return strings.TrimSpace(text) + " yd"
}

// Listed names a few of a list: "a, b and 3 others".
func Listed(names []string) string {
	names = asSet(names)
	if len(names) > 3 {
		return and(append(names[:2:2], fmt.Sprintf("%d others", len(names)-2)))
	}
	return and(names)
}

func and(list []string) string {
	if n := len(list); n > 1 {
		return strings.Join(list[:n-1], ", ") + " and " + list[n-1]
	}
	return strings.Join(list, "")
}
