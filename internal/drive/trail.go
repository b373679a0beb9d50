package drive

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"boltward/internal/length"
)

// TrailEntry is one line of the audit trail: who did what to which thing. It
// names people by number alone.
type TrailEntry struct {
	ID       int64     `db:"id"`
	At       time.Time `db:"at"`
	Who      int64     `db:"who"`      // the account; 0 for the command line, a job or a personal link
	Initials string    `db:"initials"` // that they have now; "" where they are erased
	Link     string    `db:"link"`     // whose personal link it was, as "person 12"
	Request  string    `db:"request"`
	Act      string    `db:"act"`
	Kind     string    `db:"kind"`    // of the thing
	Subject  string    `db:"subject"` // which one
	Changes  []byte    `db:"changes"` // JSON, as the trail keeps it
}

// TrailThing is one thing that the trail names: a kind, and which one.
type TrailThing struct{ Kind, Which string }

// Thing gives what the entry is about.
func (e TrailEntry) Thing() TrailThing { return TrailThing{e.Kind, e.Subject} }

// By gives who did it as a thing: an account, or the holder of a personal link.
// It is zero for the command line and for jobs.
func (e TrailEntry) By() TrailThing {
	if kind, which, found := strings.Cut(e.Link, " "); found {
		return TrailThing{kind, which}
	}
	if e.Who != 0 {
		return TrailThing{"account", fmt.Sprint(e.Who)}
	}
	return TrailThing{}
}

// TrailChange is one field of an entry in words: what it was and what it became.
// Of a personal field the trail knows only that it changed.
type TrailChange struct {
	Field    string
	From, To string // empty for nothing
	Personal bool
	Things   []TrailThing // that From and To name, where they name any
}

// Text writes the change as one clause.
func (c TrailChange) Text() string {
	switch {
	case c.Personal:
		return c.Field + " changed"
	case c.From == "" && c.To == "":
		return c.Field
	case c.From == "":
		return c.Field + ": " + c.To
	case c.To == "":
		return c.Field + ": " + c.From + ", taken away"
	}
	return c.Field + ": " + c.From + ", now " + c.To
}

// TrailChanges gives the changes of an entry in words, by field. Lengths are
// written in the unit; things are named by names where it has them. It fails on
// what is no trail of changes.
func TrailChanges(e TrailEntry, unit length.Unit, names map[TrailThing]string) ([]TrailChange, error) {
	fields, err := trailFields(e.Changes)
	if err != nil {
		return nil, fmt.Errorf("trail, entry %d: %w", e.ID, err)
	}
	var all []TrailChange
	for _, name := range slices.Sorted(maps.Keys(fields)) {
		from, to := fields[name].From, fields[name].To
		if from == nil && to == "changed" {
			all = append(all, TrailChange{Field: trailField(e.Kind, name), Personal: true})
			continue
		}
		if e.begins() && isTrailNothing(from) {
			if from = nil; isTrailNothing(to) {
				continue
			}
		}
		all = append(all, trailChange(trailField(e.Kind, name), e.Kind+"."+name, from, to, unit, names)...)
	}
	return all, nil
}

// TrailNamed gives every thing that an entry names, by whom too.
func TrailNamed(e TrailEntry) ([]TrailThing, error) {
	fields, err := trailFields(e.Changes)
	if err != nil {
		return nil, fmt.Errorf("trail, entry %d: %w", e.ID, err)
	}
	named := []TrailThing{e.Thing()}
	if by := e.By(); by != (TrailThing{}) {
		named = append(named, by)
	}
	for name, f := range fields {
		named = append(named, trailThings(e.Kind+"."+name, f.From, f.To)...)
	}
	return named, nil
}

// begins says whether the entry is where its thing began, so that what was there
// before is nothing.
func (e TrailEntry) begins() bool {
	return strings.HasSuffix(e.Act, " added") || slices.Contains([]string{"asked for", "asked for every month", "lot tagged", "rule made"}, e.Act)
}

func isTrailNothing(v any) bool {
	list, many := v.([]any)
	return v == nil || v == "" || v == false || v == json.Number("0") || many && len(list) == 0
}

type trailFromTo struct {
	From any `json:"from"`
	To   any `json:"to"`
}

func trailFields(text []byte) (map[string]trailFromTo, error) {
	fields := map[string]trailFromTo{}
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	return fields, d.Decode(&fields)
}

// trailChange tells of one field; of a value with parts, of each part that differs.
// Name is where the value stands, with dots between, from the kind of thing on.
func trailChange(said, name string, from, to any, unit length.Unit, names map[TrailThing]string) []TrailChange {
	before, hadParts := from.(map[string]any)
	after, hasParts := to.(map[string]any)
	if (!hadParts && !hasParts) || isKitRef(before) || isKitRef(after) {
		return []TrailChange{{
			Field: said, From: trailValue(name, from, unit, names), To: trailValue(name, to, unit, names), Things: trailThings(name, from, to),
		}}
	}
	parts := map[string]bool{}
	for part := range before {
		parts[part] = true
	}
	for part := range after {
		parts[part] = true
	}
	var all []TrailChange
	for _, part := range slices.Sorted(maps.Keys(parts)) {
		if fmt.Sprint(before[part]) != fmt.Sprint(after[part]) {
			all = append(all, trailChange(said+", "+strings.ReplaceAll(part, "_", " "), name+"."+part, before[part], after[part], unit, names)...)
		}
	}
	return all
}

