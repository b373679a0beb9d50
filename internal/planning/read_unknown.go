package planning

import (
	"fmt"
	"slices"
	"strings"
)

// fields is what may stand in one object of a problem file: the names of its fields, and what
// is known of the objects within.
type fields struct {
	names  []string
	within map[string]fields
}

func knownFields() fields {
	panels := fields{names: []string{"role", "around", "along", "pieces"}}
	return fields{
		names: []string{"unit", "fabrics", "cases", "trims", "trim_roles", "quotas", "kit", "keep", "fixed"},
		within: map[string]fields{
			"fabrics": {names: []string{"id", "length", "width", "pieces", "group", "roles", "turn"}},
			"cases":   {names: []string{"id", "panels"}, within: map[string]fields{"panels": panels}},
			"quotas":  {names: []string{"id", "cases", "wanted", "weight", "bodies", "kit"}},
			"kit":     {names: []string{"cases"}},
			"keep":    {names: []string{"width", "length"}},
			"fixed":   {names: []string{"layouts", "kits"}},
		},
	}
}

// misread is a field that is not read, though its name looks like that of one that is.
type misread struct {
	path, meant string // of the first
	more        int    // that are so elsewhere
}

// misspelt tells of fields that are passed over and look like one that is not there: a file may carry
// fields of its own, but whose "peices" are passed over gets a plan of one piece each.
func misspelt(o map[string]any) []string {
	var found []*misread
	seen := map[string]*misread{}
	knownFields().look(o, "", "", func(path, kind, meant string) {
		if one := seen[kind]; one != nil {
			one.more++
			return
		}
		seen[kind] = &misread{path: path, meant: meant}
		found = append(found, seen[kind])
	})
	notes := make([]string, 0, len(found))
	for _, m := range found {
		more := ""
		if m.more > 0 {
			more = fmt.Sprintf(", as %d more of that name", m.more)
		}
		notes = append(notes, fmt.Sprintf("%s is not read%s; is %q meant?", m.path, more, m.meant))
	}
	return notes
}

// look goes through an object and those within. kind is its path without numbers.
func (k fields) look(o map[string]any, path, kind string, tell func(path, kind, meant string)) {
	for _, name := range sortedKeys(o) {
		if slices.Contains(k.names, name) {
			k.within[name].lookInto(o[name], join(path, name), join(kind, name), tell)
			continue
		}
		for _, meant := range k.names {
			if _, there := o[meant]; !there && alike(strings.ToLower(name), meant) {
				tell(join(path, short(name)), join(kind, name), meant)
				break
			}
		}
	}
}

func (k fields) lookInto(v any, path, kind string, tell func(path, kind, meant string)) {
	if k.names == nil {
		return
	}
	switch v := v.(type) {
	case map[string]any:
		k.look(v, path, kind, tell)
	case []any:
		for i, e := range v {
			if o, ok := e.(map[string]any); ok {
				k.look(o, fmt.Sprintf("%s[%d]", path, i), kind, tell)
			}
		}
	}
}

// alike says whether one slip of the fingers, or two in a long word, makes one word of the other:
// a letter too many, too few or another, or two that changed places.
func alike(typed, meant string) bool {
	most := 1
	if len(meant) > 4 {
		most = 2
	}
	if len(typed) > len(meant)+most || len(typed) < len(meant)-most {
		return false
	}
	// Rows of the usual table of distances: the one before last, the last, and this one.
	before, last := make([]int, len(meant)+1), make([]int, len(meant)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(typed); i++ {
		this := make([]int, len(meant)+1)
		this[0] = i
		for j := 1; j <= len(meant); j++ {
			other := 0
			if typed[i-1] != meant[j-1] {
				other = 1
			}
			this[j] = min(last[j]+1, this[j-1]+1, last[j-1]+other)
			if i > 1 && j > 1 && typed[i-1] == meant[j-2] && typed[i-2] == meant[j-1] {
				this[j] = min(this[j], before[j-2]+1)
			}
		}
		before, last = last, this
	}
	return last[len(meant)] <= most
}
