package postgres

import (
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// dayIn gives the day n days after the tests begin.
func dayIn(n int) time.Time { return drive.Day(noon, time.UTC).AddDate(0, 0, n) }

// ownKits makes kits of own fabric; they are handed out where person is not 0.
func ownKits(t testing.TB, s *testStore, z drive.Size, kits, cases int, person int64, due *time.Time) []drive.KitRef {
	t.Helper()
	o := drive.OwnFabric{Kits: kits, Cases: cases, Size: z.Number, Due: due}
	if person != 0 {
		o.Person = &person
	}
	made, err := s.MakeOwnFabricKits(t.Context(), s.fresh(), o)
	require.NoError(t, err)
	return made.Kits
}

// cutKits inserts kits with fabric of ours that have just been cut, as
// accepting a plan and cutting its sheets leaves them.
func cutKits(t testing.TB, s *testStore, a drive.Asked, kits, cases int) []drive.KitRef {
	t.Helper()
	act := s.fresh()
	made, err := once(t.Context(), s.Store, act, "cut kits", kits, func(tx pgx.Tx) ([]drive.KitRef, error) {
		first, err := nextN(t.Context(), tx, act.Drive, "kit", kits)
		if err != nil {
			return nil, err
		}
		var m drive.KitMoves
		var refs []drive.KitRef
		for i := range kits {
			ref := drive.KitRef{Number: first + int64(i), Part: 1}
			refs = append(refs, ref)
			m.Add(drive.KitMoves{
				Born: []drive.NewKit{{KitRef: ref, Asked: &a.Number, Size: a.Sizes[0]}},
				Kits: []drive.KitEntry{
					{Kit: ref.Number, Part: 1, From: drive.KitBorn, To: drive.KitPlanned, Cases: cases},
					{Kit: ref.Number, Part: 1, From: drive.KitPlanned, To: drive.KitCut, Cases: cases},
				},
				Cases: []drive.CaseEntry{
					{Size: a.Sizes[0], N: cases, From: drive.CaseBorn, ToAsked: a.Number, ToKit: ref.Number, ToPart: 1, To: drive.CasePlanned},
					{
						Size: a.Sizes[0], N: cases, Asked: a.Number, Kit: ref.Number, Part: 1, From: drive.CasePlanned,
						ToAsked: a.Number, ToKit: ref.Number, ToPart: 1, To: drive.CaseCut,
					},
				},
			})
		}
		return refs, moveKits(t.Context(), tx, act, dayIn(0), dayIn(0), m)
	})
	require.NoError(t, err)
	return made
}

// kit gives one part of a kit in the drive "spring".
func kit(t testing.TB, s *testStore, ref drive.KitRef) KitPage {
	t.Helper()
	page, err := s.Kit(t.Context(), "spring", ref)
	require.NoError(t, err)
	return page
}

// balanced holds that every kit holds what its pillowcases say, and that
// pillowcases were neither made nor lost on the way.
func balanced(t testing.TB, s *testStore, born int) {
	t.Helper()
	const kits = `SELECT count(*) FROM kits k WHERE k.cases <> (SELECT coalesce(sum(b.n), 0) FROM case_balances b
		WHERE b.drive_id = k.drive_id AND b.kit = k.number AND b.part = k.part AND b.state <> 'withdrawn uncut')`
	var wrong, total int
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), kits).Scan(&wrong))
	require.Zero(t, wrong, "kits that do not hold what they say")
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), `SELECT coalesce(sum(n), 0) FROM case_balances`).Scan(&total))
	require.Equal(t, born, total, "pillowcases in all states")
}

