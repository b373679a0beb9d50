package drive

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"boltward/internal/apperr"
)

// Matter is how much a line matters when there is not enough for everybody.
type Matter string

// The words for it; MatterOwn stands for a weight that a person typed.
const (
	MatterMust     Matter = "must"
	MatterShould   Matter = "should"
	MatterIfEnough Matter = "if there is enough"
	MatterOwn      Matter = "own"
)

// Weight is what one pillowcase of the line is worth to the planner: one "must"
// outweighs ten "should", one "should" ten "if there is enough". It is 0 for MatterOwn.
func (m Matter) Weight() int {
	switch m {
	case MatterMust:
		return 100
	case MatterShould:
		return 10
	case MatterIfEnough:
		return 1
	}
	return 0
}

// Asked is one line of what a recipient asks for: how many, in any of these
// sizes, by when.
type Asked struct {
	Number       int64      `db:"number"`
	Recipient    int64      `db:"recipient"`
	Sizes        []int64    `db:"sizes"` // any of them fills the line; in ascending order
	Wanted       int        `db:"wanted"`
	Due          *time.Time `db:"due"` // a day; nil where no day was agreed
	Matter       Matter     `db:"matter"`
	Weight       int        `db:"weight"`
	ThemesWanted []string   `db:"themes_wanted"` // none: any theme
	ThemesAvoid  []string   `db:"themes_avoid"`
	KitCases     *int       `db:"kit_cases"` // most pillowcases in one kit; nil: as the drive has it
	Note         string     `db:"note"`
	Closed       bool       `db:"closed"` // nothing more is planned for it
	CreatedAt    time.Time  `db:"created_at"`
	Version      int        `db:"version"`
	Beyond       Beyond     `db:"-" json:",omitempty"` // what a change does with good ones that are then too many
}

// Tidy gives the line with its lists in order and the weight that its words stand for.
func (a Asked) Tidy() Asked {
	a.Sizes = slices.Clone(a.Sizes)
	slices.Sort(a.Sizes)
	a.Sizes = slices.Compact(a.Sizes)
	a.ThemesWanted, a.ThemesAvoid = TidyWords(a.ThemesWanted), TidyWords(a.ThemesAvoid)
	a.Note = strings.TrimSpace(a.Note)
	if w := a.Matter.Weight(); w > 0 {
		a.Weight = w
	}
	return a
}

// Check says what is wrong with a line before it is kept, by field. today is
// the day in the drive's zone; before is the line as it stood, nil for a new one:
// a day that has passed may stay, but not be chosen anew.
func (a Asked) Check(today time.Time, before *Asked) error {
	var bad []apperr.Field
	refuse := func(field, why string) { bad = append(bad, apperr.Field{Name: field, Why: why}) }
	if a.Recipient <= 0 {
		refuse("recipient", "Choose a recipient from the list.")
	}
	if len(a.Sizes) == 0 {
		refuse("sizes", "Choose at least one size that fills this line.")
	}
	if a.Wanted < 1 || a.Wanted > 100_000 {
		refuse("wanted", "Ask for 1 to 100,000 pillowcases.")
	}
	if a.Matter.Weight() == 0 && a.Matter != MatterOwn {
		refuse("matter", "Choose how much it matters from the list.")
	}
	if a.Matter == MatterOwn && (a.Weight < 1 || a.Weight > 10_000) {
		refuse("weight", "Give a weight from 1 to 10,000; a must counts 100, a should 10.")
	}
	if a.KitCases != nil && (*a.KitCases < 1 || *a.KitCases > 50) {
		refuse("kit_cases", "A kit holds 1 to 50 pillowcases.")
	}
	if why := a.wrongDue(today, before); why != "" {
		refuse("due", why)
	}
	for _, theme := range a.ThemesAvoid {
		if slices.Contains(a.ThemesWanted, theme) {
			refuse("themes_avoid", strconv.Quote(theme)+" stands among the themes wanted too. Take it out of one of them.")
			break
		}
	}
	bad = append(bad, tooLong("themes_wanted", strings.Join(a.ThemesWanted, ", "), 500)...)
	bad = append(bad, tooLong("themes_avoid", strings.Join(a.ThemesAvoid, ", "), 500)...)
	bad = append(bad, tooLong("note", a.Note, 2000)...)
	return apperr.InvalidFields(bad)
}

