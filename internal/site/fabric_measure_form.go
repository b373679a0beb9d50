package site

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/workbook"
)

// measureForm is a measuring as typed. Fields with a number are for pieces of
// another size in the same lot.
type measureForm struct {
	Version     string      `form:"version"`
	Instead     string      `form:"instead"` // yes: in place of what somebody else measured
	Length      string      `form:"length"`
	Width       string      `form:"width"`
	Usual       string      `form:"usual"` // a usual width that was tapped
	Usable      string      `form:"usable"`
	Pieces      string      `form:"pieces"`
	Length2     string      `form:"length2"`
	Width2      string      `form:"width2"`
	Pieces2     string      `form:"pieces2"`
	Length3     string      `form:"length3"`
	Width3      string      `form:"width3"`
	Pieces3     string      `form:"pieces3"`
	Ends        string      `form:"ends"`
	Weight      string      `form:"weight"`
	Fibre       string      `form:"fibre"`
	Washed      string      `form:"washed"`
	Print       string      `form:"print"`
	TrimOK      string      `form:"trim_ok"`
	Turn        string      `form:"turn"`
	Border      string      `form:"border"`
	BorderDepth string      `form:"border_depth"`
	Colour      []string    `form:"colour"` // tapped
	Colours     string      `form:"colours"`
	Theme       []string    `form:"theme"` // tapped
	Themes      string      `form:"themes"`
	Flaw        [3]flawForm `form:"flaw"`
	Flaws       string      `form:"flaws"`
	Shelf       string      `form:"shelf"`
	Then        string      `form:"then"` // next: the next lot that waits
}

// measureFormOf starts the form with what is known of a lot: from tagging, or
// from a measuring that stands or was undone.
func measureFormOf(l drive.Lot, d drive.Drive) measureForm {
	f := measureForm{
		Version: strconv.Itoa(l.Version), Pieces: strconv.Itoa(l.PiecesTold), Ends: l.Ends, Weight: l.Weight, Fibre: l.Fibre,
		Washed: yes(l.Washed), Print: l.Print, TrimOK: yes(l.TrimOK), Turn: l.Turn, Border: l.Border, Shelf: l.Shelf,
		Colour: l.Colours, Theme: l.Themes,
	}
	if l.Recounted != nil {
		f.Pieces = strconv.Itoa(*l.Recounted)
	}
	if l.RawLength != nil && l.RawWidth != nil {
		f.Length, f.Width = length.Format(*l.RawLength, d.Yardage()), length.Format(*l.RawWidth, d.Unit)
	}
	if f.Weight == "" {
		f.Weight = drive.Weights()[0]
	}
	if f.Fibre == "" {
		f.Fibre = drive.FibreNotSure
	}
	return f
}

// like takes over what mostly stays the same from one lot to the next on a pile:
// what the cloth is made of, how it was cut and where it goes.
func (f measureForm) like(l drive.Lot) measureForm {
	f.Weight, f.Fibre, f.Washed, f.Ends = l.Weight, l.Fibre, yes(l.Washed), l.Ends
	if f.Shelf == "" {
		f.Shelf = l.Shelf
	}
	return f
}

func (f measureForm) version() int {
	n, err := strconv.Atoi(f.Version)
	if err != nil {
		return 0 // no lot stands at it, so the store says that it changed
	}
	return n
}

// colours and themes are what was tapped and what was typed beside.
func (f measureForm) colours() []string {
	return drive.TidyWords(slices.Concat(f.Colour, drive.Words(f.Colours)))
}

func (f measureForm) themes() []string {
	return drive.TidyWords(slices.Concat(f.Theme, drive.Words(f.Themes)))
}