func TestKitGoesOutAndComesBackInPart(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	a := addAsked(t, s, addRecipient(t, s, "Ward 4"), z, 6)
	refs := cutKits(t, s, a, 1, 6)
	mary := addPerson(t, s, "Mary Ellis")
	require.Equal(t, 6, line(t, s, a.Number).Counts[drive.CaseCut])

	moved, err := s.MarkKitReady(t.Context(), s.fresh(), refs)
	require.NoError(t, err)
	require.Equal(t, KitsMoved{Kits: refs, Cases: 6}, moved)
	due := dayIn(14)
	moved, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: refs, Person: mary, Due: &due})
	require.NoError(t, err)
	require.Equal(t, KitsMoved{Kits: refs, Person: mary, Cases: 6}, moved)
	require.Equal(t, 6, line(t, s, a.Number).Counts[drive.CaseOut])

	s.clock.forward(5 * 24 * time.Hour)
	taken, err := s.TakeBack(t.Context(), s.fresh(), refs[0], drive.KitReturn{Sewn: 5}, time.Time{})
	require.NoError(t, err)
	back := drive.KitRef{Number: refs[0].Number, Part: 2}
	require.Equal(t, TakenBack{Back: &back, Sewn: 5, Left: 1}, taken)
	counts := line(t, s, a.Number).Counts
	require.Equal(t, []int{1, 5}, []int{counts[drive.CaseOut], counts[drive.CaseSewn]})

	rest, child := kit(t, s, refs[0]), kit(t, s, back)
	require.Equal(t, drive.KitOut, rest.State)
	require.Equal(t, "Mary Ellis", rest.HolderName)
	require.Equal(t, 1, rest.Cases)
	require.Equal(t, dayIn(0), *rest.Since, "who has the rest has it since the beginning")
	require.Equal(t, due, *rest.Due)
	require.Equal(t, drive.KitBack, child.State)
	require.Equal(t, 5, child.Cases)
	require.Equal(t, "Ward 4", child.ForWhom)
	require.Len(t, rest.Parts, 2)
	require.True(t, child.MayUndo)
	balanced(t, s, 6)

	_, err = s.TakeBack(t.Context(), s.fresh(), refs[0], drive.KitReturn{Sewn: 2}, time.Time{})
	require.Contains(t, apperr.Fields(err)["sewn"], "holds 1 pillowcase with Mary Ellis, not 2")
	_, err = s.TakeBack(t.Context(), s.fresh(), back, drive.KitReturn{Sewn: 1}, time.Time{})
	require.True(t, apperr.Is(err, apperr.KindConflict), "what is back cannot come back: %v", err)
	_, err = s.TakeBack(t.Context(), s.fresh(), drive.KitRef{Number: 99, Part: 1}, drive.KitReturn{Sewn: 1}, time.Time{})
	require.True(t, apperr.Is(err, apperr.KindNotFound), "an unknown kit: %v", err)
	balanced(t, s, 6)
}

func TestRestComesBackUnsewn(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	mary := addPerson(t, s, "Mary Ellis")
	ref := ownKits(t, s, z, 1, 6, mary, nil)[0]
	taken, err := s.TakeBack(t.Context(), s.fresh(), ref, drive.KitReturn{Sewn: 2, RestUnsewn: true}, time.Time{})
	require.NoError(t, err)
	require.Equal(t, 4, taken.Left)
	page := kit(t, s, ref)
	require.Equal(t, drive.KitReady, page.State)
	require.Equal(t, 4, page.Count(drive.CaseCut))
	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: []drive.KitRef{ref}, Person: mary})
	require.NoError(t, err, "it can go out again")
	balanced(t, s, 6)
}

func TestUndone(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	a := addAsked(t, s, addRecipient(t, s, "Ward 4"), z, 8)
	refs := cutKits(t, s, a, 2, 4)
	mary, bo := addPerson(t, s, "Mary Ellis"), addPerson(t, s, "Bo Lund")
	due := dayIn(14)
	_, err := s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: refs, Person: bo, Due: &due})
	require.NoError(t, err)
	_, err = s.UndoHandOut(t.Context(), s.fresh(), refs)
	require.NoError(t, err)
	require.Equal(t, 8, line(t, s, a.Number).Counts[drive.CaseCut])
	require.Equal(t, drive.KitCut, kit(t, s, refs[0]).State, "back where it was")
	_, err = s.UndoHandOut(t.Context(), s.fresh(), refs)
	require.True(t, apperr.Is(err, apperr.KindConflict), "undone once: %v", err)

	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: refs, Person: mary, Due: &due})
	require.NoError(t, err)
	s.clock.forward(3 * 24 * time.Hour)
	_, err = s.GiveAgain(t.Context(), s.fresh(), refs[0], drive.HandOut{Person: bo})
	require.NoError(t, err)
	_, err = s.UndoHandOut(t.Context(), s.fresh(), refs[:1])
	require.NoError(t, err)
	page := kit(t, s, refs[0])
	require.Equal(t, "Mary Ellis", page.HolderName)
	require.Equal(t, dayIn(0), *page.Since, "as if it had never left her")
	require.Equal(t, due, *page.Due)

	_, err = s.TakeBack(t.Context(), s.fresh(), refs[0], drive.KitReturn{Sewn: 3}, time.Time{})
	require.NoError(t, err)
	_, err = s.UndoHandOut(t.Context(), s.fresh(), refs[:1])
	require.True(t, apperr.Is(err, apperr.KindConflict), "something happened since: %v", err)
	child := drive.KitRef{Number: refs[0].Number, Part: 2}
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), child)
	require.NoError(t, err)
	page = kit(t, s, refs[0])
	require.Equal(t, 4, page.Cases)
	require.Equal(t, drive.KitTakenApart, kit(t, s, child).State)
	require.Zero(t, kit(t, s, child).Cases)

	_, err = s.TakeBack(t.Context(), s.fresh(), refs[1], drive.KitReturn{Sewn: 4}, time.Time{})
	require.NoError(t, err)
	_, err = s.UndoTakeBack(t.Context(), s.fresh(), refs[1])
	require.NoError(t, err)
	page = kit(t, s, refs[1])
	require.Equal(t, drive.KitOut, page.State)
	require.Equal(t, dayIn(0), *page.Since)
	require.Equal(t, due, *page.Due)
	balanced(t, s, 8)
}

