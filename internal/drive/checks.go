package drive

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

// CheckKind says which of the usual points a point of the checking list is, so
// that what sewers are told about it can be written in any language.
type CheckKind string

// The usual points, and a drive's own.
const (
	CheckSize    CheckKind = "size"
	CheckSeams   CheckKind = "seams"
	CheckEdges   CheckKind = "edges"
	CheckThreads CheckKind = "threads"
	CheckCuff    CheckKind = "cuff"
	CheckCloth   CheckKind = "cloth"
	CheckWorn    CheckKind = "worn"
	CheckPins    CheckKind = "pins" // stands in no list: it can be neither changed nor left out
	CheckOwn     CheckKind = "own"
)

// CheckPoint is one thing the checking table looks at.
type CheckPoint struct {
	Kind  CheckKind `json:"kind"`
	Look  string    `json:"look"`           // what is looked for: no raw edge shows
	Fault string    `json:"fault"`          // what is ticked where it is not so
	Tell  string    `json:"tell,omitempty"` // what sewers are told; empty: as the language has it for the kind
	Off   bool      `json:"off,omitempty"`  // not looked at in this drive
}

// CheckList is what a drive's checking table looks at, beside pins and needles,
// for which every pillowcase is looked through, always.
type CheckList struct {
	Tolerance length.Length // of a finished size, either way
	Launders  bool          // pillowcases are laundered here before they are packed
	Points    []CheckPoint
	Version   int
}

// PinsFound is what is ticked where a pin or needle was found.
const PinsFound = "pin or needle found"

// mostPoints is the longest list that somebody goes through for every pillowcase.
const mostPoints = 20

// UsualCheckList is what a drive begins with. Half an inch or a centimetre either
// way still fits the pillow. Common practice, no source.
func UsualCheckList(u length.Unit) CheckList {
	l := CheckList{Tolerance: length.Inch / 2, Points: []CheckPoint{
		{Kind: CheckSize, Look: "Size, laid flat", Fault: "wrong size"},
		{Kind: CheckSeams, Look: "Seams closed, their ends held", Fault: "seam open"},
		{Kind: CheckEdges, Look: "No raw edge shows", Fault: "raw edge shows"},
		{Kind: CheckThreads, Look: "Threads cut, inside too", Fault: "loose threads"},
		{Kind: CheckCuff, Look: "Cuff lies flat", Fault: "cuff twisted"},
		{Kind: CheckCloth, Look: "Cloth clean and whole", Fault: "stain or hole"},
		{Kind: CheckWorn, Look: "Cloth sound, not thin", Fault: "too worn"},
	}}
	if u.Metric() {
		l.Tolerance = length.Centimetre
	}
	return l
}

// Tidy gives the list without stray spaces.
func (l CheckList) Tidy() CheckList {
	l.Points = slices.Clone(l.Points)
	for i := range l.Points {
		p := &l.Points[i]
		for _, text := range []*string{&p.Look, &p.Fault, &p.Tell} {
			*text = strings.Join(strings.Fields(*text), " ")
		}
	}
	return l
}

func (p CheckPoint) blank() bool { return p.Look == "" && p.Fault == "" && p.Tell == "" }

// Said gives the list without points that say nothing.
func (l CheckList) Said() CheckList {
	l.Points = slices.DeleteFunc(slices.Clone(l.Points), CheckPoint.blank)
	return l
}

// Check says what is wrong with a tidy list, in which blank points are none, before it is kept, by field: point1_look,
// point1_fault and point1_tell are the first point's.
func (l CheckList) Check() error {
	var bad []apperr.Field
	refuse := func(field, format string, args ...any) {
		bad = append(bad, apperr.Field{Name: field, Why: fmt.Sprintf(format, args...)})
	}
	if l.Tolerance <= 0 || l.Tolerance > 10*length.Centimetre {
		refuse("tolerance", "Give how far off a size may be, above nothing and up to 10 cm or 4 in.")
	}
	if len(l.Points) > mostPoints {
		refuse(fmt.Sprintf("point%d_look", mostPoints+1), "Keep to %d points: they are gone through for every pillowcase.", mostPoints)
	}
	faults := map[string]bool{PinsFound: true}
	for i, p := range l.Points {
		if p.blank() {
			continue
		}
		field := func(name string) string { return fmt.Sprintf("point%d_%s", i+1, name) }
		if p.Look == "" {
			refuse(field("look"), "Say what is looked for.")
		}
		if p.Fault == "" {
			refuse(field("fault"), "Say in two or three words what is wrong where it is not so.")
		}
		if faults[strings.ToLower(p.Fault)] {
			refuse(field("fault"), "Two points say this, so what is found could not be told apart.")
		}
		faults[strings.ToLower(p.Fault)] = true
		bad = append(bad, tooLong(field("look"), p.Look, 80)...)
		bad = append(bad, tooLong(field("fault"), p.Fault, 40)...)
		bad = append(bad, tooLong(field("tell"), p.Tell, 160)...)
		if strings.ContainsAny(p.Fault, ",;") {
			refuse(field("fault"), "Leave commas out: one fault to a point.")
		}
	}
	return apperr.InvalidFields(bad)
}

