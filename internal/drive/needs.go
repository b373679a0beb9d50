package drive

import (
	"cmp"
	"slices"
	"time"
)

// NeedKind is what sort of thing needs somebody.
type NeedKind string

// What can need somebody, in order of harm: first what a recipient already
// feels, then what it will feel this week, then what may be gone for good, then
// what only waits.
const (
	NeedLedgers      NeedKind = "ledgers"
	NeedLineLate     NeedKind = "line late"
	NeedLineDue      NeedKind = "line due"
	NeedKitsLate     NeedKind = "kits late"
	NeedSaidCannot   NeedKind = "said cannot"
	NeedSaidLonger   NeedKind = "said longer"
	NeedCountsDiffer NeedKind = "counts differ"
	NeedSupplyShort  NeedKind = "supply short"
	NeedClothShort   NeedKind = "cloth short"
	NeedSheetOut     NeedKind = "sheet out"
	NeedSheetShort   NeedKind = "sheet short"
	NeedBackup       NeedKind = "backup"
	NeedKitsSilent   NeedKind = "kits silent"
	NeedRemindAstray NeedKind = "reminder astray"
	NeedChangeReady  NeedKind = "change ready"
	NeedFile         NeedKind = "file"
	NeedStocktake    NeedKind = "stocktake"
	NeedWardSaid     NeedKind = "ward said"
	NeedToSend       NeedKind = "to send"
	NeedBoxes        NeedKind = "boxes"
	NeedConfirmation NeedKind = "confirmation"
	NeedSaidFinished NeedKind = "said finished"
	NeedToCheck      NeedKind = "to check"
	NeedToMend       NeedKind = "to mend"
	NeedToPack       NeedKind = "to pack"
	NeedToPromise    NeedKind = "to promise"
	NeedKitsReady    NeedKind = "kits ready"
	NeedKitsCut      NeedKind = "kits cut"
	NeedPlanReady    NeedKind = "plan ready"
	NeedPlanFailed   NeedKind = "plan failed"
	NeedSheets       NeedKind = "sheets"
	NeedToPlan       NeedKind = "to plan"
	NeedToMeasure    NeedKind = "to measure"
	NeedRemind       NeedKind = "remind"
	NeedKitsDue      NeedKind = "kits due"
)

// PlanBusy is a plan that is being worked out: nobody is needed, and nobody need ask for one.
const PlanBusy NeedKind = "plan busy"

// NeedKinds gives every kind that needs somebody, in order of harm.
func NeedKinds() []NeedKind {
	return []NeedKind{
		NeedLedgers, NeedLineLate, NeedLineDue, NeedKitsLate, NeedCountsDiffer, NeedSupplyShort, NeedClothShort, NeedSheetOut, NeedConfirmation,
		NeedSaidCannot, NeedSaidLonger, NeedSheetShort, NeedBackup, NeedKitsSilent, NeedRemindAstray, NeedChangeReady, NeedPlanFailed, NeedFile, NeedStocktake,
		NeedWardSaid, NeedToSend, NeedBoxes, NeedSaidFinished, NeedToCheck, NeedToMend,
		NeedToPack, NeedToPromise, NeedRemind, NeedKitsReady, NeedKitsCut, NeedPlanReady, NeedSheets, NeedToPlan, NeedToMeasure, NeedKitsDue,
	}
}

// Days that decide when something that only waits begins to need somebody.
const (
	DueSoonDays = 7 // a line or a kit is due this week
	ConfirmDays = 3 // a delivery should be confirmed after so many days
	// Nothing was heard of a kit for so many days, where the drive's rules for reminders
	// say nothing else.
	SilentDays = 28
	WaitDays   = 1 // a file, a stocktake or a delivery that was made has waited so many days
)

// Need is one thing that needs somebody. Which fields stand depends on Kind:
// Number is the recipient, holder, delivery, supply, sheet or plan it is about.
type Need struct {
	Kind     NeedKind
	Number   int64
	Name     string // of the recipient, of the holder, or who took the sheet
	N        int    // kits, boxes, sheets, lots or lines
	Cases    int    // pillowcases
	Enough   int    // of so many kits, those that a supply suffices for
	Day      *time.Time
	Days     int      // since Day where positive, until Day where negative
	Kits     []KitRef // that are late, the oldest first
	Standing Standing // of a line
}

// Late says whether the day has passed or something is short, so that it stands in the
// colour for that.
func (n Need) Late() bool {
	switch n.Kind {
	case NeedLedgers, NeedLineLate, NeedKitsLate, NeedCountsDiffer, NeedSupplyShort, NeedClothShort, NeedSheetOut, NeedConfirmation:
		return true
	}
	return false
}

