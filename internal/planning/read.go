package planning

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"boltward/internal/apperr"
)

// ReadProblem reads a problem file. Every fault in it is listed by its path, such as
// fabrics[3].length, in one apperr.Error of KindInvalid; numbers are read exactly.
func ReadProblem(r io.Reader) (*Problem, error) {
	p, _, err := ReadProblemNoted(r)
	return p, err
}

// ReadProblemNoted is ReadProblem, and tells of fields that are passed over but look like one that
// would be read. They are no faults: a file from elsewhere may carry fields of its own.
func ReadProblemNoted(r io.Reader) (p *Problem, notes []string, err error) {
	var top any
	if err := decode(r, &top); err != nil {
		return nil, nil, err
	}
	o, ok := top.(map[string]any)
	if !ok {
		return nil, nil, apperr.Invalid("", "the file must hold one JSON object: { at its start, } at its end")
	}
	rd := &reader{}
	p = rd.problem(o)
	rd.add(p.faults())
	notes = misspelt(o)
	if err := apperr.InvalidFields(rd.faults); err != nil {
		return nil, notes, err
	}
	return p, notes, nil
}

// ReadPlan reads a plan file; whether it is a good plan of a problem is for Check to say.
func ReadPlan(r io.Reader) (*Plan, error) {
	var p Plan
	if err := decode(r, &p); err != nil {
		return nil, err
	}
	return &p, nil
}

// reader turns decoded JSON into a Problem and notes what does not have the right shape.
type reader struct {
	faults []apperr.Field
	seen   map[string]bool
	odd    []string // paths of what is no object, though it must be
}

func (r *reader) fault(path, format string, args ...any) {
	r.add([]apperr.Field{{Name: path, Why: fmt.Sprintf(format, args...)}})
}

// add keeps the first fault of each path: a length that is no number need not also be refused as
// 0, nor a fabric that is a number for each length it lacks.
func (r *reader) add(faults []apperr.Field) {
	if r.seen == nil {
		r.seen = map[string]bool{}
	}
	for _, f := range faults {
		within := func(path string) bool { return strings.HasPrefix(f.Name, path+".") }
		if !r.seen[f.Name] && !slices.ContainsFunc(r.odd, within) {
			r.seen[f.Name] = true
			r.faults = append(r.faults, f)
		}
	}
}

func (r *reader) problem(o map[string]any) *Problem {
	p := &Problem{Fabrics: []Fabric{}, Cases: []Case{}, Trims: map[string][]string{}, Quotas: []Quota{}}
	p.Unit = r.text(o, "", "unit", "")
	r.each(o, "", "fabrics", true, func(path string, f map[string]any) {
		p.Fabrics = append(p.Fabrics, Fabric{
			ID: r.text(f, path, "id", ""), Length: r.decimal(f, path, "length", nil), Width: r.decimal(f, path, "width", nil),
			Pieces: r.count(f, path, "pieces", 1), Group: r.text(f, path, "group", ""),
			Roles: r.texts(f, path, "roles"), Turn: Turn(r.text(f, path, "turn", string(Either))),
		})
	})
	r.each(o, "", "cases", true, func(path string, c map[string]any) {
		one := Case{ID: r.text(c, path, "id", "")}
		r.each(c, path, "panels", true, func(path string, l map[string]any) {
			one.Panels = append(one.Panels, Panel{
				Role: r.text(l, path, "role", ""), Around: r.decimal(l, path, "around", nil),
				Along: r.decimal(l, path, "along", nil), Pieces: r.count(l, path, "pieces", 1),
			})
		})
		p.Cases = append(p.Cases, one)
	})
	r.trims(o, p)
	one := Whole(1)
	r.each(o, "", "quotas", true, func(path string, q map[string]any) {
		kit := r.count(q, path, "kit", 0)
		if _, given := q["kit"]; given && kit < 1 {
			r.fault(join(path, "kit"), "a kit holds at least 1 pillowcase")
		}
		p.Quotas = append(p.Quotas, Quota{
			ID: r.text(q, path, "id", ""), Cases: r.texts(q, path, "cases"), Wanted: r.need(q, path, "wanted"),
			Weight: r.decimal(q, path, "weight", &one), Bodies: r.texts(q, path, "bodies"), Kit: kit,
		})
	})
	if k := r.object(o, "", "kit"); k != nil {
		p.Kit.Cases = r.need(k, "kit", "cases")
	} else {
		r.fault("kit", "missing: how many pillowcases go in one kit at most")
	}
	if k := r.object(o, "", "keep"); k != nil {
		p.Keep = &Keep{Width: r.decimal(k, "keep", "width", nil), Length: r.decimal(k, "keep", "length", nil)}
	}
	r.fixed(o, p)
	return p
}