func TestLostAndFound(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	mary, bo := addPerson(t, s, "Mary Ellis"), addPerson(t, s, "Bo Lund")
	refs := ownKits(t, s, z, 3, 4, mary, nil)
	for _, ref := range refs {
		_, err := s.KitLost(t.Context(), s.fresh(), ref, "moved house", time.Time{})
		require.NoError(t, err)
	}
	require.Equal(t, 4, kit(t, s, refs[0]).Count(drive.CaseLost))
	_, err := s.KitLost(t.Context(), s.fresh(), refs[0], "", time.Time{})
	require.True(t, apperr.Is(err, apperr.KindConflict), "lost once: %v", err)

	taken, err := s.KitFound(t.Context(), s.fresh(), refs[0], 1, 0, time.Time{})
	require.NoError(t, err)
	require.Equal(t, TakenBack{Back: &drive.KitRef{Number: refs[0].Number, Part: 2}, Sewn: 1, Left: 3}, taken)
	require.Equal(t, drive.KitFound, kit(t, s, refs[0]).State)
	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: refs[:1], Person: bo})
	require.NoError(t, err, "what was found goes out again")

	_, err = s.KitFound(t.Context(), s.fresh(), refs[1], 4, 0, time.Time{})
	require.NoError(t, err)
	require.Equal(t, 4, kit(t, s, refs[1]).Count(drive.CaseSewn))
	list, err := s.People(t.Context(), "spring", PeopleQuery{Today: dayIn(0)})
	require.NoError(t, err)
	require.Equal(t, 5, list.Done, "what was found sewn is her work")

	_, err = s.GiveAgain(t.Context(), s.fresh(), refs[2], drive.HandOut{Person: bo})
	require.NoError(t, err)
	require.Equal(t, "Bo Lund", kit(t, s, refs[2]).HolderName)
	balanced(t, s, 12)
}

func TestTakeKitApart(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	a := addAsked(t, s, addRecipient(t, s, "Ward 4"), z, 4)
	ref := cutKits(t, s, a, 1, 4)[0]
	_, err := s.TakeKitApart(t.Context(), s.fresh(), ref, "cuffs cut too narrow", true)
	require.NoError(t, err)
	require.Equal(t, 4, line(t, s, a.Number).Standing().Missing, "they stand for nobody any more")
	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: []drive.KitRef{ref}, Person: addPerson(t, s, "Bo Lund")})
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	balanced(t, s, 4)
}

func TestHandOutRefused(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	startDriveAs(t, s, "autumn")
	z := addSize(t, s, "standard")
	mary, bo := addPerson(t, s, "Mary Ellis"), addPerson(t, s, "Bo Lund")
	out := ownKits(t, s, z, 2, 4, mary, nil)
	here := ownKits(t, s, z, 1, 4, 0, nil)

	_, err := s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: append(out, here...), Person: bo})
	require.EqualError(t, err, "Kit 1 is with Mary Ellis since 3 Oct 2026. Kit 2 is with Mary Ellis since 3 Oct 2026. Nothing was changed.")
	require.Equal(t, drive.KitReady, kit(t, s, here[0]).State, "all of them or none")

	past, tomorrow := dayIn(-1), dayIn(1)
	for field, h := range map[string]drive.HandOut{
		"person": {Kits: here, Person: 77},
		"kit":    {Kits: []drive.KitRef{{Number: 77, Part: 1}}, Person: bo},
		"due":    {Kits: here, Person: bo, Due: &past},
		"day":    {Kits: here, Person: bo, Day: tomorrow},
	} {
		_, err := s.HandOut(t.Context(), s.fresh(), h)
		require.NotEmpty(t, apperr.Fields(err)[field], "%s: %v", field, err)
	}
	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Person: bo})
	require.NotEmpty(t, apperr.Fields(err)["kit"], "no kit at all: %v", err)
	_, err = s.HandOut(t.Context(), s.actIn("autumn", "foreign"), drive.HandOut{Kits: here, Person: bo})
	require.NotEmpty(t, apperr.Fields(err)["person"], "nothing of another drive: %v", err)
	_, err = s.Kit(t.Context(), "autumn", here[0])
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
}

