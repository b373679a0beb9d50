package main

import (
	"bytes"
	"encoding/json"
	"io"
	"strconv"
	"strings"
	"sync"

	"boltward/internal/apperr"
)

// messages is standard error where a program reads it line by line: each line is an object.
// What is one already goes through; any other sentence becomes {"note": "…"}, so that whoever
// tells something need not know who listens.
type messages struct {
	mu   sync.Mutex
	out  io.Writer
	part []byte // of a line whose end is still to come
}

// asksForObjects says whether a command line asks for objects on standard error. It is read
// before the flags are, so that flags that cannot be taken are told of in the same way.
func asksForObjects(args []string) bool {
	asked := false
	for _, a := range args {
		if a == "--" {
			break
		}
		name, value, given := strings.Cut(strings.TrimPrefix(a, "-"), "=")
		if name == a || strings.TrimPrefix(name, "-") != "json-progress" {
			continue
		}
		yes, err := strconv.ParseBool(value)
		asked = !given || err != nil || yes
	}
	return asked
}

func (m *messages) Write(p []byte) (int, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.part = append(m.part, p...)
	for {
		line, rest, whole := bytes.Cut(m.part, []byte("\n"))
		if !whole {
			return len(p), nil
		}
		m.part = append([]byte(nil), rest...)
		if err := m.line(line); err != nil {
			return len(p), err
		}
	}
}

// end writes what has no end of its line yet.
func (m *messages) end() {
	m.mu.Lock()
	defer m.mu.Unlock()
	_ = m.line(m.part) // nobody may be reading any more
	m.part = nil
}

func (m *messages) line(line []byte) error {
	line = bytes.TrimSpace(line)
	if len(line) == 0 {
		return nil
	}
	if line[0] != '{' || !json.Valid(line) {
		return encodeLine(m.out, map[string]string{"note": string(line)})
	}
	_, err := m.out.Write(append(line, '\n'))
	return err
}

// failed tells how a command ended: a fault a line, with the field or path where it lies.
func (m *messages) failed(err error) {
	type fault struct {
		Error string `json:"error"`
		At    string `json:"at,omitempty"`
	}
	list := []fault{{Error: err.Error()}}
	if e := apperr.As(err); e != nil && e.Kind == apperr.KindInvalid {
		list = nil
		if e.Text != "" {
			list = append(list, fault{Error: e.Text})
		}
		for _, f := range e.Fields {
			list = append(list, fault{f.Why, f.Name})
		}
	}
	for _, f := range list {
		_ = encodeLine(m, f)
	}
}

func encodeLine(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}
