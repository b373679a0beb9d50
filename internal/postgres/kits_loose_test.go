package postgres

import (
	"fmt"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// cutToChange is a drive whose plan is cut whole: three kits of four lie there.
func cutToChange(t testing.TB) (*testStore, drive.Asked, int64) {
	t.Helper()
	s, a, plan := toChange(t)
	for _, n := range sheetsWaiting(t, s) {
		_, err := s.MarkSheetCut(t.Context(), s.fresh(), n)
		require.NoError(t, err)
	}
	return s, a, plan
}

// lying adds up what lies loose, by role, and gives the lot of each.
func lying(t testing.TB, s *testStore) (map[string]int, map[string]int64) {
	t.Helper()
	list, err := s.LoosePanels(t.Context(), "spring")
	require.NoError(t, err)
	n, lots := map[string]int{}, map[string]int64{}
	for _, p := range list {
		n[p.Role] += p.N
		lots[p.Role] = p.Lot
	}
	return n, lots
}

// A cuff of a kit is spoiled: the kit is taken apart, the panel is left out, and a kit of those
// that go together is put together by hand. A change of the plan knows of both.
func TestAKitIsPutTogetherByHand(t *testing.T) {
	s, a, plan := cutToChange(t)
	_, err := s.TakeKitApart(t.Context(), s.fresh(), drive.KitRef{Number: 1, Part: 1}, "a cuff was ironed too hot", true)
	require.NoError(t, err)
	list, err := s.LoosePanels(t.Context(), "spring")
	require.NoError(t, err)
	var cuff LoosePanels
	for _, p := range list {
		if p.Role == "cuff" {
			cuff = p
		}
	}
	_, err = s.LoosePanelsLie(t.Context(), s.fresh(), 1, cuff.Sheet, "cuff", cuff.Cut+1)
	require.Contains(t, apperr.Fields(err), "n")
	for _, no := range []struct {
		sheet int64
		role  string
	}{{cuff.Sheet, "pocket"}, {cuff.Sheet, "Mr Zephyr's phone is 0117"}, {cuff.Sheet + 999, "cuff"}} {
		_, err = s.LoosePanelsLie(t.Context(), s.fresh(), 1, no.sheet, no.role, 0)
		require.True(t, apperr.Is(err, apperr.KindNotFound), "%v: %v", no, err)
	}
	_, err = s.LoosePanelsLie(t.Context(), s.fresh(), 1, cuff.Sheet, "cuff", cuff.Cut-1)
	require.NoError(t, err)
	var counted string
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), `SELECT changes::text FROM audit WHERE act = 'loose panels counted'`).Scan(&counted))
	require.JSONEq(t, fmt.Sprintf(`{"sheet": {"to": %d}, "panels of the": {"to": "cuff"}, "lie there": {"to": %d}}`, cuff.Sheet, cuff.Cut-1), counted, "what is typed is never the name of a field")
	n, lots := lying(t, s)
	require.Equal(t, []int{4, 3}, []int{n["body"], n["cuff"]})

	wish := drive.LooseKit{Size: cuff.Size, Asked: &a.Number, Cases: 4, Lots: lots}
	_, err = s.MakeLooseKit(t.Context(), s.fresh(), wish)
	require.Contains(t, apperr.Fields(err)["cuff"], "enough for 3 pillowcases")
	wish.Cases = 3
	act := s.act("by hand")
	made, err := s.MakeLooseKit(t.Context(), act, wish)
	require.NoError(t, err)
	again, err := s.MakeLooseKit(t.Context(), act, wish)
	require.NoError(t, err)
	require.Equal(t, made, again)
	k := kit(t, s, made.Kits[0])
	require.Equal(t, []any{drive.KitCut, 3, plan}, []any{k.State, k.Count(drive.CaseCut), *k.Plan})
	n, _ = lying(t, s)
	require.Equal(t, []int{1, 0}, []int{n["body"], n["cuff"]})
	requireAgreed(t, s)

	got, err := s.AcceptPlan(t.Context(), s.fresh(), changePlan(t, s, plan))
	require.NoError(t, err)
	require.Equal(t, drive.KitCut, kit(t, s, made.Kits[0]).State, "what was put together stays")
	require.Equal(t, 3, got.KitsStay)
	requireAgreed(t, s)
}