func trailValue(name string, v any, unit length.Unit, names map[TrailThing]string) string {
	switch v := v.(type) {
	case nil:
		return ""
	case bool:
		if v {
			return "yes"
		}
		return "no"
	case json.Number:
		if thing := trailThing(name, v); thing != (TrailThing{}) {
			switch {
			case thing.Which == "0":
				return ""
			case names[thing] != "":
				return names[thing]
			}
			return thing.Which
		}
		n, err := v.Int64()
		switch {
		case err != nil:
			return v.String()
		case isTrailLength(name) && n == 0:
			return ""
		case isTrailLength(name):
			return length.Format(length.Length(n), unit)
		case strings.HasSuffix(name, ".shrink.along"), strings.HasSuffix(name, ".shrink.across"):
			return fmt.Sprintf("%g %%", float64(n)/100)
		case strings.HasSuffix(name, ".quiet") && n >= 0 && n <= 6:
			return time.Weekday(n).String()
		}
		return v.String()
	case []any:
		words := make([]string, 0, len(v))
		for _, one := range v {
			words = append(words, trailValue(name, one, unit, names))
		}
		return strings.Join(words, ", ")
	case map[string]any:
		if isKitRef(v) {
			return trailKit(v)
		}
		words := make([]string, 0, len(v))
		for _, part := range slices.Sorted(maps.Keys(v)) {
			words = append(words, strings.ReplaceAll(part, "_", " ")+" "+trailValue(name+"."+part, v[part], unit, names))
		}
		return strings.Join(words, ", ")
	case string:
		if day, err := time.Parse(time.DateOnly, v); err == nil {
			return day.Format("2 Jan 2006")
		}
		return v
	}
	return fmt.Sprint(v)
}

func isKitRef(v map[string]any) bool {
	_, number := v["number"]
	_, part := v["part"]
	return number && part && len(v) == 2
}

func trailKit(v map[string]any) string {
	number, _ := v["number"].(json.Number)
	part, _ := v["part"].(json.Number)
	n, _ := number.Int64() // 0 for what no kit has
	m, _ := part.Int64()
	return KitName(n, int(m))
}

// trailThings gives what the values of a field name, where they are numbers of things.
func trailThings(name string, values ...any) []TrailThing {
	var things []TrailThing
	for _, v := range values {
		list, many := v.([]any)
		if !many {
			list = []any{v}
		}
		for _, one := range list {
			if n, is := one.(json.Number); is {
				if thing := trailThing(name, n); thing != (TrailThing{}) && thing.Which != "0" {
					things = append(things, thing)
				}
			}
		}
	}
	return things
}

// trailThing gives the thing that a number in a field of this name is, or none.
func trailThing(name string, n json.Number) TrailThing {
	switch name = trailLeaf(name); name {
	case "person", "recipient", "donor", "size", "account":
		return TrailThing{name, n.String()}
	case "sizes":
		return TrailThing{"size", n.String()}
	case "only for":
		return TrailThing{"recipient", n.String()}
	}
	return TrailThing{}
}

// isTrailLength says whether a number that stands there is a length in whole 1/1600 mm.
func isTrailLength(name string) bool {
	switch trailLeaf(name) {
	case "keep width", "keep length", "length", "width", "paper width", "paper height", "label width", "label height", "gap across", "gap down", "window left", "window top",
		"cuff", "accent", "join", "first", "second", "flap", "ease", "depth", "turn", "around", "step":
		return true
	case "along":
		return !strings.HasSuffix(name, ".shrink.along")
	case "left", "top":
		return strings.HasPrefix(name, "label paper.")
	case "found":
		return strings.HasPrefix(name, "sheet.")
	}
	return false
}

func trailLeaf(name string) string { return name[strings.LastIndexByte(name, '.')+1:] }

// trailField writes the name of a field as people know it.
func trailField(kind, name string) string {
	switch name {
	case "ask":
		return "whom volunteers ask"
	case "kit cases":
		return "pillowcases in a kit"
	case "keep width":
		return "remnants kept, width"
	case "keep length":
		return "remnants kept, length"
	case "spare share":
		return "spares, %"
	case "weight":
		if kind == "asked" || kind == "standing" {
			return "how much it counts"
		}
	case "homes":
		return "homes it is sewn in"
	case "opens":
		return "may start drives"
	case "trim ok":
		return "may be a trim"
	case "spec":
		return "measures"
	case "line":
		return "line asked for"
	case "cases":
		return "pillowcases"
	case "wanted":
		if kind == "plan" {
			return "pillowcases wanted"
		}
	case "by":
		if kind == "delivery" {
			return "confirmed by"
		}
	}
	return name
}
