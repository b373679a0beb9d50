package postgres

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// One Enter too many at the door: the lot goes with its donor and tag, its number stays.
func TestTaggingIsTakenBack(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	first := tagged(t, s, "", 2)
	slip, err := s.TagLots(t.Context(), s.fresh(), []drive.Tagging{{Donor: "Orla Brandt", Tag: "A02", Pieces: 1, ReceivedOn: dayIn(0), Note: "none"}})
	require.NoError(t, err)
	lot := slip.Numbers[0]
	before, err := s.UntagLot(t.Context(), s.fresh(), lot)
	require.NoError(t, err)
	require.Equal(t, first, before)

	gone, err := s.Lot(t.Context(), "spring", lot)
	require.NoError(t, err)
	require.NotNil(t, gone.UntaggedAt)
	require.Nil(t, gone.Donor)
	require.Nil(t, gone.Tag)
	require.Empty(t, gone.Note)
	for _, state := range []LotsState{LotsHere, LotsWaiting, LotsLeft, LotsAside, LotsAll} {
		list, err := s.Lots(t.Context(), "spring", LotsQuery{State: state})
		require.NoError(t, err)
		for _, l := range list.Lots {
			require.Equal(t, first, l.Number, "%q", state)
		}
	}
	donors, err := s.ThanksDue(t.Context(), "spring")
	require.NoError(t, err)
	require.Empty(t, donors, "nobody is thanked for it")
	history, err := s.LotHistory(t.Context(), "spring", lot)
	require.NoError(t, err)
	require.Len(t, history.Entries, 2)
	require.Equal(t, drive.FabricUndone, history.Entries[1].Kind)
	for what, do := range map[string]func() error{
		"again": func() error { _, err := s.UntagLot(t.Context(), s.fresh(), lot); return err },
		"measure": func() error {
			_, err := s.MeasureLot(t.Context(), s.fresh(), lot, gone.Version, cotton(1, 72*inch))
			return err
		},
		"aside": func() error { _, err := s.TakeBackAside(t.Context(), s.fresh(), lot); return err },
		"count": func() error {
			_, err := s.CountLot(t.Context(), s.fresh(), begin(t, s, ""), lot, 0, nil, false)
			return err
		},
		"its photo": func() error { _, err := s.SetLotPhoto(t.Context(), s.fresh(), lot, ""); return err },
	} {
		require.True(t, apperr.Is(do(), apperr.KindConflict), what)
	}
	next, err := s.TagLots(t.Context(), s.fresh(), []drive.Tagging{{Tag: "a02", Pieces: 1, ReceivedOn: dayIn(0)}})
	require.NoError(t, err, "the tag hangs on nothing")
	require.Equal(t, lot+1, next.Numbers[0], "the number is given to no other")

	_, err = s.MeasureLot(t.Context(), s.fresh(), first, 1, cotton(1, 72*inch))
	require.NoError(t, err)
	_, err = s.UntagLot(t.Context(), s.fresh(), first)
	require.ErrorContains(t, err, "is measured")
	_, err = s.UndoMeasure(t.Context(), s.fresh(), first)
	require.NoError(t, err)
	_, err = s.UntagLot(t.Context(), s.fresh(), first)
	require.ErrorContains(t, err, "was measured before")
	agrees(t, s)
}

// Tablets that measure one pile are each offered another lot, and meet only where
// there is no other.
func TestTabletsMeasureDifferentLots(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	const tablets = 4
	for range tablets {
		tagged(t, s, "", 1)
	}
	var mu sync.Mutex
	taken := map[int64]int{}
	inParallel(tablets, func(i int) {
		lot, err := s.TakeNextInHand(t.Context(), "spring", 0, fmt.Sprint(i), 1)
		require.NoError(t, err)
		mu.Lock()
		defer mu.Unlock()
		taken[lot]++
	})
	require.Equal(t, map[int64]int{1: 1, 2: 1, 3: 1, 4: 1}, taken)

	late, err := s.TakeNextInHand(t.Context(), "spring", 0, "late", 1)
	require.NoError(t, err)
	require.NotZero(t, late, "where all lie on tables, one of them")
	hand, err := s.InHand(t.Context(), "spring", late, "late")
	require.NoError(t, err)
	require.NotNil(t, hand, "and whoever comes late is told")
	own := fmt.Sprint(0)
	first, err := s.NextToMeasure(t.Context(), "spring", 0, own)
	require.NoError(t, err)
	hand, err = s.InHand(t.Context(), "spring", first, own)
	require.NoError(t, err)
	require.Nil(t, hand, "one's own lot first")

	s.clock.forward(handFor + time.Minute)
	hand, err = s.InHand(t.Context(), "spring", late, "late")
	require.NoError(t, err)
	require.Nil(t, hand, "who went away has nothing in hand")
	n, err := s.ForgetHands(t.Context())
	require.NoError(t, err)
	require.EqualValues(t, tablets, n)
}
