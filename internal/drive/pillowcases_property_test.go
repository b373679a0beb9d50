package drive

import (
	"fmt"
	"maps"
	"slices"
	"testing"

	"boltward/internal/length"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// table is pillowcases by stack, moved by entries as the ledger moves them, with the
// boxes and deliveries they go in.
type table struct {
	held       map[Stack]int // N of the key is 0
	born       int
	good       int // found good, or come to light in a box, less what came back to be checked anew
	boxes      map[int64]*Box
	deliveries []*Delivery
}

func (b *table) boxesThat(are func(*Box) bool) []*Box {
	var list []*Box
	for _, number := range slices.Sorted(maps.Keys(b.boxes)) {
		if are(b.boxes[number]) {
			list = append(list, b.boxes[number])
		}
	}
	return list
}

func (b *table) deliveriesIn(states ...DeliveryState) []*Delivery {
	return slices.DeleteFunc(slices.Clone(b.deliveries), func(d *Delivery) bool { return !slices.Contains(states, d.State()) })
}

// begin lets three boxes of four stand packed, of twenty that were brought and checked.
func (b *table) begin(t *rapid.T) {
	brought, err := BringIn(BroughtIn{Size: 1, N: 20, Asked: 1})
	require.NoError(t, err)
	found := Stack{Asked: 1, Size: 1, State: CaseSewn, N: 20}
	b.book(t, []CaseEntry{brought, found.entry(14, CaseGood)})
	for box := range int64(3) {
		lines, entries, err := PackBox(box+1, "AB", "CD", []Pack{{Asked: 1, Size: 1, N: 4}}, b.stacks(CaseGood))
		require.NoError(t, err)
		b.boxes[box+1] = &Box{Number: box + 1, Recipient: 1, Lines: lines}
		b.book(t, entries)
	}
}

// hear takes into a delivery and its boxes what was said or settled, as the store does.
func (b *table) hear(t *rapid.T, d *Delivery, h Heard) {
	b.book(t, h.Entries)
	for i := range d.Boxes {
		d.Boxes[i].Lines = h.Lines[d.Boxes[i].Number]
		b.boxes[d.Boxes[i].Number].Lines = d.Boxes[i].Lines
	}
	for _, c := range h.Counts {
		d.Said = append(slices.DeleteFunc(d.Said, func(old SaidCount) bool { return old.Box == c.Box && old.Size == c.Size }), c)
	}
}

// agrees holds that each delivery says of its boxes what the states say, taken together.
func (b *table) agrees(t *rapid.T) {
	packed, open, confirmed, missing := 0, 0, 0, 0
	for _, box := range b.boxesThat(func(x *Box) bool { return !x.Emptied && x.Delivery == nil }) {
		packed += box.Cases()
	}
	for _, d := range b.deliveries {
		if d.State() == DeliveryUndone {
			continue
		}
		open, confirmed, missing = open+d.Open(), confirmed+d.Confirmed(), missing+d.Missing()
	}
	stands := map[CaseState]int{}
	for s, n := range b.held {
		stands[s.State] += n
	}
	require.Equal(t, []int{packed, open, confirmed, missing},
		[]int{stands[CasePacked], stands[CaseDelivered], stands[CaseConfirmed], stands[CaseNotReceived]}, "boxes and deliveries, and the states")
}

func (b *table) stacks(states ...CaseState) []Stack {
	var list []Stack
	for s, n := range b.held {
		if n > 0 && slices.Contains(states, s.State) {
			s.N = n
			list = append(list, s)
		}
	}
	slices.SortFunc(list, func(x, y Stack) int { return compareText(fmt.Sprint(x), fmt.Sprint(y)) })
	return list
}

func compareText(a, b string) int {
	if a < b {
		return -1
	}
	return 1
}

func (b *table) book(t *rapid.T, entries []CaseEntry) {
	for _, e := range entries {
		from := Stack{Asked: e.Asked, Size: e.Size, Kit: e.Kit, Part: e.Part, State: e.From}
		to := Stack{Asked: e.ToAsked, Size: e.Size, Kit: e.ToKit, Part: e.ToPart, State: e.To}
		require.Positive(t, e.N)
		if e.From == CaseBorn {
			b.born += e.N
		} else {
			b.held[from] -= e.N
			require.GreaterOrEqual(t, b.held[from], 0, "%+v takes more than there is", e)
		}
		switch {
		case e.From == CaseSewn && e.To == CaseGood, e.From == CaseBorn && e.To == CasePacked:
			b.good += e.N
		case foundGood(e.From) && !foundGood(e.To):
			require.Equal(t, CaseSewn, e.To, "what was good is checked anew before it is anything else")
			b.good -= e.N
		}
		b.held[to] += e.N
	}
	sum, good, out := 0, 0, 0
	for s, n := range b.held {
		sum += n
		if foundGood(s.State) {
			good += n
		}
		if s.State == CaseDelivered || s.State == CaseConfirmed || s.State == CaseNotReceived {
			out += n
		}
	}
	require.Equal(t, b.born, sum, "nothing comes or goes but where it is born")
	require.Equal(t, b.good, good, "nothing is good, packed or beyond that was not found good")
	require.LessOrEqual(t, out, b.good, "no more is delivered than was found good")
}

// foundGood says whether what stands in a state was found good, and nothing undid that.
func foundGood(s CaseState) bool {
	return s == CaseGood || s == CasePacked || s == CaseDelivered || s == CaseConfirmed || s == CaseNotReceived
}

// Whatever the tables, the desk and the wards do, in whatever order: the sum over the
// states grows where pillowcases are brought in, or come to light in a box, and nowhere
// else; what is packed, sent or confirmed was found good first, and boxes and deliveries
// say what the states say.
func TestPillowcasesAddUp(t *testing.T) {
	list := UsualCheckList(length.In)
	expect := list.Expect(standardCase(t), WashedFirst)
	reached := map[string]bool{}
	all := func() bool {
		for _, way := range SettleWays() {
			if !reached[string(way)] {
				return false
			}
		}
		return reached[string(DeliveryDiffers)] && reached[string(DeliveryArrived)]
	}
	walk := func(t *rapid.T) {
		b := table{held: map[Stack]int{}, boxes: map[int64]*Box{}}
		b.begin(t)
		pick := func(states ...CaseState) Stack {
			found := b.stacks(states...)
			if len(found) == 0 {
				t.Skip("none stands there")
			}
			return rapid.SampledFrom(found).Draw(t, "stack")
		}
		some := func(s Stack) int { return rapid.IntRange(1, s.N+1).Draw(t, "n") }
		t.Repeat(map[string]func(*rapid.T){
			"bring in": func(t *rapid.T) {
				e, err := BringIn(BroughtIn{Size: 1, N: rapid.IntRange(1, 9).Draw(t, "n"), Asked: rapid.Int64Range(0, 2).Draw(t, "asked")})
				require.NoError(t, err)
				b.book(t, []CaseEntry{e})
			},
			"check": func(t *rapid.T) {
				s := pick(CaseSewn)
				c := Checked{Good: rapid.IntRange(0, s.N).Draw(t, "good"), Pins: rapid.Bool().Draw(t, "pins")}
				for _, to := range []CaseState{CaseToMend, CaseNotUsable} {
					c.Failed = append(c.Failed, Failed{N: rapid.IntRange(0, s.N).Draw(t, "failed"), To: to, Reasons: []string{"seam open"}})
				}
				entries, err := s.Check(c, list, expect, length.In)
				if err == nil {
					require.True(t, c.Pins, "pins are always looked for")
					b.book(t, entries)
				}
			},
			"mend here": func(t *rapid.T) {
				s := pick(CaseToMend)
				if e, err := s.MendedHere(some(s)); err == nil {
					b.book(t, []CaseEntry{e})
				}
			},
			"promise": func(t *rapid.T) {
				s := pick(CaseSewn, CaseGood, CaseToMend)
				if e, err := s.Promise(some(s), rapid.Int64Range(1, 2).Draw(t, "asked")); err == nil {
					b.book(t, []CaseEntry{e})
				}
			},
			"pack": func(t *rapid.T) {
				s := pick(CaseGood)
				box := int64(len(b.boxes) + 1)
				lines, entries, err := PackBox(box, "AB", "CD", []Pack{{Asked: s.Asked, Size: 1, N: some(s)}}, b.stacks(CaseGood))
				if err == nil {
					b.boxes[box] = &Box{Number: box, Recipient: 1, Lines: lines}
					b.book(t, entries)
				}
			},
			"unpack": func(t *rapid.T) {
				box := pickOne(t, b.boxesThat(func(*Box) bool { return true }))
				entries, err := box.Unpack()
				if err == nil {
					box.Emptied, box.Lines = true, nil
					b.book(t, entries)
				}
			},
			"send": func(t *rapid.T) {
				d := &Delivery{Number: int64(len(b.deliveries) + 1), Recipient: 1}
				for _, box := range b.boxesThat(func(x *Box) bool { return x.Takes(1) == nil }) {
					if rapid.Bool().Draw(t, "goes along") {
						d.Boxes = append(d.Boxes, *box)
					}
				}
				today := day(20)
				if CheckDelivery(&today, today, len(d.Boxes), "", "") != nil {
					t.Skip("no box goes")
				}
				entries, err := d.Send(today, today, nil)
				require.NoError(t, err)
				b.book(t, entries)
				for _, box := range d.Boxes {
					b.boxes[box.Number].Delivery = &d.Number
				}
				d.SentOn = &today
				b.deliveries = append(b.deliveries, d)
				_, err = d.Send(today, today, nil)
				require.Error(t, err, "it leaves once")
			},
			"take back from its way": func(t *rapid.T) {
				d := pickOne(t, b.deliveries)
				entries, err := d.Undo()
				require.Equal(t, d.State() == DeliveryOnWay, err == nil, "as long as nobody has answered: %v", err)
				if err == nil {
					b.book(t, entries)
					undone := day(20)
					d.UndoneAt = &undone
					for _, box := range d.Boxes {
						b.boxes[box.Number].Delivery = nil
					}
				}
			},
			"say what arrived": func(t *rapid.T) {
				d := pickOne(t, b.deliveriesIn(DeliveryOnWay, DeliveryDiffers, DeliveryArrived))
				c := Confirmation{By: "Sister Hale", How: ByPhone, On: day(20)}
				for _, box := range d.Boxes {
					c.Arrived = append(c.Arrived, Arrived{Box: box.Number, Size: 1, N: rapid.IntRange(0, box.Cases()+3).Draw(t, "arrived")})
				}
				before := b.born
				h, err := d.Confirm(c, day(20))
				require.NoError(t, err)
				on := day(20)
				d.ConfirmedOn = &on
				b.hear(t, d, h)
				require.Equal(t, before, b.born, "nothing is born by saying so")
				reached[string(d.State())] = true
			},
			"settle": func(t *rapid.T) {
				d := pickOne(t, b.deliveriesIn(DeliveryDiffers, DeliveryArrived))
				box := rapid.SampledFrom(d.Boxes).Draw(t, "box")
				way := rapid.SampledFrom(SettleWays()).Draw(t, "way")
				h, err := d.Settle(Settlement{Box: box.Number, Size: 1, Way: way, N: rapid.IntRange(1, 3).Draw(t, "n"), Reason: "looked"})
				if err == nil {
					b.hear(t, d, h)
					reached[string(way)] = true
				}
			},
			"": func(t *rapid.T) { b.agrees(t) },
		})
	}
	for tries := 0; tries < 10 && !all(); tries++ { // a hundred walks in twenty never settle in one of the ways
		rapid.Check(t, walk)
	}
	require.True(t, all(), "every way to settle a count, and both ways to differ: %v", reached)
}

func pickOne[T any](t *rapid.T, list []T) T {
	if len(list) == 0 {
		t.Skip("there is none")
	}
	return list[rapid.IntRange(0, len(list)-1).Draw(t, "one")]
}
