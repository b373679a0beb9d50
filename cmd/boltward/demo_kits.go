package main

import (
	"fmt"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// know looks up people and lines by what the story calls them.
func (s *story) know() error {
	s.people, s.lines = map[string]int64{}, map[string]drive.AskedLine{}
	sewers, err := s.store.Sewers(s.ctx, s.drive.ID)
	if err != nil {
		return err
	}
	for _, p := range sewers {
		s.people[p.Name] = p.Number
	}
	lines, err := s.store.AskedLines(s.ctx, s.drive.ID)
	if err != nil {
		return err
	}
	for _, l := range lines {
		s.lines[l.RecipientName+" "+l.SizeNames[0]] = l
	}
	return nil
}

// out is one hand-out of the story: days before today that it happened and that
// it is due (negative: still to come), and what came of it.
type out struct {
	who      string
	kits     int
	ago, due int
	backAgo  int // 0: nothing came back yet
	missing  int // of the last kit, still with whoever has it
	lostAgo  int
	longer   int // days it was put off by
}

// makeReady bags and labels most of the kits that are cut.
func (s *story) makeReady() error {
	if err := s.know(); err != nil {
		return err
	}
	kits, err := s.store.Kits(s.ctx, s.drive.ID, postgres.KitsQuery{Where: postgres.KitsInHouse, Sort: "number", Today: *s.day(-19)})
	if err != nil {
		return err
	}
	for _, k := range kits.Kits {
		s.free = append(s.free, k.KitRef)
	}
	_, err = s.store.MarkKitReady(s.ctx, s.act(), s.free[:len(s.free)*3/4])
	return err
}

// handOuts: kits go out, come back whole or in part, late or not at all.
func (s *story) handOuts() {
	for _, o := range []out{
		{who: "Agnes Pellworth", kits: 3, ago: 17, due: 6, backAgo: 8},
		{who: "Marit Osgood-Lind", kits: 2, ago: 17, due: 4, backAgo: 6},
		{who: "Ravi Thornbury", kits: 2, ago: 16, due: 2, backAgo: 4},
		{who: "Kofi Brackenridge", kits: 1, ago: 16, due: 5},
		{who: "Millrace School textiles club", kits: 2, ago: 15, due: -5, backAgo: 7, missing: 1},
		{who: "Yuki Stanmere", kits: 1, ago: 14, due: 1, backAgo: 1, missing: 1},
		{who: "Lotte Iversholm", kits: 1, ago: 12, due: -3},
		{who: "Tobias Wrenfield", kits: 1, ago: 12, due: 3, lostAgo: 1},
		{who: "Elspeth Norrick", kits: 1, ago: 9, due: -6, longer: 5},
		{who: "Petra Holloway-Sand", kits: 1, ago: 8, due: -4},
		{who: "Sanne de Groothuis-Marsh", kits: 1, ago: 7, due: -7},
		{who: "Winnie Aldercroft", kits: 1, ago: 6, due: -1},
		{who: "Agnes Pellworth", kits: 1, ago: 5, due: -9},
		{who: "Hamish Dunwater", kits: 1, ago: 3, due: -11},
	} {
		s.tellOut(o)
	}
}

func (s *story) tellOut(o out) {
	var kits []drive.KitRef
	s.on(o.ago, func() error {
		person, known := s.people[o.who]
		if !known || len(s.free) < o.kits {
			return fmt.Errorf("the demo has no kit for %s", o.who)
		}
		kits, s.free = s.free[:o.kits], s.free[o.kits:]
		_, err := s.store.HandOut(s.ctx, s.act(), drive.HandOut{Kits: kits, Person: person, Due: s.day(-o.due)})
		return err
	})
	if o.longer > 0 {
		s.on(2, func() error {
			_, err := s.store.ExtendDue(s.ctx, s.act(), kits, s.day(-o.due+o.longer))
			return err
		})
	}
	if o.lostAgo > 0 {
		s.on(o.lostAgo, func() error {
			_, err := s.store.KitLost(s.ctx, s.act(), kits[0], "left on the bus, asked at the depot", *s.day(-o.lostAgo))
			return err
		})
	}
	if o.backAgo > 0 {
		s.on(o.backAgo, func() error { return s.tellBack(o, kits) })
	}
}

func (s *story) tellBack(o out, kits []drive.KitRef) error {
	for i, ref := range kits {
		kit, err := s.store.Kit(s.ctx, s.drive.ID, ref)
		if err != nil {
			return err
		}
		sewn := kit.Cases
		if i == len(kits)-1 {
			sewn = max(1, sewn-o.missing)
		}
		if _, err := s.store.TakeBack(s.ctx, s.act(), ref, drive.KitReturn{Sewn: sewn}, *s.day(-o.backAgo)); err != nil {
			return err
		}
	}
	return nil
}

// returns: pillowcases come without a kit, are checked, and one is mended. What
// came in since then still waits.
func (s *story) returns() {
	bring := func(n int, forShelter, fromBea bool, note string) func() error {
		return func() error {
			shelter, ok := s.lines["Fernway shelter standard"]
			if !ok {
				return fmt.Errorf("the demo's shelter asks for no standard cases")
			}
			b := drive.BroughtIn{Size: shelter.Sizes[0], N: n, Note: note}
			if bea := s.people["Bea Quillfeather"]; fromBea {
				b.Maker = &bea
			}
			if forShelter {
				b.Asked = shelter.Number
			}
			_, err := s.store.BringIn(s.ctx, s.act(), b)
			return err
		}
	}
	s.on(10, bring(5, true, true, "from her own cupboard"))
	s.on(10, bring(3, false, false, "left in a bag at the library"))
	s.on(5, s.checkAll)
	s.on(5, s.sendOne)
	s.on(3, s.mendedOne)
	s.on(0, bring(2, true, true, ""))
}

// checkAll checks everything that had come back five days ago. A few show a raw
// edge, one has an open seam and one cannot be used.
func (s *story) checkAll() error {
	stacks, err := s.store.Stacks(s.ctx, s.drive.ID, drive.CaseSewn)
	if err != nil {
		return err
	}
	const edge = "raw edge shows"
	faults := []drive.Failed{
		{N: 1, To: drive.CaseToMend, Reasons: []string{"seam open", edge}},
		{N: 1, To: drive.CaseNotUsable, Reasons: []string{"stain or hole"}},
		{N: 1, To: drive.CaseToMend, Reasons: []string{edge}},
		{N: 1, To: drive.CaseToMend, Reasons: []string{edge, "loose threads"}},
	}
	looked := drive.UsualCheckList(s.drive.Unit).Faults()
	looked = looked[1 : len(looked)-1] // measured on another day
	for _, stack := range stacks {
		found := drive.Checked{Good: stack.N, Pins: true, Looked: looked, Initials: "EN"}
		if stack.Kit > 0 && stack.N > 1 && len(faults) > 0 {
			found.Good, found.Failed = stack.N-1, faults[:1]
			faults = faults[1:]
		}
		if _, err := s.store.CheckCases(s.ctx, s.act(), stack.Stack, found); err != nil {
			return err
		}
	}
	return nil
}

// sendOne: what was to mend goes out to Marit.
func (s *story) sendOne() error {
	stacks, err := s.store.Stacks(s.ctx, s.drive.ID, drive.CaseToMend)
	if err != nil {
		return err
	}
	if len(stacks) == 0 {
		return fmt.Errorf("the demo has nothing to mend")
	}
	m := postgres.Mending{At: stacks[0].Stack, N: 1, Person: s.people["Marit Osgood-Lind"], Due: s.day(3)}
	s.mending = stacks[0].Stack
	ref, err := s.store.SendToMend(s.ctx, s.act(), m)
	s.mending.Kit, s.mending.Part = ref.Number, ref.Part
	return err
}

// mendedOne: it comes back mended and is found good.
func (s *story) mendedOne() error {
	if _, err := s.store.TakeBack(s.ctx, s.act(), s.mending.KitRef(), drive.KitReturn{Sewn: 1}, *s.day(-3)); err != nil {
		return err
	}
	_, err := s.store.CheckCases(s.ctx, s.act(), s.mending, drive.Checked{Good: 1, Pins: true})
	return err
}

// packFor packs what is good for a recipient into a box, but for two that came
// last; it gives 0 where nothing is.
func (s *story) packFor(recipient int64) (int64, error) {
	stacks, err := s.store.Stacks(s.ctx, s.drive.ID, drive.CaseGood)
	if err != nil {
		return 0, err
	}
	var pack []drive.Pack
	total := 0
	for _, l := range stacks {
		if l.Recipient == nil || *l.Recipient != recipient {
			continue
		}
		pack = append(pack, drive.Pack{Asked: l.Asked, Size: l.Size, N: l.N})
		total += l.N
	}
	if total < 3 {
		return 0, nil
	}
	pack[len(pack)-1].N--
	who, err := s.store.Recipient(s.ctx, s.drive.ID, recipient)
	if err != nil {
		return 0, err
	}
	box := postgres.PackedBox{Recipient: recipient, PackedBy: "SP", CheckedBy: "EN", Cases: pack}
	for _, rule := range who.Rules {
		box.Rules = append(box.Rules, drive.RuleKept{Rule: rule, Kept: true})
	}
	return s.store.PackBox(s.ctx, s.act(), box)
}
