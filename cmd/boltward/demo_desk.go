package main

import (
	"fmt"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// desk is what the kit desk notes: where bags lie, what a recipient asks of homes, a
// small kit parted off for somebody who begins, and hours that were given.
func (s *story) desk() {
	s.on(18, s.askOfHomes)
	s.on(12, s.everyMonth)
	s.on(4, s.beginnersKit)
	s.on(3, s.hoursGiven)
}

// askOfHomes: the hospice takes pillowcases from homes without smoke alone.
func (s *story) askOfHomes() error {
	recipients, err := s.store.Recipients(s.ctx, s.drive.ID)
	if err != nil {
		return err
	}
	for _, r := range recipients {
		if r.Kind != drive.RecipientHospice {
			continue
		}
		r.Homes = []string{drive.HomeNoSmoke}
		if _, err := s.store.UpdateRecipient(s.ctx, s.act(), r); err != nil {
			return err
		}
	}
	return nil
}

// everyMonth: from the new year on the shelter asks for the same again each month.
func (s *story) everyMonth() error {
	line, ok := s.lines["Fernway shelter standard"]
	if !ok {
		return fmt.Errorf("the demo's shelter asks for no standard cases")
	}
	line.Number, line.Wanted, line.Due = 0, 40, s.day(75)
	_, err := s.store.CreateStanding(s.ctx, s.act(), drive.StandingAsk{Line: line.Asked, LeadDays: 28})
	return err
}

// beginnersKit: what lies ready gets a place, and one kit gives two pillowcases to a
// bag of their own.
func (s *story) beginnersKit() error {
	here, err := s.store.Kits(s.ctx, s.drive.ID, postgres.KitsQuery{Where: postgres.KitsInHouse, Sort: "number", Today: s.today})
	if err != nil {
		return err
	}
	var shelf []drive.KitRef
	for _, k := range here.Kits {
		shelf = append(shelf, k.KitRef)
	}
	if len(shelf) < 2 {
		return fmt.Errorf("the demo has too few kits left to part one")
	}
	for i, place := range []string{"Harrow Mill library", "church hall"} {
		half := shelf[i*len(shelf)/2 : (i+1)*len(shelf)/2]
		if _, err := s.store.PlaceKits(s.ctx, s.act(), half, place); err != nil {
			return err
		}
	}
	for _, k := range here.Kits {
		if k.Cases > drive.BeginnerCases {
			_, err = s.store.SplitKit(s.ctx, s.act(), k.KitRef, drive.BeginnerCases, 0, nil)
			return err
		}
	}
	return nil
}

// hoursGiven: volunteers and a school say how long they worked.
func (s *story) hoursGiven() error {
	for _, g := range []struct {
		who, doing     string
		heads, minutes int
		ago            int
	}{
		{"Agnes Pellworth", "sewing", 1, 390, 9},
		{"Marit Osgood-Lind", "checking", 1, 120, 5},
		{"Millrace School textiles club", "sewing", 11, 11 * 90, 7},
		{"Tobias Wrenfield", "cutting", 1, 150, 19},
	} {
		h := drive.Hours{Person: s.people[g.who], Day: *s.day(-g.ago), Doing: g.doing, Heads: g.heads, Minutes: g.minutes}
		if _, err := s.store.GiveHours(s.ctx, s.act(), h); err != nil {
			return err
		}
	}
	return nil
}
