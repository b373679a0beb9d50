package postgres

import (
	"testing"
	"time"

	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// Who sewed pillowcases stays named whoever mends them, in whichever part of a kit they lie, and who
// mended them is named beside; what one pair of hands sewed stays of one pair of hands.
func TestWhoSewedStaysNamedWhoeverMends(t *testing.T) {
	s, a := wardOf(t, 20)
	bea, cy := addPerson(t, s, "Bea Lund"), addPerson(t, s, "Cy Moss")
	size := a.Sizes[0]
	type hands struct {
		State            drive.CaseState
		SewnBy, MendedBy string
		Maker            int64
	}
	lies := func(kit int64) map[int]hands {
		t.Helper()
		stacks, err := s.Stacks(t.Context(), "spring", drive.CaseSewn, drive.CaseToMend, drive.CaseGood)
		require.NoError(t, err)
		found := map[int]hands{}
		for _, l := range stacks {
			if l.Kit == kit {
				found[l.Part] = hands{l.State, l.SewnBy, l.MendedBy, l.Maker}
			}
		}
		return found
	}
	faulty := func(kit int64, part, n int) {
		t.Helper()
		of := drive.Stack{Size: size, Kit: kit, Part: part}
		_, err := s.CheckCases(t.Context(), s.fresh(), of, drive.Checked{Pins: true, Failed: []drive.Failed{{N: n, To: drive.CaseToMend, Reasons: []string{"seam open"}}}})
		require.NoError(t, err)
	}
	send := func(kit int64, part, n int, to int64) drive.KitRef {
		t.Helper()
		ref, err := s.SendToMend(t.Context(), s.fresh(), Mending{At: drive.Stack{Size: size, Kit: kit, Part: part}, N: n, Person: to})
		require.NoError(t, err)
		return ref
	}
	back := func(ref drive.KitRef, n int) {
		t.Helper()
		_, err := s.TakeBack(t.Context(), s.fresh(), ref, drive.KitReturn{Sewn: n}, time.Time{})
		require.NoError(t, err)
	}
	sewn, mended := hands{drive.CaseToMend, "Bea Lund", "", bea}, hands{drive.CaseSewn, "Bea Lund", "Cy Moss", bea}

	kit := ownKits(t, s, drive.Size{Number: size}, 1, 6, bea, nil)[0]
	back(kit, 6)
	faulty(kit.Number, 1, 6)
	two := send(kit.Number, 1, 2, cy)
	require.Equal(t, map[int]hands{1: sewn, 2: sewn}, lies(kit.Number))
	back(two, 2)
	require.Equal(t, map[int]hands{1: sewn, 2: mended}, lies(kit.Number))
	_, err := s.UndoTakeBack(t.Context(), s.fresh(), two)
	require.NoError(t, err)
	require.Equal(t, map[int]hands{1: sewn, 2: sewn}, lies(kit.Number), "taken back by mistake is not mended")
	back(two, 2)
	rest := send(kit.Number, 1, 4, cy)
	back(rest, 1)
	_, err = s.KitLost(t.Context(), s.fresh(), rest, "on the bus", time.Time{})
	require.NoError(t, err)
	_, err = s.KitFound(t.Context(), s.fresh(), rest, 2, 0, time.Time{})
	require.NoError(t, err)
	require.Equal(t, map[int]hands{2: mended, 3: mended, 4: mended}, lies(kit.Number))
	faulty(kit.Number, 3, 1)
	found, err := s.Findings(t.Context(), "spring", dayIn(-1))
	require.NoError(t, err)
	require.Equal(t, 1, found.Faults[0].Makers, "%+v", found.Faults)
	_, err = s.MendedHere(t.Context(), s.fresh(), drive.Stack{Size: size, Kit: kit.Number, Part: 3}, 1)
	require.NoError(t, err)
	require.Equal(t, hands{drive.CaseSewn, "Bea Lund", "", bea}, lies(kit.Number)[3], "mended at the table")

	// Without a kit: whoever may have sewn what went out, not who brought something in since.
	_, err = s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: size, N: 3, Maker: &bea})
	require.NoError(t, err)
	faulty(0, 0, 3)
	loose := send(0, 0, 2, cy)
	_, err = s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: size, N: 2, Maker: &cy})
	require.NoError(t, err)
	back(loose, 2)
	require.Equal(t, map[int]hands{1: mended}, lies(loose.Number))
	require.Equal(t, hands{drive.CaseToMend, "Bea Lund", "", bea}, lies(0)[0])
	faulty(loose.Number, 1, 2)
	found, err = s.Findings(t.Context(), "spring", dayIn(-1))
	require.NoError(t, err)
	require.Equal(t, 2, found.Faults[0].Makers, "hers of a kit, and all that came without one: %+v", found.Faults)

	said := map[string]int{}
	for _, e := range booksIn(t, s.Store, dayIn(0), dayIn(9)).CaseEntries {
		if e.N < 0 {
			continue
		}
		said["sewn by "+e.SewnBy()] += e.N
		said["mended by "+e.MendedBy()] += e.N
	}
	require.Equal(t, []int{6 + 3, 2, 0}, []int{said["sewn by Bea Lund"], said["sewn by Cy Moss"], said["mended by Bea Lund"]})
	require.Equal(t, 2+2+1+2+2, said["mended by Cy Moss"], "one of them was undone and counts twice here")
	agrees(t, s)
}
