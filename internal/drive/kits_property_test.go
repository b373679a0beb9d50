package drive

import (
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// house keeps kits and pillowcases as the ledgers' triggers do, so that the
// rules can be tried on long random histories.
type house struct {
	kits    map[KitRef]*Kit
	history map[KitRef][]KitStep
	cases   map[caseKey]int
	written []WrittenCase
	day     int
	ids     int64
}

type caseKey struct {
	asked int64
	ref   KitRef
	state CaseState
}

func newHouse() *house {
	return &house{kits: map[KitRef]*Kit{}, history: map[KitRef][]KitStep{}, cases: map[caseKey]int{}, day: 1}
}

// apply writes moves as the store does and refuses what the triggers refuse.
func (h *house) apply(t require.TestingT, m KitMoves) {
	for _, n := range m.Born {
		require.NotContains(t, h.kits, n.KitRef, "a part is born once")
		h.kits[n.KitRef] = &Kit{KitRef: n.KitRef, Parent: n.Parent, Asked: n.Asked, Size: n.Size, OwnFabric: n.OwnFabric, State: KitBorn}
	}
	for _, e := range m.Kits {
		ref := KitRef{e.Kit, e.Part}
		k := h.kits[ref]
		require.NotNil(t, k, "kit %s has a row before its entry", ref)
		require.Equal(t, k.State, e.From, "kit %s leaves from where it is", ref)
		require.True(t, e.From.MayGo(e.To), "%s to %s", e.From, e.To)
		require.Equal(t, e.To == KitOut, e.Holder != nil, "who is out has a holder, who is not has none")
		since := day(h.day)
		if k.State == e.To && same(k.Holder, e.Holder) {
			since = *k.Since
		}
		k.State, k.Holder, k.Due, k.Cases, k.Since = e.To, e.Holder, e.Due, e.Cases, &since
		h.ids++
		h.history[ref] = append(h.history[ref], KitStep{
			ID: h.ids, From: e.From, To: e.To, Holder: e.Holder, Due: e.Due, Day: day(h.day), Cases: e.Cases, Reason: e.Reason,
		})
	}
	for _, e := range m.Cases {
		require.Positive(t, e.N)
		if e.From != CaseBorn {
			from := caseKey{e.Asked, KitRef{e.Kit, e.Part}, e.From}
			require.GreaterOrEqual(t, h.cases[from], e.N, "%v has that many", from)
			h.cases[from] -= e.N
		}
		h.cases[caseKey{e.ToAsked, KitRef{e.ToKit, e.ToPart}, e.To}] += e.N
		h.ids++
		if e.Undoes == nil {
			h.written = append(h.written, WrittenCase{ID: h.ids, CaseEntry: e})
		} else {
			h.written = slices.DeleteFunc(h.written, func(w WrittenCase) bool { return w.ID == *e.Undoes })
		}
	}
}

// load gives a kit as the store loads it.
func (h *house) load(ref KitRef) Kit {
	k := *h.kits[ref]
	for key, n := range h.cases {
		if key.ref == ref && n > 0 {
			k.Held = append(k.Held, KitHeld{Asked: key.asked, Size: k.Size, State: key.state, N: n})
		}
	}
	slices.SortFunc(k.Held, func(a, b KitHeld) int { return int(a.Asked - b.Asked) })
	for other := range h.kits {
		if other.Number == ref.Number {
			k.LastPart = max(k.LastPart, other.Part)
		}
	}
	if k.Holder != nil {
		k.HolderName = fmt.Sprint("person ", *k.Holder)
	}
	return k
}

func (h *house) refs() []KitRef {
	var refs []KitRef
	for ref := range h.kits {
		refs = append(refs, ref)
	}
	return SortedKits(refs)
}

// writtenTo gives the entries that moved the kit's pillowcases to a state and
// are not undone yet.
func (h *house) writtenTo(ref KitRef, to CaseState) []WrittenCase {
	var list []WrittenCase
	for _, w := range h.written {
		if w.ToKit == ref.Number && w.ToPart == ref.Part && w.To == to {
			list = append(list, w)
		}
	}
	return list
}

// check holds what must hold after every step.
func (h *house) check(t require.TestingT, born int) {
	total := 0
	byKit := map[KitRef]int{}
	for key, n := range h.cases {
		total += n
		if key.state != CaseWithdrawn {
			byKit[key.ref] += n
		}
	}
	require.Equal(t, born, total, "pillowcases over all states and parts")
	for ref, k := range h.kits {
		require.NotEqual(t, KitBorn, k.State, "kit %s is somewhere", ref)
		require.Equal(t, k.Cases, byKit[ref], "kit %s holds what it says", ref)
		last := h.history[ref][len(h.history[ref])-1]
		require.Equal(t, last.To, k.State, "kit %s is where its history ends", ref)
	}
}

func TestKitsConserve(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		h := newHouse()
		own := OwnFabric{Kits: rapid.IntRange(1, 4).Draw(rt, "kits"), Cases: rapid.IntRange(1, 6).Draw(rt, "cases"), Size: 1}
		if rapid.Bool().Draw(rt, "for a line") {
			line := int64(7)
			own.Asked = &line
		}
		born := own.Kits * own.Cases
		moves, err := own.Make(100, nil, day(h.day))
		require.NoError(rt, err)
		h.apply(rt, moves)
		h.check(rt, born)
		done := 0
		for range rapid.IntRange(1, 60).Draw(rt, "steps") {
			h.day += rapid.IntRange(0, 1).Draw(rt, "a day passes")
			moves, since, err := oneStep(rt, h)
			if err != nil {
				continue
			}
			done++
			h.apply(rt, moves)
			if !since.IsZero() { // the store writes an undoing with the day it goes back to
				k := h.kits[KitRef{moves.Kits[len(moves.Kits)-1].Kit, moves.Kits[len(moves.Kits)-1].Part}]
				k.Since = &since
				steps := h.history[k.KitRef]
				steps[len(steps)-1].Day = since
			}
			h.check(rt, born)
		}
		rt.Logf("%d steps were possible", done)
	})
}

