// Package apperr holds the errors a person may see. Each carries a sentence
// that says what is wrong and, where it can, what would be right; an error that
// is not from here is for operators, is logged in full and shows a person only
// a fixed sentence with a reference number.
package apperr

import (
	"errors"
	"fmt"
	"strings"
)

// Kind says what sort of refusal an Error is; the adapters choose a status by it.
type Kind int

const (
	// KindNotFound: there is no such thing, or this person may not know of it.
	KindNotFound Kind = iota + 1
	// KindConflict: somebody else was first, or the state does not allow it now.
	KindConflict
	// KindDenied: signed in, known, and still not allowed to do this.
	KindDenied
	// KindInvalid: what was typed cannot be taken; Fields says where.
	KindInvalid
)

// Field is one message at one place of a form, a row or a file. Name is the
// form field, the column heading or the path of the value.
type Field struct {
	Name string `json:"field"`
	Why  string `json:"why"`
}

// Error is a refusal that a person may read.
type Error struct {
	Kind   Kind
	Text   string
	Fields []Field
}

func (e *Error) Error() string {
	if len(e.Fields) == 0 {
		return e.Text
	}
	parts := make([]string, 0, len(e.Fields)+1)
	if e.Text != "" {
		parts = append(parts, e.Text)
	}
	for _, f := range e.Fields {
		if f.Name == "" {
			parts = append(parts, f.Why)
			continue
		}
		parts = append(parts, f.Name+": "+f.Why)
	}
	return strings.Join(parts, "; ")
}

// NotFound says that something is not there, naming nothing that was not asked for.
func NotFound(format string, args ...any) error {
	return &Error{Kind: KindNotFound, Text: fmt.Sprintf(format, args...)}
}

// Conflict says why the state of things does not allow an act now.
func Conflict(format string, args ...any) error {
	return &Error{Kind: KindConflict, Text: fmt.Sprintf(format, args...)}
}

// Denied says that this person may not do this.
func Denied(format string, args ...any) error {
	return &Error{Kind: KindDenied, Text: fmt.Sprintf(format, args...)}
}

// Invalid is a refusal of one field.
func Invalid(field, format string, args ...any) error {
	return &Error{Kind: KindInvalid, Fields: []Field{{Name: field, Why: fmt.Sprintf(format, args...)}}}
}

// InvalidFields is a refusal with a message for each field, or nil when there is none.
func InvalidFields(fields []Field) error {
	if len(fields) == 0 {
		return nil
	}
	return &Error{Kind: KindInvalid, Fields: fields}
}

// As gives the first Error in err's chain, or nil.
func As(err error) *Error {
	var e *Error
	if errors.As(err, &e) {
		return e
	}
	return nil
}

// Is says whether err carries an Error of this kind.
func Is(err error, kind Kind) bool {
	e := As(err)
	return e != nil && e.Kind == kind
}

// Fields gives the messages by field of an Error of KindInvalid; nil for any
// other error. A field with several messages keeps the first.
func Fields(err error) map[string]string {
	e := As(err)
	if e == nil || e.Kind != KindInvalid || len(e.Fields) == 0 {
		return nil
	}
	m := make(map[string]string, len(e.Fields))
	for _, f := range e.Fields {
		if _, seen := m[f.Name]; !seen {
			m[f.Name] = f.Why
		}
	}
	return m
}