// On gives the points that are looked at.
func (l CheckList) On() []CheckPoint {
	return slices.DeleteFunc(slices.Clone(l.Points), func(p CheckPoint) bool { return p.Off })
}

// Faults lists what a checker may tick, pins and needles last.
func (l CheckList) Faults() []string {
	var list []string
	for _, p := range l.On() {
		list = append(list, p.Fault)
	}
	return append(list, PinsFound)
}

// point gives the point that is looked at under this fault.
func (l CheckList) point(fault string) (CheckPoint, bool) {
	if fault == PinsFound {
		return CheckPoint{Kind: CheckPins, Fault: PinsFound}, true
	}
	for _, p := range l.Points {
		if p.Fault == fault {
			return p, true
		}
	}
	return CheckPoint{}, false
}

// Expected is what a pillowcase of one size measures, laid flat.
type Expected struct {
	Washed    sizing.Rect // after washing: the finished size
	Unwashed  sizing.Rect // before its first wash; the same where the cloth was washed before it was cut
	Tolerance length.Length
}

// Expect says what a size measures in a drive with this washing rule. Cloth that is
// cut larger for its first wash is larger until then, by the shrinkage the size was
// cut for: wanted / (1 − s).
func (l CheckList) Expect(spec sizing.Spec, washing string) Expected {
	e := Expected{Washed: sizing.Rect{Width: spec.Width, Length: spec.Length}, Tolerance: l.Tolerance}
	e.Unwashed = e.Washed
	if washing == CutLarger {
		e.Unwashed = sizing.Rect{
			Width:  sizing.CutLarger(spec.Width, spec.Shrink.Across, 0),
			Length: sizing.CutLarger(spec.Length, spec.Shrink.Along, 0),
		}
	}
	return e
}

// Shrinks says whether a pillowcase still becomes smaller in its first wash.
func (e Expected) Shrinks() bool { return e.Unwashed != e.Washed }

// fits says whether what was measured is within the tolerance.
func (e Expected) fits(m sizing.Rect, washed bool) bool {
	want := e.Unwashed
	if washed {
		want = e.Washed
	}
	off := func(a, b length.Length) bool { return a-b > e.Tolerance || b-a > e.Tolerance }
	return !off(m.Width, want.Width) && !off(m.Length, want.Length)
}

// Failed is pillowcases of a stack that did not pass, with what is wrong with each of them.
type Failed struct {
	N       int
	To      CaseState // CaseToMend or CaseNotUsable
	Reasons []string  // from CheckList.Faults
}

// Checked is the finding on some pillowcases of one stack: Good of them passed all
// that was looked at, the others failed.
type Checked struct {
	Good     int
	Failed   []Failed
	Looked   []string     // the faults of the points that every one was looked at for
	Measured *sizing.Rect // the good one that is furthest off, laid flat
	Unwashed bool         // it was not washed yet since it was sewn
	Initials string       // of who checked
	Note     string       // is kept apart from the ledger: people write names into notes
	Pins     bool         // every one of them was looked through for pins and needles
}

// Count gives how many of the finding end in a state.
func (c Checked) Count(to CaseState) int {
	n := 0
	if to == CaseGood {
		n = c.Good
	}
	for _, f := range c.Failed {
		if f.To == to {
			n += f.N
		}
	}
	return n
}

func (c Checked) all() int {
	return c.Count(CaseGood) + c.Count(CaseToMend) + c.Count(CaseNotUsable)
}

// Check books the finding on pillowcases that came back: an entry for those that
// passed and one for each row of those that did not. Every one is looked
// through for pins and needles, always: without that none is good. By field it
// refuses more than wait there, nothing at all, a fault without its reason (row1_n
// and row1_reasons are the first row's) and a measure that does not fit.
func (s Stack) Check(c Checked, l CheckList, expect Expected, u length.Unit) ([]CaseEntry, error) {
	if s.State != CaseSewn {
		return nil, apperr.Conflict("Only pillowcases that wait to be checked can be checked.")
	}
	var bad []apperr.Field
	refuse := func(field, format string, args ...any) {
		bad = append(bad, apperr.Field{Name: field, Why: fmt.Sprintf(format, args...)})
	}
	negative := c.Good < 0
	for i, f := range c.Failed {
		row := i + 1
		negative = negative || f.N < 0
		switch {
		case f.N == 0 && len(f.Reasons) > 0:
			refuse(fmt.Sprintf("row%d_n", row), "Say how many of them.")
		case f.N > 0 && f.To != CaseToMend && f.To != CaseNotUsable:
			refuse(fmt.Sprintf("row%d_to", row), "Choose: to mend, or not usable.")
		case f.N > 0 && len(f.Reasons) == 0 && strings.TrimSpace(c.Note) == "":
			refuse(fmt.Sprintf("row%d_reasons", row), "Say what is wrong with them, so that whoever sews learns of it.")
		}
		for _, r := range f.Reasons {
			if !slices.Contains(l.Faults(), r) {
				refuse(fmt.Sprintf("row%d_reasons", row), "Choose what is wrong from the list; anything else goes into the note.")
				break
			}
		}
	}
	switch together := c.all(); {
	case negative:
		refuse("good", "Counts start at 0.")
	case together == 0:
		refuse("good", "Say how many are good, to mend or not usable.")
	case together > s.N:
		refuse("good", "That makes %d, and %s here to check. Bring in those that are more without a kit.", together, wait(s.N))
	}
	if !c.Pins {
		refuse("pins", "Look through every one for pins and needles first, then tick this. A pin can hurt a child.")
	}
	bad = append(bad, c.measured(l, expect, u)...)
	bad = append(bad, tooLong("initials", c.Initials, 12)...)
	bad = append(bad, tooLong("note", c.Note, 2000)...)
	if len(bad) > 0 {
		return nil, apperr.InvalidFields(bad)
	}
	var list []CaseEntry
	for _, line := range c.Lines() {
		e := s.entry(line.N, line.To)
		e.Reason = strings.Join(line.Reasons, ", ")
		list = append(list, e)
	}
	return list, nil
}