// TestKitsReachEveryPlace shows that the random walk above reaches every place and
// every undoing, so that its silence means something.
func TestKitsReachEveryPlace(t *testing.T) {
	reached, undoings, together, unfound := map[KitState]bool{}, map[KitState]bool{}, false, false
	walk := func(rt *rapid.T) {
		h := newHouse()
		moves, err := OwnFabric{Kits: 3, Cases: 4, Size: 1}.Make(100, nil, day(1))
		require.NoError(rt, err)
		h.apply(rt, moves)
		for range 40 {
			if moves, _, err := oneStep(rt, h); err == nil {
				h.apply(rt, moves)
				for _, e := range moves.Kits {
					reached[e.To] = true
					together = together || e.Reason == ReasonAgain && e.From != KitBack
					if e.Reason == undone {
						unfound = unfound || e.From == KitFound && e.To == KitLost
						undoings[e.From] = true
					}
				}
			}
		}
	}
	enough := func() bool { return undoings[KitOut] && undoings[KitBack] && undoings[KitReady] && together && unfound }
	for tries := 0; tries < 10 && !enough(); tries++ { // a hundred walks in forty never undo one of these
		rapid.Check(t, walk)
	}
	for _, place := range []KitState{KitReady, KitOut, KitBack, KitLost, KitFound, KitTakenApart} {
		require.True(t, reached[place], "%s is reached", place)
	}
	require.True(t, undoings[KitOut] && undoings[KitBack] && undoings[KitReady], "every undoing happens: %v", undoings)
	require.True(t, together, "a split is undone")
	require.True(t, unfound, "a find with nothing sewn is undone")
}

// oneStep draws a kit and something to do to it.
func oneStep(rt *rapid.T, h *house) (m KitMoves, since time.Time, err error) {
	k := h.load(rapid.SampledFrom(h.refs()).Draw(rt, "kit"))
	today := day(h.day)
	to := Holder{Number: int64(rapid.IntRange(1, 3).Draw(rt, "person")), Name: "somebody", Active: true}
	sewn := rapid.IntRange(0, 6).Draw(rt, "sewn")
	switch rapid.SampledFrom([]string{
		"hand out", "hand out", "give again", "extend", "take back", "take back", "take back all", "lose", "find", "ready", "undo ready", "apart", "undo out", "undo back", "split", "split", "undo split",
	}).Draw(rt, "what") {
	case "hand out":
		m, err = k.HandOut(to, today, nil)
	case "give again":
		m, err = k.GiveAgain(to, today, nil)
	case "extend":
		due := today.AddDate(0, 0, 7)
		m, err = k.ExtendDue(&due, today)
	case "take back":
		m, err = k.TakeBack(KitReturn{Sewn: sewn, RestUnsewn: rapid.Bool().Draw(rt, "rest")}, today)
	case "take back all":
		m, err = k.TakeBack(KitReturn{Sewn: k.Cases}, today)
	case "lose":
		m, err = k.Lose(today, "")
	case "split":
		m, err = k.Split(sewn, &to, nil, today)
	case "find":
		m, err = k.Find(sewn, max(0, rapid.IntRange(-3, 6).Draw(rt, "still lost")), nil, today)
	case "ready":
		m, err = k.MarkReady()
	case "undo ready":
		m, since, err = k.UndoReady(h.history[k.KitRef])
	case "apart":
		if rapid.IntRange(0, 4).Draw(rt, "really") == 0 {
			m, err = k.TakeApart(today, "")
		} else {
			err = errors.New("not this time")
		}
	case "undo out":
		m, since, err = k.UndoHandOut(h.history[k.KitRef], h.writtenTo(k.KitRef, CaseOut))
	case "undo back":
		var parent *Kit
		if k.Parent != nil {
			p := h.load(KitRef{k.Number, *k.Parent})
			parent = &p
		}
		m, since, err = k.UndoTakeBack(h.history[k.KitRef], slices.Concat(h.writtenTo(k.KitRef, CaseSewn), h.writtenTo(k.KitRef, CaseCut)), parent)
	case "undo split":
		var parent *Kit
		var had *int64
		if k.Parent != nil {
			p := h.load(KitRef{k.Number, *k.Parent})
			parent, had = &p, p.Holder
		}
		written := slices.Concat(h.writtenTo(k.KitRef, CaseCut), h.writtenTo(k.KitRef, CaseOut))
		m, err = k.UndoSplit(h.history[k.KitRef], written, parent, had)
	}
	return m, since, err
}
