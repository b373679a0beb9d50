package main

import (
	"context"
	"encoding/json"
	"fmt"
	"strconv"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

func sizeCommand() command {
	return command{
		name:    "size",
		summary: "finished size to cut sizes, and back",
		example: `boltward size --finished 20.5x30.5in --cuff 4.25in --accent 0.75in --join 1/4in --seam french:1/4in+1/4in
boltward size --cut body=42x27in,cuff=42x9in,accent=42x2in --join 1/4in --seam french:1/4in+1/4in --pillow queen
boltward size --finished 80x80cm --flap 20cm --hem 2cm+1cm --seam plain:1cm --json`,
		more: `Cut sizes are around × along: around goes round the pillow, along from the open end to the closed end.
A number without a unit takes the unit of the size it stands with, or --unit.

With --json: unit; rounded (true when some length is rounded to 1/64 in or 0.1 mm); finished with width,
length, cuff, accent, hem, flap; cuts, each with role, pieces, around, along, most_around (the most that is
worth cutting, then trimmed to the narrowest); notes. Lengths are decimal strings in unit: in, cm or mm.`,
		run: runSize,
	}
}

// sizeFlags are the flags of size as they were typed.
type sizeFlags struct {
	finished, cut                       string
	cuff, accent, join, seam, hem, flap string
	body, pillow, shrink, unit          string
	piecedCuff, piecedAccent, json      bool
}

func runSize(_ context.Context, env Env, args []string) error {
	var f sizeFlags
	fs := newFlags("size")
	fs.StringVar(&f.finished, "finished", "", "`WIDTHxLENGTH` of the case laid flat")
	fs.StringVar(&f.cut, "cut", "", "`PANELS` as cut, like body=42x27in,cuff=42x9in,accent=42x2in")
	fs.StringVar(&f.cuff, "cuff", "", "`DEPTH` of the cuff that shows")
	fs.StringVar(&f.accent, "accent", "", "`DEPTH` of the accent that shows")
	fs.StringVar(&f.join, "join", "", "`WIDTH` of the seam between body and cuff (usually 1/4 in or 7 mm)")
	fs.StringVar(&f.seam, "seam", "", "`SEAM` at side and closed end: plain:1/2in or french:1/4in+1/4in")
	fs.StringVar(&f.body, "body", "1", "`PIECES`: 1 folded, 2 for a front and a back")
	fs.BoolVar(&f.piecedCuff, "pieced-cuff", false, "the cuff of a folded body is joined from two pieces")
	fs.BoolVar(&f.piecedAccent, "pieced-accent", false, "the accent of a folded body is joined from two pieces")
	fs.StringVar(&f.hem, "hem", "", "`DEPTH+TURN` of a plain hem instead of a cuff, or of a flap case's two hems")
	fs.StringVar(&f.flap, "flap", "", "`DEPTH` of the flap of a one-piece case")
	fs.StringVar(&f.pillow, "pillow", "", "`PILLOW` it must fit: 20x26in, or standard, queen, king, …")
	fs.StringVar(&f.shrink, "shrink", "", "`ALONG,ACROSS`: percent that unwashed cloth will shrink, like 5,3")
	fs.BoolVar(&f.json, "json", false, "write JSON for a program to read")
	fs.StringVar(&f.unit, "unit", "", "`UNIT` to answer in: in, cm or mm (the unit of the size, unless given)")
	if err := fs.none(args); err != nil {
		return err
	}
	given := fs.given()
	spec, answer, err := f.spec(given)
	if err != nil {
		return err
	}
	f.sayAssumed(env, spec, given)
	if f.json {
		report, err := sizing.NewReport(spec, answer)
		if err != nil {
			return err
		}
		out := json.NewEncoder(env.Stdout)
		out.SetEscapeHTML(false)
		out.SetIndent("", "  ")
		return out.Encode(report)
	}
	text, err := sizing.Describe(spec.In(answer))
	if err != nil {
		return err
	}
	_, err = fmt.Fprint(env.Stdout, text)
	return err
}

// spec reads the flags into a spec in the unit that was typed, and gives the unit
// to answer in. Faults come back together, by flag.
func (f sizeFlags) spec(given map[string]bool) (sizing.Spec, length.Unit, error) {
	if given["finished"] == given["cut"] {
		return sizing.Spec{}, "", usage("give either --finished or --cut")
	}
	if given["cut"] && (given["cuff"] || given["accent"]) {
		return sizing.Spec{}, "", usage("with --cut, the cuff and the accent are among the cuts: leave out --cuff and --accent")
	}
	var bad faults
	var asked length.Unit
	if given["unit"] {
		u, err := length.ParseUnit(f.unit)
		bad.add("--unit", err)
		asked = sizing.ReportUnit(u)
	}
	var s sizing.Spec
	var cuts []sizing.Cut
	var err error
	if given["cut"] {
		cuts, s.Unit, err = sizing.ParseCuts("--cut", f.cut, asked)
		bad.add("--cut", err)
	} else {
		s.Width, s.Length, s.Unit, err = length.ParseRectWritten(f.finished, asked, length.Up)
		bad.add("--finished", err)
	}
	if len(bad) > 0 {
		// Without its unit nothing else can be read.
		return sizing.Spec{}, "", apperr.InvalidFields(bad)
	}
	s.Unit = sizing.ReportUnit(s.Unit)
	f.parts(&s, given, &bad)
	if len(bad) > 0 {
		return sizing.Spec{}, "", apperr.InvalidFields(bad)
	}
	if given["cut"] {
		if s, err = sizing.FromCuts(cuts, s); err != nil {
			return sizing.Spec{}, "", byFlag(err)
		}
	}
	if err := s.Check(); err != nil {
		return sizing.Spec{}, "", byFlag(err)
	}
	if asked == "" {
		asked = s.Unit
	}
	return s, asked, nil
}

// parts reads everything but the size itself.
func (f sizeFlags) parts(s *sizing.Spec, given map[string]bool, bad *faults) {
	one := func(name, typed string, into *length.Length) {
		if given[name] {
			l, err := length.Parse(typed, s.Unit, length.Up)
			bad.add("--"+name, err)
			*into = l
		}
	}
	s.Join, s.Seam = sizing.DefaultSeams(s.Unit)
	one("cuff", f.cuff, &s.Cuff)
	one("accent", f.accent, &s.Accent)
	one("join", f.join, &s.Join)
	one("flap", f.flap, &s.Flap)
	var err error
	if given["seam"] {
		s.Seam, err = sizing.ParseSeam("--seam", f.seam, s.Unit)
		bad.add("--seam", err)
	}
	if given["hem"] {
		s.Hem, err = sizing.ParseHem("--hem", f.hem, s.Unit)
		bad.add("--hem", err)
	}
	if given["pillow"] {
		s.Pillow, err = sizing.ParsePillow("--pillow", f.pillow, s.Unit)
		bad.add("--pillow", err)
	}
	if given["shrink"] {
		s.Shrink, err = sizing.ParseShrink("--shrink", f.shrink, s.Unit)
		bad.add("--shrink", err)
	}
	if s.Body, err = strconv.Atoi(f.body); err != nil {
		bad.add("--body", apperr.Invalid("--body", "The body is cut in 1 piece, folded, or in 2, a front and a back."))
	}
	s.PiecedCuff, s.PiecedAccent = f.piecedCuff, f.piecedAccent
}

// sayAssumed tells what was taken because nobody said it.
func (f sizeFlags) sayAssumed(env Env, s sizing.Spec, given map[string]bool) {
	text := func(l length.Length) string { return length.Format(l, s.Unit) }
	if !given["seam"] {
		fmt.Fprintf(env.Stderr, "no --seam given: a French seam of %s, then %s, is taken\n", text(s.Seam.First), text(s.Seam.Second))
	}
	if !given["join"] && s.Opening() == sizing.ByCuff {
		fmt.Fprintf(env.Stderr, "no --join given: %s is taken\n", text(s.Join))
	}
}

// faults gathers what is wrong, by flag.
type faults []apperr.Field

func (b *faults) add(flag string, err error) {
	if err == nil {
		return
	}
	if e := apperr.As(err); e != nil && e.Kind == apperr.KindInvalid {
		*b = append(*b, e.Fields...)
		return
	}
	*b = append(*b, apperr.Field{Name: flag, Why: err.Error()})
}

// byFlag turns the fields of a spec into the flags they were typed after.
func byFlag(err error) error {
	e := apperr.As(err)
	if e == nil {
		return err
	}
	fields := make([]apperr.Field, len(e.Fields))
	for i, f := range e.Fields {
		switch f.Name {
		case "width", "length":
			f.Name = "finished"
		}
		fields[i] = apperr.Field{Name: "--" + f.Name, Why: f.Why}
	}
	return apperr.InvalidFields(fields)
}
