package postgres

import (
	"fmt"
	"testing"
	"time"

	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// TestNumbersAgree: after whatever happened, every list that tells the same number tells the same,
// and in the end all that stands anywhere can be brought to its end.
func TestNumbersAgree(t *testing.T) {
	acts := 60
	if long() {
		acts = 120
	}
	inRounds(t, 1, 30, func(t *testing.T, _ int, seed uint64) {
		h := newHall(t)
		h.behind = 2
		r := handAt(seed, 0)
		var last []string
		require.NoError(t, h.makeOne(t.Context(), h.act(h.key())))
		require.NoError(t, acceptOne(t.Context(), h, r, h.act(h.key())))
		for tries := 0; len(last) < acts && tries < 6*acts; tries++ {
			name, err := h.doLate(t.Context(), r)
			require.NoError(t, err)
			if name == "" {
				continue
			}
			last = append(last, name)
			h.numbersAgree(t, last)
			if r.IntN(8) == 0 {
				h.clock.forward(time.Duration(r.IntN(30)) * time.Hour)
			}
		}
		t.Logf("%d acts: %v", len(last), h.done)
		h.conserved(t)
		h.finishAll(t)
	})
}

// numbersAgree holds the lists against one another.
func (h *hall) numbersAgree(t *testing.T, last []string) {
	t.Helper()
	ctx, after := t.Context(), fmt.Sprint("after ", last[max(0, len(last)-6):])
	d, err := h.Drive(ctx, "spring")
	require.NoError(t, err)
	today := drive.Day(h.clock.now, d.Location())
	kits := func(w KitsWhere) KitsList {
		l, err := h.Kits(ctx, "spring", KitsQuery{Where: w, Today: today})
		require.NoError(t, err)
		return l
	}
	out := kits(KitsOut)
	people, err := h.People(ctx, "spring", PeopleQuery{Who: PeopleAll, Today: today})
	require.NoError(t, err)
	require.Equal(t, []int{out.Total, out.Cases, out.Late}, []int{people.Kits, people.Cases, people.Late}, "kits out and what people have %s", after)
	lines, err := h.AskedLines(ctx, "spring")
	require.NoError(t, err)
	stacks, err := h.Stacks(ctx, "spring", drive.CaseSewn, drive.CaseGood, drive.CaseToMend)
	require.NoError(t, err)
	byState, byLine := drive.Counts{}, map[int64]drive.Counts{}
	mendHere := 0
	for _, s := range stacks {
		byState[s.State] += s.N
		if byLine[s.Asked] == nil {
			byLine[s.Asked] = drive.Counts{}
		}
		byLine[s.Asked][s.State] += s.N
		if s.State == drive.CaseToMend && !s.Out() {
			mendHere += s.N
		}
	}
	for _, l := range lines {
		for _, state := range []drive.CaseState{drive.CaseSewn, drive.CaseGood, drive.CaseToMend} {
			require.Equal(t, l.Counts[state], byLine[l.Number][state], "line %d, %s %s", l.Number, state, after)
		}
		s := l.Standing()
		require.Equal(t, s.Asked+s.Over, s.Delivered+s.Good+s.Back+s.Out+s.Planned+s.Missing, "line %d %s", l.Number, after)
	}
	deliveries, err := h.Deliveries(ctx, "spring", DeliveriesQuery{})
	require.NoError(t, err)
	boxes, err := h.BoxesWaiting(ctx, "spring")
	require.NoError(t, err)
	delivered, confirmed, missing, packed := 0, 0, 0, 0
	for _, b := range boxes {
		packed += b.Cases()
	}
	for _, v := range deliveries {
		if v.SentOn == nil {
			packed += v.Cases()
			continue
		}
		delivered, confirmed, missing = delivered+v.Open(), confirmed+v.Confirmed(), missing+v.Missing()
	}
	all := drive.Counts{}
	for _, l := range lines {
		for state, n := range l.Counts {
			all[state] += n
		}
	}
	require.Equal(t, []int{packed, delivered, confirmed, missing}, []int{all[drive.CasePacked], all[drive.CaseDelivered], all[drive.CaseConfirmed], all[drive.CaseNotReceived]}, "deliveries and lines %s", after)
	needs, err := h.Needs(ctx, "spring")
	require.NoError(t, err)
	told := map[drive.NeedKind]int{}
	for _, n := range needs {
		if n.Kind == drive.NeedKitsLate || n.Kind == drive.NeedKitsDue {
			told[n.Kind] += n.N
			continue
		}
		told[n.Kind] += n.Cases
	}
	free := byLine[0][drive.CaseGood]
	soon := kits(KitsDueSoon)
	require.Equal(t, []int{byState[drive.CaseSewn], mendHere, byState[drive.CaseGood] - free, free, out.Late, soon.Total},
		[]int{told[drive.NeedToCheck], told[drive.NeedToMend], told[drive.NeedToPack], told[drive.NeedToPromise], told[drive.NeedKitsLate], told[drive.NeedKitsDue]}, "needs you and lists %s", after)
	books := booksIn(t, h.Store, dayIn(-9), today)
	sewn, done := map[int64]int{}, map[int64]int{}
	for _, p := range books.People {
		sewn[p.Number] = p.Sewn
	}
	for _, p := range people.People {
		done[p.Number] = p.Done
	}
	require.Equal(t, done, sewn, "sewn by the list of people and the books %s", after)
	for _, l := range books.Asked {
		for _, line := range lines {
			if line.Number == l.Number {
				require.Equal(t, line.Standing(), l.Counts.Standing(l.Wanted), "line %d by the books %s", l.Number, after)
			}
		}
	}
	good, came, gone := 0, 0, drive.Counts{}
	for _, l := range books.Cases {
		good, came = good+l.FoundGood, came+l.CameIn
		for state, n := range l.Counts {
			gone[state] += n
		}
	}
	back := gone.Sum(drive.CaseSewn, drive.CaseToMend, drive.CaseGood, drive.CaseNotUsable, drive.CasePacked, drive.CaseDelivered, drive.CaseConfirmed, drive.CaseNotReceived)
	require.LessOrEqual(t, back, came+h.added(t), "no more is sewn than came in %s", after)
	require.LessOrEqual(t, came, back+gone.Sum(drive.CaseLost), "no more came in than ever was sewn %s", after)
	require.Equal(t, gone.Sum(drive.CaseGood, drive.CasePacked, drive.CaseDelivered, drive.CaseConfirmed, drive.CaseNotReceived), good+h.added(t)-h.checkedAgain(t), "found good %s", after)
	for _, k := range out.Kits {
		page, err := h.Kit(ctx, "spring", k.KitRef)
		require.NoError(t, err)
		p, err := h.Person(ctx, "spring", *k.Holder)
		require.NoError(t, err)
		require.Nil(t, p.ErasedAt, "kit %s is with somebody who is forgotten %s", k.KitRef, after)
		require.Equal(t, k.Cases, page.Count(drive.CaseOut, drive.CaseToMend))
	}
}

// added is how many came to light in boxes.
func (h *hall) added(t *testing.T) int {
	var n int
	require.NoError(t, h.db.Pool.QueryRow(t.Context(), `SELECT coalesce(sum(n), 0) FROM case_entries WHERE from_state = 'born' AND to_state = 'packed'`).Scan(&n))
	return n
}

// checkedAgain is how many were found good and came back from a recipient to be checked once more.
func (h *hall) checkedAgain(t *testing.T) int {
	var n int
	require.NoError(t, h.db.Pool.QueryRow(t.Context(), `SELECT coalesce(sum(n), 0) FROM case_entries WHERE from_state = 'delivered' AND to_state = 'sewn'`).Scan(&n))
	return n
}

// finishAll ends everything: whatever stands anywhere can be brought to an end.
func (h *hall) finishAll(t *testing.T) {
	t.Helper()
	ctx := t.Context()
	h.clock.forward(72 * time.Hour)
	act := func() drive.Act { return h.act(h.key()) }
	list, err := h.Kits(ctx, "spring", KitsQuery{Where: KitsAnywhere})
	require.NoError(t, err)
	for _, k := range list.Kits {
		switch k.State {
		case drive.KitOut:
			_, err = h.TakeBack(ctx, act(), k.KitRef, drive.KitReturn{Sewn: k.Cases}, time.Time{})
			require.NoError(t, err, "kit %s", k.KitRef)
		case drive.KitLost:
			_, err = h.KitFound(ctx, act(), k.KitRef, k.Cases, 0, time.Time{})
			require.NoError(t, err, "kit %s", k.KitRef)
		case drive.KitCut, drive.KitReady, drive.KitFound:
			_, err = h.TakeKitApart(ctx, act(), k.KitRef, "over", true)
			require.NoError(t, err, "kit %s", k.KitRef)
		}
	}
	for range 2 {
		mend, err := h.Stacks(ctx, "spring", drive.CaseToMend)
		require.NoError(t, err)
		for _, s := range mend {
			_, err = h.MendedHere(ctx, act(), s.Stack, s.N)
			require.NoError(t, err)
		}
		sewn, err := h.Stacks(ctx, "spring", drive.CaseSewn)
		require.NoError(t, err)
		for _, s := range sewn {
			_, err = h.CheckCases(ctx, act(), s.Stack, drive.Checked{Good: s.N, Pins: true})
			require.NoError(t, err)
		}
	}
	good, err := h.Stacks(ctx, "spring", drive.CaseGood)
	require.NoError(t, err)
	for _, s := range good {
		if s.Asked != 0 {
			_, err = h.PackBox(ctx, act(), PackedBox{Recipient: *s.Recipient, PackedBy: "AB", CheckedBy: "CD", Cases: []drive.Pack{{Asked: s.Asked, Size: s.Size, N: s.N}}})
			require.NoError(t, err)
		}
	}
	boxes, err := h.BoxesWaiting(ctx, "spring")
	require.NoError(t, err)
	today := drive.Day(h.clock.now, time.UTC)
	for _, b := range boxes {
		_, err = h.MakeDelivery(ctx, act(), Sending{Recipient: b.Recipient, Boxes: []int64{b.Number}, SentOn: &today})
		require.NoError(t, err)
	}
	deliveries, err := h.Deliveries(ctx, "spring", DeliveriesQuery{})
	require.NoError(t, err)
	for _, d := range deliveries {
		if d.State() == drive.DeliveryMade {
			_, err = h.SendDelivery(ctx, act(), d.Number, today, "")
			require.NoError(t, err)
		}
		if d.State() == drive.DeliveryMade || d.State() == drive.DeliveryOnWay {
			c := drive.Confirmation{By: "Sister Hale", How: drive.ByPhone, On: today}
			for _, b := range d.Boxes {
				for _, l := range b.BySize() {
					c.Arrived = append(c.Arrived, drive.Arrived{Box: b.Number, Size: l.Size, N: l.N})
				}
			}
			_, err = h.ConfirmDelivery(ctx, act(), d.Number, c)
			require.NoError(t, err)
			continue
		}
		for _, f := range d.Differences() {
			if f.Short > 0 {
				_, err = h.SettleDelivery(ctx, act(), d.Number, drive.Settlement{Box: f.Box, Size: f.Size, Way: drive.SettleFound, N: f.Short})
				require.NoError(t, err)
			}
			if f.More > 0 {
				_, err = h.SettleDelivery(ctx, act(), d.Number, drive.Settlement{Box: f.Box, Size: f.Size, Way: drive.SettleMore, N: f.More, Reason: "so it was"})
				require.NoError(t, err)
			}
		}
	}
	deliveries, err = h.Deliveries(ctx, "spring", DeliveriesQuery{})
	require.NoError(t, err)
	for _, d := range deliveries {
		require.Equal(t, drive.DeliveryArrived, d.State(), "delivery %d", d.Number)
	}
	needs, err := h.Needs(ctx, "spring")
	require.NoError(t, err)
	for _, n := range needs {
		require.NotContains(t, []drive.NeedKind{drive.NeedToCheck, drive.NeedToMend, drive.NeedToPack, drive.NeedKitsLate, drive.NeedBoxes, drive.NeedConfirmation, drive.NeedCountsDiffer, drive.NeedToSend}, n.Kind)
	}
	agrees(t, h.testStore)
}
