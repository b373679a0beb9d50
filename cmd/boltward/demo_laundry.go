package main

import (
	"time"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// laundry: what was found good is washed on a Tuesday and packed the day after; what
// came back since is in the machine before it is checked.
func (s *story) laundry() {
	var first int64
	s.on(4, func() (err error) {
		first, err = s.wash(drive.CaseGood, "PH", "60 °C, soap without scent, dried on the line")
		return err
	})
	s.on(3, func() error {
		_, err := s.store.FinishBatch(s.ctx, s.act(), first, "PH", time.Time{})
		return err
	})
	s.on(1, func() error { _, err := s.wash(drive.CaseSewn, "SP", ""); return err })
}

// wash puts everything of a state that is not laundered into one batch.
func (s *story) wash(state drive.CaseState, by, note string) (int64, error) {
	here, err := s.store.Washables(s.ctx, s.drive.ID)
	if err != nil {
		return 0, err
	}
	w := postgres.Washing{By: by, Note: note}
	for _, l := range here {
		of := l.Good
		if state == drive.CaseSewn {
			of = l.Here - l.Good
		}
		if n := min(of, l.Free()); n > 0 {
			w.Lines = append(w.Lines, drive.LaundryLine{Asked: l.Asked, Size: l.Size, Kit: l.Kit, Part: l.Part, N: n})
		}
	}
	return s.store.StartBatch(s.ctx, s.act(), w)
}
