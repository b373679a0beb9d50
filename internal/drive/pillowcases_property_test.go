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

// table is pillowcases by stack, moved by entries as the ledger moves them.
type table struct {
	held  map[Stack]int // N of the key is 0
	born  int
	good  int // ever found good, less what was undone
	boxes map[int64][]BoxLine
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
		if e.From == CaseSewn && e.To == CaseGood {
			b.good += e.N
		}
		b.held[to] += e.N
	}
	sum, out := 0, 0
	for s, n := range b.held {
		sum += n
		if s.State == CasePacked || s.State == CaseDelivered || s.State == CaseConfirmed || s.State == CaseNotReceived {
			out += n
		}
	}
	require.Equal(t, b.born, sum, "nothing comes or goes but where it is born")
	require.LessOrEqual(t, out, b.good, "nothing leaves that was not found good")
}

// Whatever the tables do, in whatever order: the sum over the states grows where
// pillowcases are brought in and nowhere else, and what is packed or delivered was
// found good first.
func TestPillowcasesAddUp(t *testing.T) {
	list := UsualCheckList(length.In)
	expect := list.Expect(standardCase(t), WashedFirst)
	rapid.Check(t, func(t *rapid.T) {
		b := table{held: map[Stack]int{}, boxes: map[int64][]BoxLine{}}
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
					b.boxes[box] = lines
					b.book(t, entries)
				}
			},
			"unpack": func(t *rapid.T) {
				if len(b.boxes) == 0 {
					t.Skip("no box")
				}
				box := rapid.SampledFrom(slices.Sorted(maps.Keys(b.boxes))).Draw(t, "box")
				entries, err := Box{Number: box, Emptied: b.boxes[box] == nil, Lines: b.boxes[box]}.Unpack()
				if err == nil {
					b.boxes[box] = nil
					b.book(t, entries)
				}
			},
			"": func(*rapid.T) {},
		})
	})
}