func (r *reader) trims(o map[string]any, p *Problem) {
	t := r.object(o, "", "trims")
	if t == nil && o["trims"] == nil {
		r.fault("trims", "missing: which groups may trim which body group")
	}
	for _, g := range sortedKeys(t) {
		p.Trims[g] = r.texts(t, "trims", g)
	}
	only := r.object(o, "", "trim_roles")
	for _, g := range sortedKeys(only) {
		roles := r.object(only, "trim_roles", g)
		for _, role := range sortedKeys(roles) {
			if p.TrimRoles == nil {
				p.TrimRoles = map[string]map[string][]string{}
			}
			if p.TrimRoles[g] == nil {
				p.TrimRoles[g] = map[string][]string{}
			}
			p.TrimRoles[g][role] = r.texts(roles, join("trim_roles", g), role)
		}
	}
}

// fixed reads the kits and layouts of an earlier plan by their own rules.
func (r *reader) fixed(o map[string]any, p *Problem) {
	f := r.object(o, "", "fixed")
	if f == nil {
		return
	}
	data, err := json.Marshal(f)
	if err != nil {
		r.fault("fixed", "cannot be read: %v", err)
		return
	}
	p.Fixed = &Fixed{}
	if err := json.Unmarshal(data, p.Fixed); err != nil {
		var kind *json.UnmarshalTypeError
		if errors.As(err, &kind) {
			r.fault("fixed."+kind.Field, "a %s does not belong here", kind.Value)
		} else {
			r.fault("fixed", "cannot be read: %v", err)
		}
		p.Fixed = nil
	}
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

func (r *reader) object(o map[string]any, path, key string) map[string]any {
	v, given := o[key]
	if !given || v == nil {
		return nil
	}
	m, ok := v.(map[string]any)
	if !ok {
		r.fault(join(path, key), "must be an object")
	}
	return m
}

func (r *reader) each(o map[string]any, path, key string, need bool, f func(path string, m map[string]any)) {
	v, given := o[key]
	if !given || v == nil {
		if need {
			r.fault(join(path, key), "missing")
		}
		return
	}
	list, ok := v.([]any)
	if !ok {
		r.fault(join(path, key), "must be a list")
		return
	}
	for i, e := range list {
		at := join(path, key) + "[" + strconv.Itoa(i) + "]"
		m, ok := e.(map[string]any)
		if !ok {
			r.fault(at, "must be an object")
			r.odd = append(r.odd, at)
			m = map[string]any{}
		}
		f(at, m)
	}
}

func (r *reader) text(o map[string]any, path, key, otherwise string) string {
	v, given := o[key]
	if !given || v == nil {
		if otherwise == "" {
			r.fault(join(path, key), "missing")
		}
		return otherwise
	}
	s, ok := v.(string)
	if !ok {
		r.fault(join(path, key), "must be text")
	}
	return s
}

func (r *reader) texts(o map[string]any, path, key string) []string {
	v, given := o[key]
	if !given || v == nil {
		r.fault(join(path, key), "missing")
		return nil
	}
	list, ok := v.([]any)
	if !ok {
		r.fault(join(path, key), "must be a list")
		return nil
	}
	out := make([]string, 0, len(list))
	for i, e := range list {
		s, ok := e.(string)
		if !ok {
			r.fault(fmt.Sprintf("%s[%d]", join(path, key), i), "must be text")
		}
		out = append(out, s)
	}
	return out
}

func (r *reader) decimal(o map[string]any, path, key string, otherwise *Decimal) Decimal {
	v, given := o[key]
	if !given || v == nil {
		if otherwise != nil {
			return *otherwise
		}
		r.fault(join(path, key), "missing")
		return Decimal{}
	}
	var text string
	switch v := v.(type) {
	case json.Number:
		text = v.String()
	case string:
		text = v
	default:
		r.fault(join(path, key), "must be a number")
		return Decimal{}
	}
	d, err := ParseDecimal(text)
	if err != nil {
		r.fault(join(path, key), "%v", err)
	}
	return d
}

func (r *reader) need(o map[string]any, path, key string) int {
	if v, given := o[key]; !given || v == nil {
		r.fault(join(path, key), "missing")
		return 0
	}
	return r.count(o, path, key, 0)
}

func (r *reader) count(o map[string]any, path, key string, otherwise int) int {
	v, given := o[key]
	if !given || v == nil {
		return otherwise
	}
	n, ok := v.(json.Number)
	if !ok {
		r.fault(join(path, key), "must be a whole number")
		return otherwise
	}
	i, err := strconv.ParseInt(n.String(), 10, 64)
	if err != nil || i > 1<<53 || i < -1<<53 {
		r.fault(join(path, key), "%s is not a whole number that can be counted", short(n.String()))
		return otherwise
	}
	return int(i)
}
