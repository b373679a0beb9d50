package drive

import (
	"boltward/internal/apperr"
	"boltward/internal/length"
)

// TakesMore refuses what a closed drive does no more: nothing is planned or handed out and nothing new is
// asked for. What is out still comes back, is found, checked and mended, and what is here is delivered.
func (d Drive) TakesMore() error {
	if d.ClosedAt == nil {
		return nil
	}
	return apperr.Invalid("", "This drive has been closed since %s: nothing more is planned, handed out or asked for. An organiser can open it again in the settings.",
		dayWords(Day(*d.ClosedAt, d.Location())))
}

// PlansMore is TakesMore for plans, which nobody types.
func (d Drive) PlansMore() error {
	if err := d.TakesMore(); err != nil {
		return apperr.Conflict("%s", err)
	}
	return nil
}

// StillOpen is what of a drive is not done with.
type StillOpen struct {
	KitsOut   int         `db:"out"` // with people
	CasesOut  int         `db:"out_cases"`
	KitsHere  int         `db:"here"` // cut or bagged, with nobody
	CasesHere int         `db:"here_cases"`
	ToCheck   int         `db:"to_check"`
	ToMend    int         `db:"to_mend"` // here; what is out to be mended is in the kits
	Good      int         `db:"good"`    // packed or not, and not sent
	Sent      int         `db:"sent"`    // and not confirmed
	Free      length.Area `db:"free"`
	Promised  length.Area `db:"promised"` // to accepted plans
	Sheets    int         `db:"sheets"`   // not cut yet
	Plans     int         `db:"plans"`    // neither accepted nor put away
}

// Nothing says whether all of it is done with.
func (o StillOpen) Nothing() bool { return o == StillOpen{} }
