package site

import (
	"cmp"
	"reflect"
	"slices"
	"strings"

	"boltward/internal/length"
)

// clash is an edit of something that somebody else changed meanwhile: what
// stands now and what was typed, so that a person can decide. Its form carries
// the newer version, so that sending it again is that decision.
type clash struct {
	Found bool
	Rows  []clashRow
}

// clashRow is one field that differs.
type clashRow struct{ Label, Stands, Typed string }

// clashField names a field of a form to people; options translate its values.
type clashField struct {
	Name, Label string
	Options     []option
}

// newClash compares two forms of one type, field by field. What is written otherwise and is the same by
// what same says of it does not differ.
func newClash[T any](stands, typed T, fields []clashField, same ...alike) clash {
	found := clash{Found: true}
	for _, f := range fields {
		row := clashRow{Label: f.Label, Stands: said(stands, f), Typed: said(typed, f)}
		if row.Stands != row.Typed && !slices.ContainsFunc(same, func(is alike) bool { return is(f.Name, row.Stands, row.Typed) }) {
			found.Rows = append(found.Rows, row)
		}
	}
	return found
}

// alike says whether two values of the field of this name are the same.
type alike = func(name, a, b string) bool

// lengthsIn compares these fields as lengths, or as two sides of a rectangle: 44 is 44 in where a bare number is
// in inches.
func lengthsIn(unit length.Unit, names ...string) alike {
	return func(name, a, b string) bool {
		if !slices.Contains(names, name) {
			return false
		}
		if length.IsRect(a) && length.IsRect(b) {
			first, second, err := length.ParseRect(a, unit, length.Down)
			one, other, wrong := length.ParseRect(b, unit, length.Down)
			return err == nil && wrong == nil && first == one && second == other
		}
		return sameLength(a, b, unit)
	}
}

// sameLength says whether both are one length as people write it, such as 44 and 44 in; none is 0.
func sameLength(a, b string, unit length.Unit) bool {
	one, err := length.Parse(cmp.Or(a, "0"), unit, length.Down)
	other, wrong := length.Parse(cmp.Or(b, "0"), unit, length.Down)
	return err == nil && wrong == nil && length.Format(one, unit) == length.Format(other, unit)
}

// said gives what a form holds in a field, in the words of its options. It
// panics on a name that the form does not have.
func said(form any, f clashField) string {
	v := reflect.ValueOf(form)
	for i := range v.NumField() {
		if v.Type().Field(i).Tag.Get("form") != f.Name {
			continue
		}
		values, list := v.Field(i).Interface().([]string)
		if !list {
			values = []string{v.Field(i).String()}
		}
		words := make([]string, 0, len(values))
		for _, value := range values {
			words = append(words, labelOf(f.Options, value))
		}
		return strings.Join(words, ", ")
	}
	panic(v.Type().String() + " has no field " + f.Name)
}

// labelOf gives the words of a value, or the value itself.
func labelOf(options []option, value string) string {
	for _, o := range options {
		if o.Value == value {
			return o.Label
		}
	}
	return value
}
