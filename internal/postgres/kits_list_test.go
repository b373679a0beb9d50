package postgres

import (
	"testing"
	"time"

	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

func TestKitsList(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z, king := addSize(t, s, "standard"), addSize(t, s, "king")
	a := addAsked(t, s, addRecipient(t, s, "Ward 4"), z, 20)
	mary, bo := addPerson(t, s, "Mary Ellis"), addPerson(t, s, "Bo Lund")
	cut := cutKits(t, s, a, 2, 4) // 1, 2
	due, later := dayIn(2), dayIn(14)
	ownKits(t, s, z, 1, 3, mary, &due)              // 3
	ownKits(t, s, king, 1, 6, bo, &later)           // 4
	fourth := ownKits(t, s, king, 1, 5, mary, nil)  // 5
	lost := ownKits(t, s, king, 1, 2, mary, &later) // 6
	ready := ownKits(t, s, z, 1, 1, 0, nil)         // 7
	parted := ownKits(t, s, king, 1, 4, bo, &later) // 8
	_, err := s.KitLost(t.Context(), s.fresh(), lost[0], "", time.Time{})
	require.NoError(t, err)
	_, err = s.TakeBack(t.Context(), s.fresh(), parted[0], drive.KitReturn{Sewn: 1}, time.Time{}) // 8-2
	require.NoError(t, err)
	require.Equal(t, []int64{1, 5, 7}, []int64{cut[0].Number, fourth[0].Number, ready[0].Number})

	s.clock.forward(5 * 24 * time.Hour)
	find := func(q KitsQuery) ([]string, KitsList) {
		q.Today = drive.Day(s.clock.now, time.UTC)
		list, err := s.Kits(t.Context(), "spring", q)
		require.NoError(t, err)
		var names []string
		for _, k := range list.Kits {
			names = append(names, k.String())
		}
		return names, list
	}
	for _, c := range []struct {
		q     KitsQuery
		names []string
	}{
		{KitsQuery{Where: KitsOut, Sort: "holder"}, []string{"4", "8", "3", "5"}},
		{KitsQuery{Where: KitsOut, Sort: "holder", Desc: true}, []string{"3", "5", "4", "8"}},
		{KitsQuery{Where: KitsLate}, []string{"3"}},
		{KitsQuery{Where: KitsDueSoon}, nil},
		{KitsQuery{Where: KitsInHouse}, []string{"1", "2", "7"}},
		{KitsQuery{Where: KitsBack}, []string{"8-2"}},
		{KitsQuery{Where: KitsLost}, []string{"6"}},
		{KitsQuery{Where: KitsComing}, nil},
		{KitsQuery{}, []string{"1", "2", "3", "4", "5", "6", "7", "8", "8-2"}},
		{KitsQuery{Q: "8"}, []string{"8", "8-2"}},
		{KitsQuery{Q: "8-2"}, []string{"8-2"}},
		{KitsQuery{Q: "ward"}, []string{"1", "2"}},
		{KitsQuery{Q: "KING"}, []string{"4", "5", "6", "8", "8-2"}},
		{KitsQuery{Q: "ellis"}, []string{"3", "5"}},
		{KitsQuery{Q: "%"}, nil},
		{KitsQuery{Where: KitsOut, Holder: bo, Sort: "due"}, []string{"4", "8"}},
		{KitsQuery{Where: KitsOut, Sort: "due"}, []string{"3", "4", "8", "5"}},
		{KitsQuery{Sort: "cases", Desc: true, Limit: 2}, []string{"4", "5"}},
		{KitsQuery{Limit: 3, Offset: 6}, []string{"7", "8", "8-2"}},
	} {
		names, _ := find(c.q)
		require.Equal(t, c.names, names, "%+v", c.q)
	}
	for _, sort := range []string{"number", "holder", "due", "since", "cases", "size", "for", "needed", "state", "1; drop table kits"} {
		names, _ := find(KitsQuery{Sort: sort})
		require.Len(t, names, 9, "sorted by %s", sort)
	}
	_, list := find(KitsQuery{Where: KitsOut, Limit: 1})
	require.Equal(t, []int{4, 17, 1}, []int{list.Total, list.Cases, list.Late}, "kits, pillowcases, late over all that match")

	cards, err := s.KitCards(t.Context(), "spring", []drive.KitRef{{Number: 8, Part: 2}, {Number: 3, Part: 1}, {Number: 77, Part: 1}})
	require.NoError(t, err)
	require.Len(t, cards, 2)
	require.Equal(t, "3", cards[0].String())
	require.Equal(t, z.Spec, cards[0].Spec)
}

func TestKitHistory(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	mary := addPerson(t, s, "Mary Ellis")
	due := dayIn(10)
	ref := ownKits(t, s, z, 1, 4, mary, &due)[0]
	s.clock.forward(time.Hour)
	later := dayIn(20)
	_, err := s.ExtendDue(t.Context(), s.fresh(), []drive.KitRef{ref}, &later)
	require.NoError(t, err)
	s.clock.forward(time.Hour)
	_, err = s.TakeBack(t.Context(), s.fresh(), ref, drive.KitReturn{Sewn: 4}, time.Time{})
	require.NoError(t, err)
	page := kit(t, s, ref)
	var told []string
	for _, e := range page.Events {
		told = append(told, e.From+" > "+e.To+" "+e.Name+" "+dayText(e.Due)+" "+e.Reason)
	}
	require.Equal(t, []string{
		"out > back   ",
		"out > out Mary Ellis 2026-10-23 needs longer",
		"ready > out Mary Ellis 2026-10-13 ",
		"born > ready   own fabric",
	}, told)
	require.Equal(t, z.Spec, page.Spec)
}