// Prints that never meet do not meet in a kit put together by hand either, and what was left out
// by mistake lies there again.
func TestLoosePanelsAreKeptToWhatWasDecided(t *testing.T) {
	s, _, plan := cutToChange(t)
	_, err := s.TakeKitApart(t.Context(), s.fresh(), drive.KitRef{Number: 1, Part: 1}, "wrong bag", false)
	require.NoError(t, err)
	n, _ := lying(t, s)
	require.Zero(t, n["body"], "they were said not to be good")
	_, err = s.LoosePanelsBack(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	n, lots := lying(t, s)
	require.Equal(t, 4, n["body"])
	_, err = s.LoosePanelsBack(t.Context(), s.fresh(), 1)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	_, err = s.LoosePanelsGone(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	_, err = s.LoosePanelsBack(t.Context(), s.fresh(), 1)
	require.NoError(t, err)

	other := lots["cuff"]
	rule, err := s.AddLotRule(t.Context(), s.fresh(), drive.LotRule{Kind: drive.LotNever, Lot: lots["body"], Other: &other, Roles: drive.BodyAndCuff})
	require.NoError(t, err)
	list, err := s.LoosePanels(t.Context(), "spring")
	require.NoError(t, err)
	wish := drive.LooseKit{Size: list[0].Size, Cases: 1, Lots: lots}
	_, err = s.MakeLooseKit(t.Context(), s.fresh(), wish)
	require.Contains(t, apperr.Fields(err)["cuff"], "never together")
	_, err = s.EndLotRule(t.Context(), s.fresh(), rule)
	require.NoError(t, err)
	_, err = s.MakeLooseKit(t.Context(), s.fresh(), wish)
	require.NoError(t, err)
	requireAgreed(t, s)
	_, err = s.AcceptPlan(t.Context(), s.fresh(), changePlan(t, s, plan))
	require.NoError(t, err)
	requireAgreed(t, s)
}

// Of a kit that came back in part, the panels of the rest lie loose once it is taken apart.
func TestPanelsOfAKitThatCameBackInPart(t *testing.T) {
	s, a, plan := cutToChange(t)
	ref := drive.KitRef{Number: 1, Part: 1}
	_, err := s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: []drive.KitRef{ref}, Person: addPerson(t, s, "Mary Ellis")})
	require.NoError(t, err)
	_, err = s.TakeBack(t.Context(), s.fresh(), ref, drive.KitReturn{Sewn: 3, RestUnsewn: true}, time.Time{})
	require.NoError(t, err)
	apart, err := s.TakeKitApart(t.Context(), s.fresh(), ref, "nobody sews a single one", true)
	require.NoError(t, err)
	n, _ := lying(t, s)
	if apart.Tell {
		require.Zero(t, n["body"], "somebody says which lie there")
		list, err := s.LoosePanels(t.Context(), "spring")
		require.NoError(t, err)
		for _, role := range []string{"body", "cuff", "accent"} {
			for _, p := range list {
				if p.Role == role {
					_, err = s.LoosePanelsLie(t.Context(), s.fresh(), 1, p.Sheet, role, 1)
					require.NoError(t, err)
					break
				}
			}
		}
		n, _ = lying(t, s)
	}
	require.Equal(t, []int{1, 1}, []int{n["body"], n["cuff"]})
	list, err := s.LoosePanels(t.Context(), "spring")
	require.NoError(t, err)
	_, err = s.LoosePanelsLie(t.Context(), s.fresh(), 1, list[0].Sheet, "body", 2)
	require.Contains(t, apperr.Fields(err), "n", "the others are sewn")
	before := line(t, s, a.Number).Counts.Alive()
	got, err := s.AcceptPlan(t.Context(), s.fresh(), changePlan(t, s, plan))
	require.NoError(t, err)
	require.Equal(t, before+1, line(t, s, a.Number).Counts.Alive())
	require.Equal(t, []int{1, 0}, []int{got.Kits, got.Sheets}, "it is sewn from what lies there")
	requireAgreed(t, s)
}

// What lies loose of such a kit and no change needs goes on lying loose.
func TestPanelsThatNobodyNeedsStayLoose(t *testing.T) {
	s, a, plan := cutToChange(t)
	ref := drive.KitRef{Number: 1, Part: 1}
	_, err := s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: []drive.KitRef{ref}, Person: addPerson(t, s, "Mary Ellis")})
	require.NoError(t, err)
	_, err = s.TakeBack(t.Context(), s.fresh(), ref, drive.KitReturn{Sewn: 2, RestUnsewn: true}, time.Time{})
	require.NoError(t, err)
	apart, err := s.TakeKitApart(t.Context(), s.fresh(), ref, "the ward asks for one less", true)
	require.NoError(t, err)
	require.False(t, apart.Tell)
	n, _ := lying(t, s)
	require.Equal(t, []int{2, 2}, []int{n["body"], n["cuff"]})
	now := line(t, s, a.Number)
	now.Wanted = now.Counts.Alive() + 1
	_, err = s.UpdateAsked(t.Context(), s.fresh(), now.Asked)
	require.NoError(t, err)
	got, err := s.AcceptPlan(t.Context(), s.fresh(), changePlan(t, s, plan))
	require.NoError(t, err)
	require.Equal(t, []int{1, 0}, []int{got.Kits, got.Sheets}, "the one is sewn from what lies there")
	n, _ = lying(t, s)
	require.Equal(t, []int{1, 1}, []int{n["body"], n["cuff"]})
	requireAgreed(t, s)
}

