package workbook

import (
	"strings"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// Below this a width is that of a piece cut from wider cloth, such as a fat
// quarter, and both its sides were measured.
const cutPiece = 30 * length.Inch

// sides reads length and width. Both may stand in the length column, as 18 x 22
// in; the first runs along the selvedge. It says false where the line gives no size.
func (r *entry) sides(t *drive.Tagging) (drive.Cuttings, bool) {
	cell := r.text("length")
	yardage, width := r.bareUnits()
	if length.IsRect(cell) {
		return r.bothSides(cell)
	}
	usable, saidUsable := r.size("usable", width)
	wide, saidWide := r.size("width", width)
	if cell == "" {
		r.noLength(t)
		return drive.Cuttings{}, false
	}
	long, said := r.size("length", yardage)
	if r.tooLong(long) {
		r.note("%s is a lot of cloth in one piece. If another unit was meant, write it: %s %s.", length.Format(long, yardage), cell, r.d.Unit)
	}
	if said && !saidWide && !saidUsable && r.text("width") == "" && r.text("usable") == "" {
		r.fault("width", "Give the width too, from selvedge to selvedge or what is usable of it, or both sides as %s.", r.sidesLike())
	}
	return drive.Cuttings{Length: long, Width: wide, UsableWidth: usable}, true
}

// tooLong says whether a length is one that nobody wrote the unit of, and hardly a bolt has.
func (r *entry) tooLong(long length.Length) bool {
	cell := r.text("length")
	return long > drive.Plenty && length.IsBare(cell) && !length.IsRect(cell)
}

// noLength says what happens to a line without a length: a lot that waits to be
// measured, unless it looks as if the length was forgotten.
func (r *entry) noLength(t *drive.Tagging) {
	kind := strings.ToLower(t.Kind)
	switch {
	case r.text("width") != "" || r.text("usable") != "":
		r.fault("length", "The width is given and no length. Give both, or neither until it is measured.")
	case strings.Contains(kind, "fat quarter"), strings.Contains(kind, "fat eighth"), strings.Contains(kind, "fq"):
		r.note("It waits to be measured: fat quarters come in several sizes. Write both sides, such as %s, to count on it now.", r.sidesLike())
	default:
		r.note("It waits to be measured.")
	}
}

// sidesLike shows how both sides of a cut piece are written, in the drive's unit.
func (r *entry) sidesLike() string {
	if r.d.Unit.Metric() {
		return "46 x 56 cm"
	}
	return "18 x 22 in"
}

func (r *entry) bothSides(cell string) (drive.Cuttings, bool) {
	unit := r.d.Unit
	if u := r.unit(); u == length.In || u == length.CM || u == length.MM {
		unit = u
	}
	long, wide, err := length.ParseRect(cell, unit, length.Down)
	if err != nil {
		r.fault("length", "%s", sentence(err))
		return drive.Cuttings{}, true
	}
	if other := r.text("width"); other != "" {
		if w, said := r.size("width", unit); said && w != wide {
			r.fault("width", "The length gives both sides, and the width another one. Keep one of the two.")
		}
	}
	if long == 0 || wide == 0 {
		r.fault("length", "A side of nothing is no cloth; leave the cell empty until it is measured.")
	}
	c := drive.Cuttings{Length: long, Width: wide}
	if usable, said := r.size("usable", unit); said {
		c.UsableWidth = usable
	} else if wide < cutPiece {
		c.Width, c.UsableWidth = 0, wide
		r.note("Both sides were measured, so all %s of its width count.", length.Format(wide, r.d.Unit))
	}
	return c, true
}

// bareUnits gives what a bare number means in the length column and in the width
// column. A unit column speaks of the length; of the width only where it can.
func (r *entry) bareUnits() (yardage, width length.Unit) {
	yardage, width = r.d.Yardage(), r.d.Unit
	switch u := r.unit(); u {
	case length.Yd, length.Ft:
		return u, length.In
	case length.M:
		return u, length.CM
	case length.In, length.CM, length.MM:
		return u, u
	}
	return yardage, width
}

// unit reads the unit column; empty where the line names none.
func (r *entry) unit() length.Unit {
	cell := r.text("unit")
	if cell == "" {
		return ""
	}
	unit, err := length.ParseUnit(cell)
	if err != nil {
		r.fault("unit", "%s", sentence(err))
	}
	return unit
}