// Lines gives the finding as its rows: what passed first, then what did not, each
// row as it was told. Check gives an entry for each in this order.
func (c Checked) Lines() []Failed {
	var lines []Failed
	if c.Good > 0 {
		lines = append(lines, Failed{N: c.Good, To: CaseGood})
	}
	for _, f := range c.Failed {
		if f.N > 0 {
			lines = append(lines, f)
		}
	}
	return lines
}

// measured refuses good pillowcases whose size was looked at and not measured, or
// is not what it should be.
func (c Checked) measured(l CheckList, expect Expected, u length.Unit) []apperr.Field {
	say := func(r sizing.Rect) string {
		return length.Format(r.Width, u) + " wide and " + length.Format(r.Length, u) + " long"
	}
	looked := slices.ContainsFunc(l.On(), func(p CheckPoint) bool { return p.Kind == CheckSize && slices.Contains(c.Looked, p.Fault) })
	switch m := c.Measured; {
	case m == nil && looked && c.Good > 0:
		return []apperr.Field{{Name: "width", Why: "Write what the one that is furthest off measures, or leave the tick at the size away."}}
	case m == nil || c.Good == 0:
		return nil
	case m.Width <= 0 || m.Length <= 0:
		return []apperr.Field{{Name: "width", Why: "Write both, the width and the length."}}
	case !expect.fits(*m, !c.Unwashed):
		want := expect.Washed
		if c.Unwashed {
			want = expect.Unwashed
		}
		return []apperr.Field{{Name: "width", Why: fmt.Sprintf("That is too far off to be good: it should be %s, give or take %s. Count it with those that did not pass, and measure the next.",
			say(want), length.Format(expect.Tolerance, u))}}
	}
	return nil
}

func wait(n int) string {
	if n == 1 {
		return "1 waits"
	}
	return fmt.Sprintf("%d wait", n)
}

// FaultFound is how often one fault was found among pillowcases that were checked.
type FaultFound struct {
	Fault  string `db:"fault"`
	N      int    `db:"n"`      // pillowcases with it since a day
	Makers int    `db:"makers"` // from how many kits, or hands without one, those came
	Ever   int    `db:"ever"`   // pillowcases with it since the drive began
}

// Findings is what the checking table found: how many were looked at since a day,
// and since the drive began, and with what fault how many of them.
type Findings struct {
	Since  time.Time
	Of     int
	OfEver int
	Faults []FaultFound // most since that day first
}

// Lesson is one thing to tell those who sew.
type Lesson struct {
	Kind  CheckKind
	Fault string
	Tell  string // the drive's own words; empty: as the language has it for the kind
	N, Of int
}

// What makes a fault worth telling everybody: fewer are chance, and what comes from
// one bag alone is said to one person, kindly, not printed for all. A pin is told
// from the first one on. Common practice, no source.
const (
	leastFaults  = 3
	leastMakers  = 2
	leastChecked = 20
	leastShare   = 20 // one in so many
	mostLessons  = 3

	// LessonDays is how far back what sewers are told looks.
	LessonDays = 30
)

// Lessons gives the few things that came up often enough to matter, most often
// first, pins before all. It names nobody.
func (f Findings) Lessons(l CheckList) []Lesson {
	var list []Lesson
	for _, found := range f.Faults {
		p, known := l.point(found.Fault)
		if !known || p.Off || found.N == 0 {
			continue
		}
		told := Lesson{Kind: p.Kind, Fault: p.Fault, Tell: p.Tell, N: found.N, Of: f.Of}
		switch {
		case p.Kind == CheckPins:
			list = slices.Insert(list, 0, told)
		case found.N >= leastFaults && found.Makers >= leastMakers && f.Of >= leastChecked && found.N*leastShare >= f.Of:
			list = append(list, told)
		}
	}
	return list[:min(len(list), mostLessons)]
}
