package main

import (
	"fmt"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
)

// howToThank sets the letters up: a plain one, signed.
func (s *story) howToThank() error {
	rules := s.drive.LetterRules()
	rules.Sender = s.drive.Name + "\nHarrow Mill library, Weir Street\nHarrow Mill"
	rules.SignedBy = "Rosa Lind, for everyone at the cutting table"
	_, err := s.store.UpdateLetterRules(s.ctx, s.act(), rules)
	return err
}

// cupboard: the first week's gifts are thanked for, one donor wants no letters, a
// shelf is counted, and of what goes into kits besides fabric something runs short.
func (s *story) cupboard() {
	s.on(26, s.thankFirst)
	s.on(20, func() error {
		for _, supply := range []drive.Supply{
			{Name: "white thread", Unit: "spools", Have: 22, Used: 1, PerKits: 2},
			{Name: "gift bags", Unit: "bags", Have: 140, Used: 4, PerKits: 1},
			{Name: "care labels", Unit: "labels", Have: 12, Used: 4, PerKits: 1, Note: "the library prints more"},
			{Name: "glass-head pins", Unit: "boxes", Have: 9, PerKits: 1, Note: "lent at the table, none goes into a kit"},
		} {
			if _, err := s.store.SaveSupply(s.ctx, s.act(), supply); err != nil {
				return err
			}
		}
		return nil
	})
	s.on(6, func() error { return s.countShelf("C2") })
}

func (s *story) thankFirst() error {
	due, err := s.store.ThanksDue(s.ctx, s.drive.ID)
	if err != nil || len(due) == 0 {
		return fmt.Errorf("the demo's first gifts: %d weeks due: %w", len(due), err)
	}
	first := due[0].Monday
	gifts, err := s.store.Gifts(s.ctx, s.drive.ID, 0, first, first.AddDate(0, 0, 6))
	if err != nil {
		return err
	}
	ways := map[string][]drive.GiftOf{}
	for _, g := range gifts {
		way := drive.ThankedByWords
		switch {
		case g.Address != "":
			way = drive.ThankedByLetter
		case g.Email != "":
			way = drive.ThankedByMail
		}
		ways[way] = append(ways[way], g.GiftOf)
	}
	for _, way := range []string{drive.ThankedByLetter, drive.ThankedByMail, drive.ThankedByWords} {
		if len(ways[way]) == 0 {
			continue
		}
		if _, err := s.store.NoteThanks(s.ctx, s.act(), ways[way], way, *s.day(-26)); err != nil {
			return err
		}
	}
	return nil
}

// countShelf goes along one shelf; the last lot on it is shorter than it was booked.
func (s *story) countShelf(shelf string) error {
	take, err := s.store.BeginStocktake(s.ctx, s.act(), shelf)
	if err != nil {
		return err
	}
	lots, err := s.store.Lots(s.ctx, s.drive.ID, postgres.LotsQuery{Shelf: shelf, State: postgres.LotsFree, Sort: "number"})
	if err != nil {
		return err
	}
	for i, lot := range lots.Lots {
		counted := map[int]length.Length{}
		if i == len(lots.Lots)-1 {
			counted[1] = lot.Length - 3*length.Inch // it has one piece
		}
		if _, err := s.store.CountLot(s.ctx, s.act(), take, lot.Number, 0, counted, false); err != nil {
			return err
		}
	}
	_, err = s.store.PostStocktake(s.ctx, s.act(), take, "counted again; a strip was used to wrap the bolts")
	return err
}
