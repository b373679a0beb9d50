package drive

import (
	"fmt"

	"boltward/internal/length"
)

// Words says an entry of the fabric ledger as people would, with lengths and areas
// in the drive's units.
func (e BookedFabric) Words(d Drive) string {
	text := e.words(d)
	if e.Reason != "" {
		text += " (" + e.Reason + ")"
	}
	return text
}

func (e BookedFabric) words(d Drive) string {
	size := e.size(d)
	other := 0
	if e.OtherPiece != nil {
		other = *e.OtherPiece
	}
	switch e.Kind {
	case FabricTagged:
		return "Tagged"
	case FabricMeasured:
		return "Measured: " + size + " usable"
	case FabricSquaredOff:
		return "Squared off and trimmed of its selvedges: " + size
	case FabricWashLoss:
		return "Lost in the wash: " + size
	case FabricParted:
		if e.From == Origin {
			return fmt.Sprintf("Parted from piece %d: %s", other, size)
		}
		return fmt.Sprintf("Parted off as piece %d: %s", other, size)
	case FabricPromised:
		return "Promised" + e.plan() + ": " + size
	case FabricReleased:
		return "Free again" + e.from() + ": " + size
	case FabricCut:
		return "Cut into panels" + e.sheet() + ": " + size
	case FabricOffcut:
		return "Left over as offcuts" + e.sheet() + ": " + size
	case FabricPutBack:
		if e.From == Origin {
			return fmt.Sprintf("Put back on the shelf from piece %d: %s", other, size)
		}
		return fmt.Sprintf("Put back on the shelf as piece %d: %s", other, size)
	case FabricGivenAway:
		return "Given away: " + size
	case FabricDiscarded:
		return "Discarded: " + size
	case FabricRecounted:
		if e.To == Free {
			return "Recounted, more than was booked: " + size
		}
		return "Recounted, less than was booked: " + size
	case FabricUndone:
		if e.Piece == 0 {
			return "Tagged by mistake: taken back, and the number is given to no other lot"
		}
		return "Undone, " + accountWords(e.From) + " again " + accountWords(e.To) + ": " + size
	}
	return string(e.Kind) + ": " + size
}

// size gives a rectangle where the entry is one, else an area. What a wash took
// and what came with several parts is an area, whatever length it carries.
func (e FabricEntry) size(d Drive) string {
	loose := e.Kind == FabricWashLoss || e.To == Parted && e.Deed != nil
	if !loose && e.Length > 0 && e.Area%length.Area(e.Length) == 0 {
		return OnTape(length.Length(e.Area/length.Area(e.Length)), d.Unit) + " × " + OnTape(e.Length, d.Yardage())
	}
	return e.Area.Format(d.Unit)
}

func (e FabricEntry) plan() string {
	if e.Plan == nil {
		return e.sheet()
	}
	return fmt.Sprintf(" to plan %d", *e.Plan) + e.sheet()
}

func (e FabricEntry) from() string {
	if e.Plan == nil {
		return ""
	}
	return fmt.Sprintf(" from plan %d", *e.Plan)
}

func (e FabricEntry) sheet() string {
	if e.Sheet == nil {
		return ""
	}
	return fmt.Sprintf(" on sheet %d", *e.Sheet)
}

func accountWords(a Account) string {
	switch a {
	case Outside:
		return "not booked"
	case Origin:
		return "part of its piece"
	case Out:
		return "out"
	}
	return string(a)
}
