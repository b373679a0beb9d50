package site

import (
	"fmt"
	"html/template"
	"slices"
	"strconv"
	"strings"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/workbook"
)

// field is one field of a form as the template "field" shows it (fields_drawn.go). Templates
// make it with field and change it with the functions after it in a pipe.
type field struct {
	Name, Label string
	Of          string // tells it from fields of the same name in other forms of the page
	Value       string
	Values      []string // of a list of ticks
	Problem     string
	Unit        string
	Hint        string
	Type        string // of an input: text, email, date...
	Class       string
	Mode        string // the keyboard of a phone
	Complete    string
	Accept      string
	Suggest     []string
	Lookup      string // where names are found as somebody types
	Camera      bool   // a phone opens its camera
	Taps        bool   // options as buttons in a row
	Options     []option
	Lines       int
	PickType    string // radio or checkbox where the options all show
	IsTick      bool
	TickAs      string // what a tick is sent as
	Required    bool
	Optional    bool
	Focus       bool
	Wide        bool
}

// pick is one option of a field, chosen or not.
type pick struct {
	ID, Value, Label string
	On               bool
}

// newField starts a field: value is what was typed, a string or a list of them,
// and problems has the message that belongs beside it.
func newField(name, label string, value any, problems map[string]string) (*field, error) {
	f := &field{Name: name, Label: label, Problem: problems[name], Type: "text"}
	switch value := value.(type) {
	case string:
		f.Value = value
	case []string:
		f.Values = value
	default:
		return f, fmt.Errorf("field %s: %T is neither a string nor a list of them", name, value)
	}
	return f, nil
}

// id is the field's id in the page.
func (f *field) id() string {
	if f.Of != "" {
		return "f-" + f.Of + "-" + f.Name
	}
	return "f-" + f.Name
}

// group says whether the field is several boxes under one name.
func (f *field) group() bool { return f.PickType != "" }

// said says whether anything stands beside the field.
func (f *field) said() bool { return f.Problem != "" || f.Hint != "" || f.Lookup != "" }

// takesValue says whether an input shows what was typed; a file's cannot.
func (f *field) takesValue() bool { return f.Type != "file" && f.Type != "password" }

// described gives the ids of what describes the field, unit first.
func (f *field) described() string {
	var ids []string
	if f.Unit != "" {
		ids = append(ids, f.id()+"-unit")
	}
	if f.said() {
		ids = append(ids, f.id()+"-said")
	}
	return strings.Join(ids, " ")
}

// picks gives the options with those chosen that were.
func (f *field) picks() []pick {
	picks := make([]pick, len(f.Options))
	for i, o := range f.Options {
		on := o.Value == f.Value
		if f.PickType == "checkbox" {
			on = slices.Contains(f.Values, o.Value)
		}
		picks[i] = pick{ID: f.id() + "-" + strconv.Itoa(i), Value: o.Value, Label: o.Label, On: on}
	}
	return picks
}

// flawsLike shows how two flaws are written, in the unit that people measure in.
func flawsLike(unit length.Unit, between string) string {
	if unit.Metric() {
		return workbook.FlawLike(unit) + between + "100 to 105 cm, 8 cm in from the edge."
	}
	return workbook.FlawLike(unit) + between + "40 to 42 in, 3 in in from the edge."
}

// exampleIn is what is shown as an example where people measure in a unit: lengths as a metric tape says them, or
// as one in inches.
func exampleIn(unit any, metric, inches string) string {
	if length.Unit(fmt.Sprint(unit)).Metric() {
		return metric
	}
	return inches
}

// fieldFunctions are what templates change a field with; each takes it last.
func fieldFunctions() template.FuncMap {
	return template.FuncMap{
		"field":    newField,
		"of":       func(number int64, f *field) *field { f.Of = drive.NumberID(number); return f },
		"unit":     func(unit string, f *field) *field { f.Unit = unit; f.Class = "middle"; return f },
		"hint":     func(hint string, f *field) *field { f.Hint = hint; return f },
		"required": func(f *field) *field { f.Required = true; return f },
		"optional": func(f *field) *field { f.Optional = true; return f },
		"focus":    func(f *field) *field { f.Focus = true; return f },
		"focusAt":  func(name string, f *field) *field { f.Focus = f.Name == name; return f },
		"wide":     func(f *field) *field { f.Wide = true; return f },
		"kind":     setKind,
		"count":    func(f *field) *field { f.Mode, f.Class = "numeric", "short"; return f },
		"lines":    func(n int, f *field) *field { f.Lines = n; return f },
		"tick":     func(f *field) *field { f.IsTick, f.TickAs = true, "yes"; return f },
		"tickAs":   func(value string, f *field) *field { f.IsTick, f.TickAs = true, value; return f },
		"oneof":    func(options []option, f *field) *field { f.Options = options; return f },
		"choice":   func(options []option, f *field) *field { f.Options, f.PickType = options, "radio"; return f },
		"ticks":    func(options []option, f *field) *field { f.Options, f.PickType = options, "checkbox"; return f },
		"suggest":  func(words []string, f *field) *field { f.Suggest = words; return f },
		"lookup":   func(path string, f *field) *field { f.Lookup = path; return f },
		"camera":   func(f *field) *field { f.Camera = true; return f },
		"taps":     func(f *field) *field { f.Taps = true; return f },
		"complete": func(how string, f *field) *field { f.Complete = how; return f },
		"flaws":    flawsLike,
		"example":  exampleIn,
		"accept":   func(files string, f *field) *field { f.Accept = files; return f },
	}
}

func setKind(kind string, f *field) (*field, error) {
	switch kind {
	case "text", "email", "tel", "url", "date", "search", "password", "file":
		f.Type = kind
	default:
		return f, fmt.Errorf("field %s: there is no kind %q", f.Name, kind)
	}
	if kind == "date" {
		f.Class = "middle"
	}
	return f, nil
}
