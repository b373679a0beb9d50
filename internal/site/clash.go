package site

import (
	"reflect"
	"strings"
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

// newClash compares two forms of one type, field by field.
func newClash[T any](stands, typed T, fields []clashField) clash {
	found := clash{Found: true}
	for _, f := range fields {
		row := clashRow{Label: f.Label, Stands: said(stands, f), Typed: said(typed, f)}
		if row.Stands != row.Typed {
			found.Rows = append(found.Rows, row)
		}
	}
	return found
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
