package workbook

import (
	"slices"
	"strings"
	"unicode"

	"boltward/internal/drive"
)

// word is one thing that people call by several names.
type word struct {
	means string
	names []string
}

// clothWords tell fibre and weight from how people describe cloth, the more
// telling words first. sure is false where it is only what such cloth usually is.
func clothWords() []struct {
	name, fibre, weight string
	sure                bool
} {
	return []struct {
		name, fibre, weight string
		sure                bool
	}{
		{"not sure", drive.FibreNotSure, "", true},
		{"poly-cotton", "poly-cotton", "", true},
		{"polycotton", "poly-cotton", "", true},
		{"poly cotton", "poly-cotton", "", true},
		{"polyester", "other", "", true},
		{"linen", "linen", "", true},
		{"flannel", "cotton", "flannel", true},
		{"quilting cotton", "cotton", "quilting", true},
		{"cotton sheeting", "cotton", "sheeting", true},
		{"sheeting", "", "sheeting", true},
		{"bed sheet", "", "sheeting", true},
		{"canvas", "cotton", "heavy", false},
		{"denim", "cotton", "heavy", false},
		{"corduroy", "cotton", "heavy", false},
		{"twill", "cotton", "heavy", false},
		{"lawn", "cotton", "quilting", false},
		{"poplin", "cotton", "quilting", false},
		{"percale", "cotton", "sheeting", false},
		{"batik", "cotton", "quilting", false},
		{"fat quarter", "cotton", "quilting", false},
		{"fat eighth", "cotton", "quilting", false},
		{"fq", "cotton", "quilting", false},
		{"backing", "cotton", "quilting", false},
		{"quilt", "cotton", "quilting", false},
		{"cotton", "cotton", "", true},
	}
}

// make reads what the cloth is. Where a column says nothing of fibre and weight,
// what the lot is called does.
func (r *entry) make(kind string) drive.Make {
	m := drive.Make{Colours: r.words("colours"), Themes: r.words("themes"), Turn: drive.TurnEither}
	m.Fibre, m.Weight = r.cloth(kind)
	m.Washed, _ = r.yes("washed")
	m.TrimOK, _ = r.yes("trim_ok")
	m.Print, m.Border = r.print()
	if m.Print == "" && r.text("print") == "" {
		m.Print = r.printCalled(kind)
	}
	m.Turn = r.turn(m.Border)
	return m
}

// settle fills in what measured cloth needs and the line does not say, so that
// nobody counts on too much, and notes it.
func (r *entry) settle(m drive.Make) drive.Make {
	if m.Fibre == "" {
		m.Fibre = drive.FibreNotSure
		r.note("The fibre is not said: taken as not sure, so it goes only to those who take any.")
	}
	if m.Weight == "" {
		m.Weight = "quilting"
		r.note("The kind of cloth is not said: taken for quilting weight.")
	}
	if m.Print == "" {
		m.Print = drive.PrintFeature
		if r.text("print") == "" {
			r.note("The print is not said: taken for a feature print, for bodies only.")
		}
	}
	return m
}

func (r *entry) cloth(kind string) (fibre, weight string) {
	fibre = r.oneOf("fibre", []word{
		{"poly-cotton", []string{"poly-cotton", "polycotton", "poly cotton", "cotton-poly", "cotton poly", "polyester cotton", "cotton polyester", "cotton/polyester", "poly/cotton"}},
		{"cotton", []string{"cotton", "100% cotton", "quilting cotton", "pure cotton", "organic cotton"}},
		{"linen", []string{"linen", "100% linen", "flax"}},
		{drive.FibreNotSure, []string{"not sure", "unsure", "unknown", "?", "don't know", "not known"}},
		{"other", []string{"other", "polyester", "viscose", "rayon", "silk", "wool", "acrylic", "mixed"}},
	}, "cotton, linen, poly-cotton, other or not sure")
	weight = r.oneOf("weight", []word{
		{"quilting", []string{"quilting", "quilt weight", "quilting cotton", "quilting weight", "plain weave", "plain", "light", "medium"}},
		{"flannel", []string{"flannel", "flannelette", "brushed"}},
		{"sheeting", []string{"sheeting", "sheet", "percale"}},
		{"heavy", []string{"heavy", "heavyweight", "canvas", "denim", "twill", "home decor"}},
	}, "quilting, flannel, sheeting or heavy")
	text := " " + strings.ToLower(r.text("fibre")+" "+r.text("weight")+" "+kind) + " "
	for _, w := range clothWords() {
		if fibre != "" && weight != "" || !strings.Contains(text, w.name) {
			continue
		}
		if fibre == "" && w.fibre != "" {
			fibre = w.fibre
			if !w.sure {
				r.note("Taken for %s, as such cloth usually is.", w.fibre)
			}
		}
		if weight == "" && w.weight != "" {
			weight = w.weight
		}
	}
	return fibre, weight
}