// measured reads the form, with what is wrong with it by field. told is how many
// pieces were counted at the door.
func (f measureForm) measured(d drive.Drive, told int) (drive.Measured, map[string]string) {
	problems := map[string]string{}
	m := drive.Measured{
		Make: drive.Make{
			Fibre: f.Fibre, Weight: f.Weight, Washed: f.Washed == "yes", Print: f.Print, Turn: f.Turn, Border: f.Border,
			TrimOK: f.TrimOK == "yes", Colours: f.colours(), Themes: f.themes(),
		},
		Torn:        f.Ends == drive.EndsTorn,
		BorderDepth: clothLength(problems, "border_depth", f.BorderDepth, d.Unit),
		Shelf:       &f.Shelf,
	}
	for i, typed := range []struct{ long, wide, usable, pieces string }{
		{f.Length, f.width(problems), f.Usable, f.Pieces}, {f.Length2, f.Width2, "", f.Pieces2}, {f.Length3, f.Width3, "", f.Pieces3},
	} {
		suffix := ""
		if i > 0 {
			if suffix = strconv.Itoa(i + 1); typed.long+typed.wide+typed.pieces == "" {
				continue
			}
			told = 1
		}
		m.Cuts = append(m.Cuts, cuttings(problems, suffix, typed.long, typed.wide, typed.usable, typedCount(problems, "pieces"+suffix, typed.pieces, told), d))
	}
	flaws, _, err := workbook.ParseFlaws(f.Flaws, d.Unit)
	if err != nil {
		problem(problems, "flaws", "%s", upperFirst(err.Error())+".")
	}
	for i, row := range f.Flaw {
		if row.said() {
			flaws = append(flaws, row.flaw(problems, "flaw"+strconv.Itoa(i+1)+"_", m.Cuts[0], d))
		}
	}
	if len(flaws) > 0 {
		m.Cuts = flawed(m.Cuts, flaws)
	}
	return m, problems
}

// width is the width that was typed or the usual one that was tapped.
func (f measureForm) width(problems map[string]string) string {
	switch {
	case f.Usual == "":
		return f.Width
	case f.Width == "" || f.Width == f.Usual:
		return f.Usual
	}
	problem(problems, "width", "%s was typed and %s tapped: empty the field, or tap as typed.", f.Width, f.Usual)
	return f.Width
}

// doubts says what had better be looked at once more: bolts are in yards or metres here and widths in inches or
// centimetres, so a length without a unit is asked about sooner than one with it.
func (f measureForm) doubts(m drive.Measured, d drive.Drive) []string {
	doubts := m.Doubts(d)
	if long := m.Cuts[0].Length; long > drive.Plenty && length.IsBare(f.Length) && len(m.DoubtedSizes(d)) == 0 {
		doubts = append(doubts, fmt.Sprintf("%s is a lot of cloth in one piece. Right if it is so; or was it %s %s?", length.Format(long, d.Yardage()), f.Length, d.Unit))
	}
	return doubts
}

// flawed puts the flaws on one piece of the first size; the others of that size
// have none.
func flawed(cuts []drive.Cuttings, flaws []flawOn) []drive.Cuttings {
	first := &cuts[0]
	if first.Pieces <= 1 {
		first.Flaws = flaws
		return cuts
	}
	good := *first
	good.Pieces--
	first.Pieces, first.Flaws = 1, flaws
	return append(cuts, good)
}

// cuttings reads pieces of one size. Both sides may stand in the length: 18 x 22
// in, the first along the selvedge.
func cuttings(problems map[string]string, suffix, long, wide, usable string, pieces int, d drive.Drive) drive.Cuttings {
	c := drive.Cuttings{Pieces: pieces, UsableWidth: clothLength(problems, "usable"+suffix, usable, d.Unit)}
	if !length.IsRect(long) {
		c.Length = clothLength(problems, "length"+suffix, long, d.Yardage())
		c.Width = clothLength(problems, "width"+suffix, wide, d.Unit)
		return c
	}
	first, second, err := length.ParseRect(long, d.Unit, length.Down)
	switch {
	case err != nil:
		problem(problems, "length"+suffix, "%s", upperFirst(err.Error()))
	case wide != "":
		problem(problems, "width"+suffix, "The length gives both sides already. Empty one of the two.")
	}
	c.Length, c.Width = first, second
	return c
}

// clothLength reads a length of cloth, rounded down; a bare number is in unit. 0
// where nothing stands.
func clothLength(problems map[string]string, name, typed string, unit length.Unit) length.Length {
	if typed == "" {
		return 0
	}
	l, err := length.Parse(typed, unit, length.Down)
	if err != nil {
		problem(problems, name, "%s", upperFirst(err.Error()))
	}
	return l
}

func upperFirst(s string) string {
	r := []rune(s)
	if len(r) == 0 {
		return s
	}
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}
