package main

import (
	"fmt"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// deliveries: the ward counted one less than its note says, and said so on its own page;
// a box for the shelter is on its way.
func (s *story) deliveries() {
	boxes := map[drive.RecipientKind]drive.Box{}
	numbers := map[drive.RecipientKind]int64{}
	s.on(3, func() error {
		recipients, err := s.store.Recipients(s.ctx, s.drive.ID)
		if err != nil {
			return err
		}
		for _, r := range recipients {
			number, err := s.packFor(r.Number)
			if err != nil {
				return err
			}
			if number == 0 {
				continue
			}
			if boxes[r.Kind], err = s.store.Box(s.ctx, s.drive.ID, number); err != nil {
				return err
			}
			if _, err := s.store.RecipientLink(s.ctx, s.act(), r.Number, false); err != nil {
				return err
			}
		}
		return nil
	})
	s.on(2, func() error {
		for _, to := range []struct {
			kind drive.RecipientKind
			by   string
		}{{drive.RecipientWard, "Tobias Wrenfield"}, {drive.RecipientShelter, "the Thursday van"}} {
			box, packed := boxes[to.kind]
			if !packed {
				continue
			}
			number, err := s.store.MakeDelivery(s.ctx, s.act(), postgres.Sending{
				Recipient: box.Recipient, Boxes: []int64{box.Number}, SentOn: s.day(-2), CarriedBy: to.by,
			})
			if err != nil {
				return err
			}
			numbers[to.kind] = number
		}
		return nil
	})
	s.on(1, func() error {
		number, sent := numbers[drive.RecipientWard]
		if !sent {
			return fmt.Errorf("in the demo nothing went to the ward")
		}
		box := boxes[drive.RecipientWard]
		said := drive.Confirmation{By: "Play team desk", How: drive.OwnPage, On: *s.day(-1), Note: "The children chose theirs within the hour. Thank you!"}
		for i, z := range box.BySize() {
			arrived := drive.Arrived{Box: box.Number, Size: z.Size, N: z.N}
			if i == 0 {
				arrived.N--
			}
			said.Arrived = append(said.Arrived, arrived)
		}
		act := s.act()
		act.Link = fmt.Sprintf("recipient %d", box.Recipient)
		_, err := s.store.ConfirmDelivery(s.ctx, act, number, said)
		return err
	})
}