func (r *entry) print() (print, border string) {
	border = r.oneOf("border", []word{
		{drive.BorderOne, []string{"one selvedge", "one selvage", "one side", "one edge", "one", "yes", "y", "x", "single", "border", "border print"}},
		{drive.BorderBoth, []string{"both selvedges", "both selvages", "both sides", "both edges", "both", "two", "double", "double border"}},
		{"", []string{"no", "none", "n", "-", "–"}},
	}, "one selvedge, both selvedges or none")
	print = r.oneOf("print", []word{
		{drive.PrintSolid, []string{"solid", "plain", "plain dyed", "solid colour", "solid color", "one colour", "unprinted"}},
		{drive.PrintTonal, []string{"tonal", "tone on tone", "tone-on-tone", "blender", "marble", "marbled", "mottled", "texture", "basic"}},
		{"border", []string{"border", "border print"}},
		{drive.PrintFeature, []string{"feature", "feature print", "print", "printed", "novelty", "focus", "main", "panel", "floral", "stripe", "striped", "check", "checked", "gingham", "dots", "dotted", "yes"}},
	}, "solid, tonal or feature")
	if print == "border" {
		print = drive.PrintFeature
		if border == "" {
			border = drive.BorderOne
		}
	}
	return print, border
}

// printCalled tells a solid or a tonal cloth by what the lot is called: taken for a print, it would
// serve for no cuff. What is called a print as well is not told apart.
func (r *entry) printCalled(kind string) string {
	called := strings.FieldsFunc(strings.ReplaceAll(strings.ToLower(kind), "tone on tone", "tonal"), func(c rune) bool { return !unicode.IsLetter(c) && c != '-' })
	has := func(names ...string) bool {
		return slices.ContainsFunc(called, func(word string) bool { return slices.Contains(names, word) })
	}
	switch {
	case has("print", "prints", "printed", "border"):
		return ""
	case has("solid", "solids"):
		r.note("Taken for a solid, as it is called.")
		return drive.PrintSolid
	case has("tonal", "tonals", "tone-on-tone", "blender", "blenders"):
		r.note("Taken for a tonal print, as it is called.")
		return drive.PrintTonal
	}
	return ""
}

// turn reads which way the print lies, from the column for it or the one for its
// direction. A one-way print, and a border, without a turn lies along.
func (r *entry) turn(border string) string {
	for _, name := range []string{"turn", "direction"} {
		cell := strings.ToLower(r.text(name))
		switch {
		case cell == "" || cell == "?":
			continue
		case strings.Contains(cell, "across"), strings.Contains(cell, "sideways"):
			return drive.TurnAcross
		case strings.Contains(cell, "along"), strings.Contains(cell, "upright"), strings.Contains(cell, "lengthwise"), strings.Contains(cell, "lengthways"):
			return drive.TurnAlong
		case cell == "no", cell == "none", cell == "any", cell == "n", cell == "-", strings.Contains(cell, "any way"), strings.Contains(cell, "either"),
			strings.Contains(cell, "non"), strings.Contains(cell, "not"), strings.Contains(cell, "two"), strings.Contains(cell, "all"), strings.Contains(cell, "toss"):
			if border != "" {
				return drive.TurnAlong
			}
			return drive.TurnEither
		case strings.Contains(cell, "one"), strings.Contains(cell, "direction"), strings.Contains(cell, "nap"), cell == "yes", cell == "y":
			r.note("A one-way print whose turn is not said: it lies along, upright on the bed.")
			return drive.TurnAlong
		}
		r.fault(name, "%q is no way to lie; write any, across or along.", short(r.text(name), 40))
		return drive.TurnEither
	}
	if border != "" {
		return drive.TurnAlong
	}
	return drive.TurnEither
}

func (r *entry) torn() bool {
	return r.oneOf("ends", []word{
		{"torn", []string{"torn", "ripped", "tear", "t"}},
		{"cut", []string{"cut", "cut and torn", "scissors", "c"}},
	}, "cut or torn") == "torn"
}

// setAside reads why a lot is set aside. Where the list has no column for that, a note that says so
// counts, for people write it there; where it has one, the note may tell of what was once.
func (r *entry) setAside(note string) string {
	switch cell := r.text("set_aside"); strings.ToLower(cell) {
	case "", "no", "n", "-", "–", "none":
	case "yes", "y", "x", "✓":
		if note != "" {
			return short(note, 200)
		}
		return "set aside at the door"
	default:
		return cell
	}
	if !strings.Contains(strings.ToLower(note), "set aside") {
		return ""
	}
	if heading := r.columns["set_aside"]; heading != "" {
		r.note("Its note speaks of setting aside, the column “%s” does not: it is not set aside.", heading)
		return ""
	}
	r.note("Set aside, as its note says.")
	return short(note, 200)
}

// oneOf reads one of a few words by any of its names; empty where the cell is.
func (r *entry) oneOf(name string, words []word, choices string) string {
	cell := strings.ToLower(strings.Trim(strings.Join(strings.Fields(r.text(name)), " "), ". "))
	if cell == "" {
		return ""
	}
	for _, w := range words {
		for _, n := range w.names {
			if cell == n {
				return w.means
			}
		}
	}
	r.fault(name, "%q is not known here; write %s.", short(r.text(name), 40), choices)
	return ""
}
