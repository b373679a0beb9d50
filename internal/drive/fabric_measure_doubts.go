package drive

import (
	"fmt"

	"boltward/internal/length"
)

// What cloth hardly ever measures, though it may: in inches cloth beyond 72 in is backing, and
// what was measured in centimetres lies there too, from 90 up; in centimetres the inches of a
// bolt, 36 to 62, on more than a metre. Whole bolts end at about 100 yd (common practice, no
// source). Such sizes are taken and asked about, never refused.
const (
	wideForInches      = 72
	leastForCentimetre = 36
	mostForCentimetre  = 62
	longBolt           = 120
)

// Plenty is a length that is more often a wrong unit than a bolt where nobody wrote the unit (common practice, no source).
const Plenty = 25 * length.Yard

// Doubts says what of a measuring had better be looked at once more, though it is taken as it
// is: sizes that are usual in the other unit, and a border whose depth nobody gave.
func (m Measured) Doubts(d Drive) []string {
	said := m.DoubtedSizes(d)
	if m.Border != "" && m.BorderDepth == 0 {
		said = append(said, "The border stays on, since its depth was not given: until its strip is parted off the cloth makes bodies only, no cuff and no accent, and they lie along it.")
	}
	return said
}

// DoubtedSizes is Doubts without the border: a spreadsheet says of that what it made of it.
func (m Measured) DoubtedSizes(d Drive) []string {
	for _, c := range m.Cuts {
		if doubt := c.doubt(d); doubt != "" {
			return []string{doubt} // the others of a lot are as wide, and one answer is enough
		}
	}
	return nil
}

func (c Cuttings) doubt(d Drive) string {
	unit, yardage := d.Unit, d.Yardage()
	wide, n := max(c.Width, c.UsableWidth), longBolt*yardage.Size()
	switch {
	case c.Length > n:
		return fmt.Sprintf("%s long is more than a whole bolt holds. Right if it is so; was it measured in another unit than %s?", length.Format(c.Length, yardage), yardage)
	case !unit.Metric() && wide > wideForInches*unit.Size():
		return fmt.Sprintf("%s wide is the width of backing. Right if it is so; or were those centimetres?", length.Format(wide, unit))
	case unit.Metric() && c.Length > length.Metre && wide >= leastForCentimetre*unit.Size() && wide <= mostForCentimetre*unit.Size():
		return fmt.Sprintf("%s wide is narrow for so long a piece. Right if it is so; or were those inches?", length.Format(wide, unit))
	}
	return ""
}