// A change that was asked for while panels lay loose does not take those that somebody put into a
// kit by hand meanwhile, left out, or counted as not there: accepting it says so.
func TestAChangeDoesNotTakeWhatWasPutTogetherMeanwhile(t *testing.T) {
	meanwhile := map[string]func(*testing.T, *testStore, drive.Asked){
		"put into a kit": func(t *testing.T, s *testStore, a drive.Asked) {
			list, err := s.LoosePanels(t.Context(), "spring")
			require.NoError(t, err)
			_, lots := lying(t, s)
			_, err = s.MakeLooseKit(t.Context(), s.fresh(), drive.LooseKit{Size: list[0].Size, Asked: &a.Number, Cases: 4, Lots: lots})
			require.NoError(t, err)
		},
		"left out": func(t *testing.T, s *testStore, _ drive.Asked) {
			_, err := s.LoosePanelsGone(t.Context(), s.fresh(), 1)
			require.NoError(t, err)
		},
		"counted": func(t *testing.T, s *testStore, _ drive.Asked) {
			list, err := s.LoosePanels(t.Context(), "spring")
			require.NoError(t, err)
			_, err = s.LoosePanelsLie(t.Context(), s.fresh(), 1, list[0].Sheet, list[0].Role, list[0].Cut-1)
			require.NoError(t, err)
		},
	}
	for name, do := range meanwhile {
		t.Run(name, func(t *testing.T) {
			s, a, plan := cutToChange(t)
			_, err := s.TakeKitApart(t.Context(), s.fresh(), drive.KitRef{Number: 1, Part: 1}, "sorted wrongly", true)
			require.NoError(t, err)
			number := changePlan(t, s, plan)
			do(t, s, a)
			everything := []string{"panels", "kits", "kit_entries", "case_entries", "sheets"}
			before := rowsOf(t, s, everything...)
			_, err = s.AcceptPlan(t.Context(), s.fresh(), number)
			require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
			require.ErrorContains(t, err, "were put into another kit or left out")
			require.Equal(t, before, rowsOf(t, s, everything...))
			panelsHold(t, s)
		})
	}
}

// Panels that are sewn do not lie there, whatever was said of the rest when the kit was taken apart:
// what is found good afterwards is the rest alone.
func TestSewnPanelsDoNotLieThere(t *testing.T) {
	s, _, _ := cutToChange(t)
	ref := drive.KitRef{Number: 1, Part: 1}
	_, err := s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: []drive.KitRef{ref}, Person: addPerson(t, s, "Mary Ellis")})
	require.NoError(t, err)
	_, err = s.TakeBack(t.Context(), s.fresh(), ref, drive.KitReturn{Sewn: 3, RestUnsewn: true}, time.Time{})
	require.NoError(t, err)
	apart, err := s.TakeKitApart(t.Context(), s.fresh(), ref, "stained", false)
	require.NoError(t, err)
	require.False(t, apart.Tell)
	_, err = s.LoosePanelsBack(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	n, _ := lying(t, s)
	require.LessOrEqual(t, n["body"], 1)

	// So it is where nothing was noted when the kit was taken apart.
	_, err = s.LoosePanelsGone(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	_, err = s.pool.Exec(t.Context(), `UPDATE panels SET gone = false WHERE kit = 1`)
	require.NoError(t, err)
	_, err = s.LoosePanelsBack(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	again, _ := lying(t, s)
	require.Equal(t, n, again)
	requireAgreed(t, s)
}

// panelsHold sees to it that each kit which lies here cut has panels for all its pillowcases.
func panelsHold(t testing.TB, s *testStore) {
	t.Helper()
	const q = `SELECT k.number, sum(b.n) FROM kits k JOIN case_balances b ON b.drive_id = k.drive_id AND b.kit = k.number AND b.part = k.part AND b.state = 'cut'
		WHERE k.part = 1 AND k.state IN ('cut', 'ready') AND NOT k.own_fabric AND b.n > 0 GROUP BY k.drive_id, k.number
		HAVING sum(b.n) > (SELECT count(DISTINCT n.pillowcase) FROM panels n WHERE n.drive_id = k.drive_id AND n.kit = k.number AND n.role = 'body' AND NOT n.gone)`
	rows, err := s.pool.Query(t.Context(), q)
	require.NoError(t, err)
	bare, err := pgx.CollectRows(rows, pgx.RowToMap)
	require.NoError(t, err)
	require.Empty(t, bare, "kits that lie here without their panels")
}