func (a Asked) wrongDue(today time.Time, before *Asked) string {
	if a.Due == nil || before != nil && before.Due != nil && before.Due.Equal(*a.Due) {
		return ""
	}
	if a.Due.Before(today) {
		return "That day has passed. Give a day from today on, or leave it empty."
	}
	if a.Due.After(today.AddDate(10, 0, 0)) {
		return "That is more than ten years away. Look at the year again."
	}
	return ""
}

// Counts is how many pillowcases of a line stand in each state.
type Counts map[CaseState]int

// Sum adds up some states.
func (c Counts) Sum(states ...CaseState) int {
	n := 0
	for _, s := range states {
		n += c[s]
	}
	return n
}

// Alive is how many count towards what was asked for.
func (c Counts) Alive() int {
	n := 0
	for s, k := range c {
		if s.Alive() {
			n += k
		}
	}
	return n
}

// Standing is how far a line, or several together, has come. For each line
// Asked + Over = Delivered + Good + Back + Out + Planned + Missing.
type Standing struct {
	Asked     int
	Delivered int // left for the recipient, confirmed or not yet
	Good      int // checked, packed or waiting for a box
	Back      int // came back, to check or to mend
	Out       int // with volunteers
	Planned   int // planned or cut, still in the house
	Missing   int // nothing stands for these yet
	Over      int // more than were asked for
}

// Standing says how far a line has come that asks for this many.
func (c Counts) Standing(wanted int) Standing {
	alive := c.Alive()
	return Standing{
		Asked:     wanted,
		Delivered: c.Sum(CaseDelivered, CaseConfirmed),
		Good:      c.Sum(CaseGood, CasePacked),
		Back:      c.Sum(CaseSewn, CaseToMend),
		Out:       c[CaseOut],
		Planned:   c.Sum(CasePlanned, CaseCut),
		Missing:   max(0, wanted-alive),
		Over:      max(0, alive-wanted),
	}
}

// Lacks is how many are neither delivered nor good yet.
func (s Standing) Lacks() int { return max(0, s.Asked-s.Delivered-s.Good) }

// Plus adds the standing of another line.
func (s Standing) Plus(o Standing) Standing {
	return Standing{
		Asked: s.Asked + o.Asked, Delivered: s.Delivered + o.Delivered, Good: s.Good + o.Good, Back: s.Back + o.Back,
		Out: s.Out + o.Out, Planned: s.Planned + o.Planned, Missing: s.Missing + o.Missing, Over: s.Over + o.Over,
	}
}

// StillToPlan is how many pillowcases a plan should still make for the line:
// what nothing stands for yet, raised by the drive's share (percent) of kits
// that never come back, rounded up. Nothing is planned for a closed line.
func (a Asked) StillToPlan(c Counts, spareShare int) int {
	missing := max(0, a.Wanted-c.Alive())
	if a.Closed {
		return 0
	}
	return (missing*(100+spareShare) + 99) / 100
}

// AskedLine is a line with what people read beside it.
type AskedLine struct {
	Asked
	RecipientName string   `db:"recipient_name"`
	SizeNames     []string `db:"size_names"` // in the order of Sizes
	Counts        Counts   `db:"counts"`
	ToPlan        int      `db:"-"` // how many a plan should still make, see StillToPlan
}

// Standing says how far the line has come.
func (l AskedLine) Standing() Standing { return l.Counts.Standing(l.Wanted) }

// Course is how a line stands against the day it is due, as far as it can be
// told without foretelling when kits come back.
type Course string

// From done to undone.
const (
	CourseClosed    Course = "closed"
	CourseDelivered Course = "delivered" // all of it has left for the recipient
	CourseLate      Course = "late"      // the day has passed and something was not delivered
	CourseReady     Course = "ready"     // what is left is good and can go
	CourseUnplanned Course = "unplanned" // nothing stands for some of it yet
	CourseUnderWay  Course = "under way" // all of it stands somewhere
)

// Course says how the line stands on a day.
func (l AskedLine) Course(today time.Time) Course {
	s := l.Standing()
	switch {
	case s.Delivered >= l.Wanted:
		return CourseDelivered
	case l.Closed:
		return CourseClosed
	case l.Due != nil && l.Due.Before(today):
		return CourseLate
	case s.Delivered+s.Good >= l.Wanted:
		return CourseReady
	case s.Missing > 0:
		return CourseUnplanned
	}
	return CourseUnderWay
}