// Stuck says whether something goes on no further until somebody does something about it.
func (n Need) Stuck() bool {
	switch n.Kind {
	case NeedSaidCannot, NeedSaidLonger, NeedSheetShort, NeedBackup, NeedKitsSilent, NeedRemindAstray, NeedChangeReady, NeedPlanFailed, NeedFile, NeedStocktake:
		return true
	}
	return false
}

// Waiting is one fact that the store knows; Needs decides whether it needs
// somebody yet. Its fields stand as in Need.
type Waiting struct {
	Kind   NeedKind   `db:"kind"`
	Number int64      `db:"number"`
	Name   string     `db:"name"`
	N      int        `db:"n"`
	Cases  int        `db:"cases"`
	Day    *time.Time `db:"day"` // since when it waits, or when it was due
	Kits   []KitRef   `db:"kits"`
	Enough int        `db:"-"`
}

// Needs decides what needs somebody on a day in the drive's zone, worst first.
func Needs(lines []AskedLine, waiting []Waiting, today time.Time) []Need {
	var needs []Need
	for _, line := range lines {
		if n, ok := lineNeeds(line, today); ok {
			needs = append(needs, n)
		}
	}
	planned := false
	for _, w := range waiting {
		planned = planned || w.Kind == NeedPlanReady || w.Kind == NeedChangeReady || w.Kind == PlanBusy
		if n, ok := waitingNeeds(w, today); ok {
			needs = append(needs, n)
		}
	}
	if n, ok := planNeeds(lines); ok && !planned {
		needs = append(needs, n)
	}
	kinds := NeedKinds()
	slices.SortStableFunc(needs, func(a, b Need) int {
		// The worse kind first, then what has waited longest, then what is more.
		return cmp.Or(
			cmp.Compare(slices.Index(kinds, a.Kind), slices.Index(kinds, b.Kind)),
			cmp.Compare(b.Days, a.Days),
			cmp.Compare(b.Cases, a.Cases),
			cmp.Compare(a.Number, b.Number),
		)
	})
	return needs
}

func lineNeeds(line AskedLine, today time.Time) (Need, bool) {
	standing := line.Standing()
	if line.Closed || line.Due == nil || standing.Delivered >= line.Wanted {
		return Need{}, false
	}
	n := Need{
		Kind: NeedLineDue, Number: line.Recipient, Name: line.RecipientName, N: 1, Cases: line.Wanted - standing.Delivered,
		Day: line.Due, Days: daysBetween(*line.Due, today), Standing: standing,
	}
	if n.Days > 0 {
		n.Kind = NeedLineLate
	}
	return n, n.Days >= -DueSoonDays
}

func waitingNeeds(w Waiting, today time.Time) (Need, bool) {
	n := Need{Kind: w.Kind, Number: w.Number, Name: w.Name, N: w.N, Cases: w.Cases, Day: w.Day, Kits: w.Kits, Enough: w.Enough}
	if w.Day != nil {
		n.Days = daysBetween(*w.Day, today)
	}
	switch w.Kind {
	case NeedKitsLate, NeedSheetOut:
		return n, n.Days > 0
	case NeedKitsDue:
		return n, n.N > 0 && n.Days >= -DueSoonDays && n.Days <= 0
	case NeedConfirmation:
		return n, n.Days >= ConfirmDays
	case NeedCountsDiffer:
		return n, n.Cases+n.N > 0
	case NeedFile, NeedStocktake:
		return n, n.Days >= WaitDays
	case NeedToCheck, NeedToMend, NeedToPack, NeedToPromise:
		return n, n.Cases > 0
	case PlanBusy:
		return n, false
	case NeedBackup: // failed N times, or none at all was made for too long
		return n, true
	}
	return n, n.N > 0
}

// planNeeds sums up what is asked for and has no plan yet.
func planNeeds(lines []AskedLine) (Need, bool) {
	n := Need{Kind: NeedToPlan}
	for _, line := range lines {
		if line.ToPlan > 0 {
			n.N++
			n.Cases += line.Standing().Missing
		}
	}
	return n, n.N > 0
}

// daysBetween counts the days from one day to another; both are midnight UTC.
func daysBetween(from, to time.Time) int {
	return int(to.Sub(from) / (24 * time.Hour))
}

// FirstSteps is how far a new drive has been set up.
type FirstSteps struct {
	Size      bool `db:"size"`
	Recipient bool `db:"recipient"`
	Asked     bool `db:"asked"`
	Fabric    bool `db:"fabric"`
}

// Done says whether every first step has been taken.
func (f FirstSteps) Done() bool { return f.Size && f.Recipient && f.Asked && f.Fabric }
