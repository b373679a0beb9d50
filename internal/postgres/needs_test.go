package postgres

import (
	"testing"
	"time"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// needsOf gives what needs somebody in the drive "spring", by kind; several of one kind in their order.
func needsOf(t testing.TB, s *testStore) map[drive.NeedKind][]drive.Need {
	t.Helper()
	list, err := s.Needs(t.Context(), "spring")
	require.NoError(t, err)
	byKind := map[drive.NeedKind][]drive.Need{}
	for _, n := range list {
		byKind[n.Kind] = append(byKind[n.Kind], n)
	}
	return byKind
}

// tell runs statements as the server, for what other methods would have left behind.
func tell(t testing.TB, s *testStore, statements ...string) {
	t.Helper()
	for _, q := range statements {
		_, err := s.db.Pool.Exec(t.Context(), q)
		require.NoError(t, err, q)
	}
}

func TestNeedsOfANewDrive(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	require.Empty(t, needsOf(t, s))
}

func TestNeedsKits(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	ada, ben := addPerson(t, s, "Ada Field"), addPerson(t, s, "Ben Oake")
	due := dayIn(5)
	later := dayIn(6)
	ownKits(t, s, z, 1, 2, ada, &later)
	ownKits(t, s, z, 2, 4, ada, &due)
	ownKits(t, s, z, 1, 3, ben, &due)
	ownKits(t, s, z, 1, 3, ben, nil)
	ownKits(t, s, z, 2, 4, 0, nil)

	needs := needsOf(t, s)
	require.Empty(t, needs[drive.NeedKitsLate])
	require.Len(t, needs[drive.NeedKitsDue], 1)
	require.Equal(t, 4, needs[drive.NeedKitsDue][0].N)
	require.Equal(t, 13, needs[drive.NeedKitsDue][0].Cases)
	require.Equal(t, 2, needs[drive.NeedKitsReady][0].N)

	s.clock.forward(6 * 24 * time.Hour)
	late := needsOf(t, s)[drive.NeedKitsLate]
	require.Len(t, late, 2)
	require.Equal(t, "Ada Field", late[0].Name, "whoever holds more comes first")
	require.Equal(t, []int{2, 8, 1}, []int{late[0].N, late[0].Cases, late[0].Days})
	require.Equal(t, []drive.KitRef{{Number: 2, Part: 1}, {Number: 3, Part: 1}}, late[0].Kits)
	require.Equal(t, ben, late[1].Number)

	s.clock.forward(24 * time.Hour)
	late = needsOf(t, s)[drive.NeedKitsLate]
	require.Equal(t, 3, late[0].N)
	require.Equal(t, 2, late[0].Days, "since the oldest was due")
	require.Equal(t, int64(1), late[0].Kits[2].Number, "the oldest first")

	// What somebody said of a kit waits for an answer: to ask how it goes as well would be unkind.
	for i, r := range []drive.KitReport{{Kind: drive.ReportFinished, Cases: 4}, {Kind: drive.ReportCannot}, {Kind: drive.ReportFinished, Cases: 1}} {
		r.KitRef, r.Person = late[0].Kits[i], ada
		_, err := s.ReportKit(t.Context(), s.fresh(), r)
		require.NoError(t, err)
	}
	needs = needsOf(t, s)
	require.Equal(t, []drive.KitRef{{Number: 1, Part: 1}}, needs[drive.NeedKitsLate][1].Kits, "of this one a part is finished, and the rest is late")
	require.Len(t, needs[drive.NeedKitsLate], 2)
	require.Len(t, needs[drive.NeedSaidCannot], 1)
	require.Equal(t, 2, needs[drive.NeedSaidFinished][0].N)
}

func TestNeedsDayTurnsInTheDrivesZone(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	due := dayIn(5)
	ownKits(t, s, addSize(t, s, "standard"), 1, 2, addPerson(t, s, "Ada Field"), &due)
	s.clock.now = time.Date(2026, time.October, 8, 22, 59, 0, 0, time.UTC) // 23:59 in Dublin
	require.Empty(t, needsOf(t, s)[drive.NeedKitsLate])
	s.clock.forward(2 * time.Minute)
	require.Len(t, needsOf(t, s)[drive.NeedKitsLate], 1)
}

func TestNeedsPillowcases(t *testing.T) {
	s, a := wardOf(t, 20)
	bringGood(t, s, a, 6)
	for asked, n := range map[int64]int{a.Number: 4, 0: 2} {
		_, err := s.BringIn(t.Context(), s.fresh(), drive.BroughtIn{Size: a.Sizes[0], N: n, Asked: asked})
		require.NoError(t, err)
	}
	at := drive.Stack{Asked: a.Number, Size: a.Sizes[0]}
	_, err := s.CheckCases(t.Context(), s.fresh(), at, drive.Checked{Good: 1, Failed: []drive.Failed{{N: 2, To: drive.CaseToMend}}, Note: "an open seam", Pins: true})
	require.NoError(t, err)
	standing(t, s, 0, a.Sizes[0], drive.CaseGood, 9)

	needs := needsOf(t, s)
	cases := map[drive.NeedKind]int{}
	for kind, list := range needs {
		cases[kind] = list[0].Cases
	}
	require.Equal(t, map[drive.NeedKind]int{
		drive.NeedToCheck: 3, drive.NeedToMend: 2, drive.NeedToPack: 7, drive.NeedToPromise: 9, drive.NeedToPlan: 10,
	}, cases)

	ada := addPerson(t, s, "Ada Field")
	at.State = drive.CaseToMend
	_, err = s.SendToMend(t.Context(), s.fresh(), Mending{At: at, N: 2, Person: ada})
	require.NoError(t, err)
	require.Empty(t, needsOf(t, s)[drive.NeedToMend], "what somebody took to mend waits for nobody here")
}

func TestNeedsDeliveries(t *testing.T) {
	s, a := wardOf(t, 20)
	bringGood(t, s, a, 5)
	box, err := s.PackBox(t.Context(), s.fresh(), PackedBox{
		Recipient: a.Recipient, PackedBy: "AB", CheckedBy: "CD", Cases: []drive.Pack{{Asked: a.Number, Size: a.Sizes[0], N: 5}},
	})
	require.NoError(t, err)
	boxes := needsOf(t, s)[drive.NeedBoxes]
	require.Len(t, boxes, 1)
	require.Equal(t, []any{"Ward 4", a.Recipient, 1, 5}, []any{boxes[0].Name, boxes[0].Number, boxes[0].N, boxes[0].Cases})

	today := dayIn(0)
	number, err := s.MakeDelivery(t.Context(), s.fresh(), Sending{Recipient: a.Recipient, Boxes: []int64{box}, SentOn: &today})
	require.NoError(t, err)
	require.Empty(t, needsOf(t, s)[drive.NeedBoxes])
	require.Empty(t, needsOf(t, s)[drive.NeedConfirmation], "not on the day itself")
	s.clock.forward(3 * 24 * time.Hour)
	waits := needsOf(t, s)[drive.NeedConfirmation]
	require.Len(t, waits, 1)
	require.Equal(t, []any{number, "Ward 4", 5, 3}, []any{waits[0].Number, waits[0].Name, waits[0].Cases, waits[0].Days})

	_, err = s.ConfirmDelivery(t.Context(), s.fresh(), number, drive.Confirmation{
		By: "Sister Hale", How: drive.ByPhone, On: dayIn(3), Arrived: []drive.Arrived{{Box: box, Size: a.Sizes[0], N: 4}},
	})
	require.NoError(t, err)
	needs := needsOf(t, s)
	require.Empty(t, needs[drive.NeedConfirmation])
	require.Len(t, needs[drive.NeedCountsDiffer], 1)
	require.Equal(t, 1, needs[drive.NeedCountsDiffer][0].Cases)
	_, err = s.SettleDelivery(t.Context(), s.fresh(), number, drive.Settlement{Box: box, Size: a.Sizes[0], Way: drive.SettleMissing, N: 1, Reason: "not in the box"})
	require.NoError(t, err)
	require.Empty(t, needsOf(t, s)[drive.NeedCountsDiffer], "settled")
}

func TestNeedsFabricAndPlans(t *testing.T) {
	s, _ := wardOf(t, 20)
	tell(t, s, `INSERT INTO lots (drive_id, number, received_on, created_at, raw_length, raw_width, fibre, weight, print, measured_at) VALUES
		('spring', 1, '2026-09-26', now(), 1, 1, 'cotton', 'quilting', 'solid', now()),
		('spring', 2, '2026-09-26', now(), NULL, NULL, '', '', '', NULL),
		('spring', 3, '2026-09-27', now(), NULL, NULL, '', '', '', NULL)`,
		`INSERT INTO lots (drive_id, number, received_on, created_at, set_aside) VALUES ('spring', 4, '2026-09-26', now(), 'smell')`)
	needs := needsOf(t, s)
	require.Equal(t, []int{2, 7}, []int{needs[drive.NeedToMeasure][0].N, needs[drive.NeedToMeasure][0].Days})
	require.Len(t, needs[drive.NeedToPlan], 1)

	const plan = `INSERT INTO plans (drive_id, number, state, problem, plan, cases, who, created_at) VALUES ('spring', `
	tell(t, s, plan+`1, 'failed', '{}', NULL, 0, 1, '2026-10-01')`)
	require.Len(t, needsOf(t, s)[drive.NeedPlanFailed], 1)
	tell(t, s, plan+`2, 'running', '{}', NULL, 0, 1, '2026-10-02')`)
	needs = needsOf(t, s)
	require.Empty(t, needs[drive.NeedPlanFailed], "somebody tried again")
	require.Empty(t, needs[drive.NeedToPlan], "a plan is on its way")
	tell(t, s, `UPDATE plans SET state = 'ready', plan = '{}', cases = 14 WHERE drive_id = 'spring' AND number = 2`)
	needs = needsOf(t, s)
	require.Equal(t, []any{int64(2), 14}, []any{needs[drive.NeedPlanReady][0].Number, needs[drive.NeedPlanReady][0].Cases})
	require.Empty(t, needs[drive.NeedToPlan])

	// A plan beside another that was accepted since was made from the same cloth for the same pillowcases.
	tell(t, s, plan+`3, 'ready', '{}', '{}', 14, 1, '2026-10-02')`, `UPDATE plans SET state = 'accepted', accepted_at = '2026-10-03' WHERE drive_id = 'spring' AND number = 2`)
	needs = needsOf(t, s)
	require.Empty(t, needs[drive.NeedPlanReady], "it was passed over")
	require.Len(t, needs[drive.NeedToPlan], 1, "what is in no plan is not hidden by it")
	tell(t, s, plan+`4, 'ready', '{}', '{}', 2, 1, '2026-10-04')`)
	require.Equal(t, int64(4), needsOf(t, s)[drive.NeedPlanReady][0].Number)
	tell(t, s, `UPDATE plans SET state = 'replaced' WHERE drive_id = 'spring' AND number = 2`,
		`INSERT INTO plans (drive_id, number, state, changes, standing, problem, plan, cases, who, created_at, accepted_at) VALUES ('spring', 5, 'accepted', 2, '{}', '{}', '{}', 14, 1, '2026-10-05', '2026-10-05')`)
	require.Equal(t, int64(4), needsOf(t, s)[drive.NeedPlanReady][0].Number, "a change of another plan passes nothing over")
	require.Len(t, needsOf(t, s)[drive.NeedPlanReady], 1, "and brings nothing back")
}

func TestNeedsCutting(t *testing.T) {
	s, a := wardOf(t, 20)
	require.NoError(t, pgx.BeginFunc(t.Context(), s.db.Pool, func(tx pgx.Tx) error {
		const lot = `INSERT INTO lots (drive_id, number, received_on, created_at) VALUES ('spring', 1, '2026-10-01', now())`
		if _, err := tx.Exec(t.Context(), lot); err != nil {
			return err
		}
		return insertPieces(t.Context(), tx, "spring", []drive.NewPiece{{Lot: 1, Piece: 1, Kind: drive.PieceWhole, Width: 1_000}})
	}))
	tell(t, s, `INSERT INTO plans (drive_id, number, state, problem, plan, who, created_at) VALUES ('spring', 1, 'accepted', '{}', '{}', 1, now())`,
		`INSERT INTO sheets (drive_id, number, plan, lot, piece, state, used, helper, out_at, created_at) VALUES
			('spring', 1, 1, 1, 1, 'on the table', 10, 'Mo', '2026-10-02 09:00Z', '2026-10-02 08:00Z'),
			('spring', 2, 1, 1, 1, 'on the table', 10, 'Jo', '2026-10-03 09:00Z', '2026-10-02 08:00Z'),
			('spring', 3, 1, 1, 1, 'waiting', 10, '', NULL, '2026-10-02 08:00Z')`)
	cutKits(t, s, a, 3, 4)
	needs := needsOf(t, s)
	require.Len(t, needs[drive.NeedSheetOut], 1, "a sheet signed out today is being cut")
	require.Equal(t, []any{int64(1), "Mo", 1}, []any{needs[drive.NeedSheetOut][0].Number, needs[drive.NeedSheetOut][0].Name, needs[drive.NeedSheetOut][0].Days})
	require.Equal(t, 1, needs[drive.NeedSheets][0].N)
	require.Equal(t, []int{3, 12}, []int{needs[drive.NeedKitsCut][0].N, needs[drive.NeedKitsCut][0].Cases})
}

func TestNeedsOfAnotherDrive(t *testing.T) {
	s, a := wardOf(t, 20)
	startDriveAs(t, s, "autumn")
	bringGood(t, s, a, 5)
	needs, err := s.Needs(t.Context(), "autumn")
	require.NoError(t, err)
	require.Empty(t, needs)
}

func TestFirstSteps(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	steps := func() drive.FirstSteps {
		t.Helper()
		got, err := s.FirstSteps(t.Context(), "spring")
		require.NoError(t, err)
		return got
	}
	require.Equal(t, drive.FirstSteps{}, steps())
	z := addSize(t, s, "standard")
	require.Equal(t, drive.FirstSteps{Size: true}, steps())
	r := addRecipient(t, s, "Ward 4")
	addAsked(t, s, r, z, 1)
	require.Equal(t, drive.FirstSteps{Size: true, Recipient: true, Asked: true}, steps())
	tell(t, s, `INSERT INTO lots (drive_id, number, received_on, created_at) VALUES ('spring', 1, '2026-10-01', now())`)
	require.True(t, steps().Done())
}

func TestNeedsSupplies(t *testing.T) {
	s, a := wardOf(t, 20)
	for _, supply := range []drive.Supply{
		{Name: "thread", Have: 1, Used: 1, PerKits: 4},
		{Name: "bags", Have: 7, Used: 4, PerKits: 1},
		{Name: "pins", PerKits: 1},
	} {
		_, err := s.SaveSupply(t.Context(), s.fresh(), supply)
		require.NoError(t, err)
	}
	require.Empty(t, needsOf(t, s)[drive.NeedSupplyShort], "no kit waits for any")
	ownKits(t, s, drive.Size{Number: a.Sizes[0]}, 2, 4, 0, nil)
	require.Empty(t, needsOf(t, s)[drive.NeedSupplyShort], "a kit that is ready has what it needs")
	cutKits(t, s, a, 3, 4)
	short := needsOf(t, s)[drive.NeedSupplyShort]
	require.Len(t, short, 1)
	require.Equal(t, "bags", short[0].Name)
	require.Equal(t, [2]int{3, 1}, [2]int{short[0].N, short[0].Enough})
	require.True(t, short[0].Late())
	_, err := s.MoveSupply(t.Context(), s.fresh(), short[0].Number, 5)
	require.NoError(t, err)
	require.Empty(t, needsOf(t, s)[drive.NeedSupplyShort])
}
