package main

import (
	"fmt"
	"maps"
	"slices"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// links: everybody who sews has their own page, and some have said there how it goes.
func (s *story) links() {
	s.on(13, func() error {
		for _, name := range slices.Sorted(maps.Keys(s.people)) {
			if _, err := s.store.PersonLink(s.ctx, s.act(), s.people[name], false); err != nil {
				return err
			}
		}
		return nil
	})
	s.on(3, func() error {
		rules := drive.UsualReminderRules()
		rules.On, rules.Quiet, rules.LateDays, rules.FromName, rules.ReplyTo = true, nil, 1, "Lantern Row pillowcase drive", "sewing@example.org"
		if _, err := s.store.UpdateReminderRules(s.ctx, s.act(), rules); err != nil {
			return err
		}
		_, err := s.store.MakeReminders(s.ctx, s.act(), false)
		return err
	})
	for _, r := range []struct {
		who  string
		ago  int
		kind drive.ReportKind
		done int
		days int // from today, of the day asked for
		note string
	}{
		{who: "Winnie Aldercroft", ago: 2, kind: drive.ReportFinished, done: 4},
		{who: "Lotte Iversholm", ago: 1, kind: drive.ReportLonger, days: 10},
		{who: "Hamish Dunwater", ago: 1, kind: drive.ReportCannot, note: "My machine is at the mender's until after the holidays. Sorry."},
	} {
		s.on(r.ago, func() error {
			person, known := s.people[r.who]
			kits, err := s.store.Kits(s.ctx, s.drive.ID, postgres.KitsQuery{Where: postgres.KitsOut, Holder: person, Today: *s.day(-r.ago)})
			if err != nil {
				return err
			}
			if !known || len(kits.Kits) == 0 {
				return fmt.Errorf("in the demo %s has no kit", r.who)
			}
			said := drive.KitReport{KitRef: kits.Kits[0].KitRef, Person: person, Kind: r.kind, Note: r.note}
			switch r.kind {
			case drive.ReportFinished:
				said.Cases = min(r.done, kits.Kits[0].Cases)
			case drive.ReportLonger:
				said.Until = s.day(r.days)
			}
			act := s.act()
			act.Link = fmt.Sprintf("person %d", person)
			_, err = s.store.ReportKit(s.ctx, act, said)
			return err
		})
	}
}