func TestOwnFabricKitsForALine(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z, king := addSize(t, s, "standard"), addSize(t, s, "king")
	a := addAsked(t, s, addRecipient(t, s, "Ward 4"), z, 20)
	bo := addPerson(t, s, "Bo Lund")
	due := dayIn(20)
	moved, err := s.MakeOwnFabricKits(t.Context(), s.fresh(), drive.OwnFabric{Kits: 2, Cases: 5, Size: z.Number, Asked: &a.Number, Person: &bo, Due: &due, Note: "red prints"})
	require.NoError(t, err)
	require.Equal(t, KitsMoved{Kits: []drive.KitRef{{Number: 1, Part: 1}, {Number: 2, Part: 1}}, Person: bo, Cases: 10}, moved)
	require.Equal(t, 10, line(t, s, a.Number).Standing().Out)
	page := kit(t, s, moved.Kits[0])
	require.True(t, page.OwnFabric)
	require.Equal(t, "red prints", page.Note)
	require.Empty(t, page.Cloth)
	_, err = s.MakeOwnFabricKits(t.Context(), s.fresh(), drive.OwnFabric{Kits: 1, Cases: 5, Size: king.Number, Asked: &a.Number})
	require.NotEmpty(t, apperr.Fields(err)["asked"], "a size that does not fill the line: %v", err)
	_, err = s.MakeOwnFabricKits(t.Context(), s.fresh(), drive.OwnFabric{Kits: 1, Cases: 5, Size: 99})
	require.NotEmpty(t, apperr.Fields(err)["size"], "%v", err)
	_, err = s.CloseAsked(t.Context(), s.fresh(), a.Number)
	require.NoError(t, err)
	_, err = s.MakeOwnFabricKits(t.Context(), s.fresh(), drive.OwnFabric{Kits: 1, Cases: 5, Size: z.Number, Asked: &a.Number})
	require.NotEmpty(t, apperr.Fields(err)["asked"], "a closed line: %v", err)
	balanced(t, s, 10)
}

// Kits that are not bagged and labelled after all are where they were, each since when it was
// there, with the place of its bag; what was handed out since stays as it is, and keeps the others so.
func TestUndoKitReady(t *testing.T) {
	s, a := wardOf(t, 20)
	kits := cutKits(t, s, a, 2, 4)
	cutOn := dayIn(0)
	s.clock.forward(24 * time.Hour)
	_, err := s.KitLost(t.Context(), s.fresh(), kits[1], "", time.Time{})
	require.NoError(t, err)
	_, err = s.KitFound(t.Context(), s.fresh(), kits[1], 0, 0, time.Time{})
	require.NoError(t, err)
	s.clock.forward(24 * time.Hour)
	_, err = s.MarkKitReady(t.Context(), s.fresh(), kits)
	require.NoError(t, err)
	_, err = s.PlaceKits(t.Context(), s.fresh(), kits, "shelf B")
	require.NoError(t, err)
	require.True(t, kit(t, s, kits[0]).MayUnbag)

	act := s.fresh()
	for range 2 { // the same form twice is one wish
		moved, err := s.UndoKitReady(t.Context(), act, kits)
		require.NoError(t, err)
		require.Equal(t, KitsMoved{Kits: kits, Cases: 8}, moved)
	}
	cut, found := kit(t, s, kits[0]), kit(t, s, kits[1])
	require.Equal(t, []drive.KitState{drive.KitCut, drive.KitFound}, []drive.KitState{cut.State, found.State})
	require.Equal(t, []time.Time{cutOn, dayIn(1)}, []time.Time{*cut.Since, *found.Since})
	require.Equal(t, "shelf B", cut.Place)
	require.False(t, cut.MayUnbag)
	for _, k := range booksIn(t, s.Store, dayIn(0), dayIn(2)).Kits {
		require.NotEqual(t, drive.KitReady, k.State, "kit %d in the books", k.Number)
	}
	agrees(t, s)
	_, err = s.UndoKitReady(t.Context(), s.fresh(), kits)
	require.ErrorContains(t, err, "Kit 1 is cut and lies here: it is not bagged and labelled, so there is nothing to undo. Kit 2 was found and lies here: it is not bagged")

	_, err = s.MarkKitReady(t.Context(), s.fresh(), kits)
	require.NoError(t, err)
	_, err = s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: kits[:1], Person: addPerson(t, s, "Bea Lund")})
	require.NoError(t, err)
	_, err = s.UndoKitReady(t.Context(), s.fresh(), kits)
	require.EqualError(t, err, "Kit 1 is with Bea Lund since 5 Oct 2026, so that it was bagged and labelled cannot be undone. Nothing was changed.")
	require.Equal(t, drive.KitReady, kit(t, s, kits[1]).State)
	_, err = s.UndoHandOut(t.Context(), s.fresh(), kits[:1])
	require.NoError(t, err)
	_, err = s.UndoKitReady(t.Context(), s.fresh(), kits)
	require.NoError(t, err, "what was handed out by mistake was never out")
	agrees(t, s)
}
