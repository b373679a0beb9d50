package postgres

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"boltward/internal/drive"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// onTheWay is a delivery to Ward 4 of so many, in one box.
func onTheWay(t testing.TB, s *testStore, a drive.Asked, n int) (delivery, box int64) {
	t.Helper()
	bringGood(t, s, a, n)
	box, err := s.PackBox(t.Context(), s.fresh(), PackedBox{
		Recipient: a.Recipient, PackedBy: "AB", CheckedBy: "CD", Cases: []drive.Pack{{Asked: a.Number, Size: a.Sizes[0], N: n}},
	})
	require.NoError(t, err)
	today := drive.Day(s.clock.now, time.UTC)
	delivery, err = s.MakeDelivery(t.Context(), s.fresh(), Sending{Recipient: a.Recipient, Boxes: []int64{box}, SentOn: &today})
	require.NoError(t, err)
	return delivery, box
}

func TestNeedsOfSilentKits(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	ada, ben := addPerson(t, s, "Ada Field"), addPerson(t, s, "Ben Oake")
	far := dayIn(90)
	ownKits(t, s, z, 2, 4, ada, &far)
	said := ownKits(t, s, z, 1, 3, ben, nil)
	s.clock.forward((drive.SilentDays - 1) * 24 * time.Hour)
	require.Empty(t, needsOf(t, s)[drive.NeedKitsSilent])
	_, err := s.ReportKit(t.Context(), s.fresh(), drive.KitReport{KitRef: said[0], Person: ben, Kind: drive.ReportFinished, Cases: 1})
	require.NoError(t, err)
	s.clock.forward(24 * time.Hour)
	silent := needsOf(t, s)[drive.NeedKitsSilent]
	require.Len(t, silent, 1, "Ben has been heard from")
	require.Equal(t, []any{"Ada Field", ada, 2, 8, drive.SilentDays}, []any{silent[0].Name, silent[0].Number, silent[0].N, silent[0].Cases, silent[0].Days})

	rules := drive.UsualReminderRules()
	rules.SilentDays = drive.SilentDays + 10
	_, err = s.UpdateReminderRules(t.Context(), s.fresh(), rules)
	require.NoError(t, err)
	require.Empty(t, needsOf(t, s)[drive.NeedKitsSilent], "the drive waits longer")
	s.clock.forward(90 * 24 * time.Hour)
	needs := needsOf(t, s)
	require.Len(t, needs[drive.NeedKitsSilent], 1, "Ben's have no day")
	require.Len(t, needs[drive.NeedKitsLate], 1, "what is late stands there alone")
}

func TestNeedsOfWhatIsStuck(t *testing.T) {
	s, a := wardOf(t, 40)
	ada := addPerson(t, s, "Ada Field")
	number := aReminder(t, s, ada, ownKits(t, s, drive.Size{Number: a.Sizes[0]}, 1, 2, ada, nil)...)
	require.Equal(t, 1, needsOf(t, s)[drive.NeedRemind][0].N)
	tell(t, s, `UPDATE reminders SET state = 'perhaps sent', trouble = 'the program stopped', ended_at = now() WHERE drive_id = 'spring'`)
	needs := needsOf(t, s)
	require.Empty(t, needs[drive.NeedRemind])
	require.Equal(t, "Ada Field", needs[drive.NeedRemindAstray][0].Name)
	require.True(t, needs[drive.NeedRemindAstray][0].Stuck())
	_, err := s.NoteReminder(t.Context(), s.fresh(), number, drive.RemindedByPhone)
	require.NoError(t, err)
	require.Empty(t, needsOf(t, s)[drive.NeedRemindAstray], "they were told another way")

	_, err = s.KeepUpload(t.Context(), s.fresh(), drive.BringPeople, "people.csv", []byte("Name\nBo"))
	require.NoError(t, err)
	_, err = s.BeginStocktake(t.Context(), s.fresh(), "B2")
	require.NoError(t, err)
	needs = needsOf(t, s)
	require.Empty(t, needs[drive.NeedFile], "not on the day itself")
	require.Empty(t, needs[drive.NeedStocktake])
	s.clock.forward(48 * time.Hour)
	needs = needsOf(t, s)
	require.Equal(t, "people.csv", needs[drive.NeedFile][0].Name)
	require.Equal(t, "B2", needs[drive.NeedStocktake][0].Name)

	const plan = `INSERT INTO plans (drive_id, number, state, problem, plan, cases, who, created_at, changes, standing) VALUES ('spring', `
	tell(t, s, plan+`1, 'accepted', '{}', '{}', 4, 1, '2026-10-01', NULL, NULL)`, plan+`2, 'ready', '{}', '{}', 4, 1, '2026-10-02', 1, '{}')`)
	needs = needsOf(t, s)
	require.Equal(t, int64(2), needs[drive.NeedChangeReady][0].Number)
	require.Empty(t, needs[drive.NeedPlanReady])
	tell(t, s, `INSERT INTO asks (drive_id, state, asked_at, made_at, problem, plan, wishes) VALUES ('spring', 'ready', now(), now(), '{}', '{}', '[{}, {}]')`)
	require.Equal(t, 2, needsOf(t, s)[drive.NeedClothShort][0].N)
}

func TestNeedsOfDeliveries(t *testing.T) {
	s, a := wardOf(t, 40)
	number, box := onTheWay(t, s, a, 6)
	_, err := s.UndoDelivery(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	require.Equal(t, 1, needsOf(t, s)[drive.NeedBoxes][0].N, "its box waits again")
	number, err = s.MakeDelivery(t.Context(), s.fresh(), Sending{Recipient: a.Recipient, Boxes: []int64{box}})
	require.NoError(t, err)
	needs := needsOf(t, s)
	require.Empty(t, needs[drive.NeedBoxes])
	require.Equal(t, []any{number, "Ward 4", 1, 6}, []any{needs[drive.NeedToSend][0].Number, needs[drive.NeedToSend][0].Name, needs[drive.NeedToSend][0].N, needs[drive.NeedToSend][0].Cases})
	_, err = s.SendDelivery(t.Context(), s.fresh(), number, dayIn(0), "Tobias")
	require.NoError(t, err)
	require.Empty(t, needsOf(t, s)[drive.NeedToSend])

	said := drive.Confirmation{By: "Ward 4", How: drive.OwnPage, On: dayIn(0), Note: "thank you", Arrived: []drive.Arrived{{Box: box, Size: a.Sizes[0], N: 8}}}
	_, err = s.ConfirmDelivery(t.Context(), s.fresh(), number, said)
	require.NoError(t, err)
	needs = needsOf(t, s)
	require.Equal(t, []int{0, 2}, []int{needs[drive.NeedCountsDiffer][0].Cases, needs[drive.NeedCountsDiffer][0].N}, "more than the note says")
	require.Equal(t, "Ward 4", needs[drive.NeedWardSaid][0].Name)
	_, err = s.ReadDelivery(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	_, err = s.SettleDelivery(t.Context(), s.fresh(), number, drive.Settlement{Box: box, Size: a.Sizes[0], Way: drive.SettleMore, N: 2, Reason: "in the box uncounted"})
	require.NoError(t, err)
	needs = needsOf(t, s)
	require.Empty(t, needs[drive.NeedWardSaid])
	require.Empty(t, needs[drive.NeedCountsDiffer])
	require.Equal(t, 8, line(t, s, a.Number).Counts[drive.CaseConfirmed])
	agrees(t, s)
}

// BenchmarkNeeds asks what needs somebody in a drive with 20,000 kits, most of them long
// done. With -v it shows the parts of the plan by which Postgres finds them.
func BenchmarkNeeds(b *testing.B) {
	s, a := manyKits(b)
	b.ResetTimer()
	for b.Loop() {
		_, err := s.Needs(b.Context(), a)
		require.NoError(b, err)
	}
	b.StopTimer()
	for q, args := range map[string][]any{needsMoving: {a, dayIn(0), "UTC", drive.DueSoonDays, drive.SilentDays}, needsResting: {a, dayIn(0), "UTC"}} {
		rows, err := s.db.Pool.Query(b.Context(), "EXPLAIN (ANALYZE, COSTS OFF) "+q, args...)
		require.NoError(b, err)
		lines, err := pgx.CollectRows(rows, pgx.RowTo[string])
		require.NoError(b, err)
		for _, l := range lines {
			if strings.Contains(l, "Scan") || strings.Contains(l, "Time:") {
				b.Log(strings.TrimSpace(l))
			}
		}
	}
}

// manyKits is a drive with 20,000 kits of four pillowcases: 500 are out, ten of them late,
// the others came back, were delivered in 1,000 boxes and confirmed.
func manyKits(t testing.TB) (*testStore, string) {
	t.Helper()
	s, a := wardOf(t, 100_000)
	person := addPerson(t, s, "Ada Field")
	do := func(q string) {
		q = strings.NewReplacer("{line}", fmt.Sprint(a.Number), "{size}", fmt.Sprint(a.Sizes[0]), "{whom}", fmt.Sprint(a.Recipient), "{who}", fmt.Sprint(person)).Replace(q)
		_, err := s.db.Owner().Exec(t.Context(), q)
		require.NoError(t, err, q)
	}
	do(`INSERT INTO kits (drive_id, number, part, asked, size, own_fabric, created_at) SELECT 'spring', n, 1, {line}, {size}, true, '2026-01-05' FROM generate_series(1, 20000) n`)
	do(`INSERT INTO kit_entries (drive_id, kit, part, from_state, to_state, holder, due, day, cases, at, who)
		SELECT 'spring', n, 1, 'born', 'out', {who}, CASE WHEN n > 19990 THEN '2026-10-01'::date ELSE '2026-12-01' END, '2026-09-05', 4, '2026-09-05', 0 FROM generate_series(1, 20000) n`)
	do(`INSERT INTO case_entries (drive_id, size, n, from_state, to_asked, to_kit, to_part, to_state, day, at, who)
		SELECT 'spring', {size}, 4, 'born', {line}, n, 1, 'out', '2026-09-05', '2026-09-05', 0 FROM generate_series(1, 20000) n`)
	states := []drive.CaseState{drive.CaseOut, drive.CaseSewn, drive.CaseGood, drive.CasePacked, drive.CaseDelivered, drive.CaseConfirmed}
	for i := range len(states) - 1 {
		do(fmt.Sprintf(`INSERT INTO case_entries (drive_id, size, n, asked, kit, part, from_state, to_asked, to_kit, to_part, to_state, day, at, who)
			SELECT 'spring', {size}, 4, {line}, n, 1, '%s', {line}, n, 1, '%s', '2026-09-20', '2026-09-20', 0 FROM generate_series(1, 19500) n`, states[i], states[i+1]))
	}
	do(`INSERT INTO kit_entries (drive_id, kit, part, from_state, to_state, day, cases, at, who) SELECT 'spring', n, 1, 'out', 'back', '2026-09-20', 4, '2026-09-20', 0 FROM generate_series(1, 19500) n`)
	do(`INSERT INTO deliveries (drive_id, number, recipient, sent_on, confirmed_on, confirmed_by, created_at)
		SELECT 'spring', n, {whom}, '2026-09-20', '2026-09-20', 'desk', '2026-09-20' FROM generate_series(1, 100) n`)
	do(`INSERT INTO boxes (drive_id, number, recipient, delivery, created_at) SELECT 'spring', n, {whom}, 1 + n % 100, '2026-09-20' FROM generate_series(1, 1000) n`)
	do(`INSERT INTO box_lines (drive_id, box, line, asked, size, kit, part, n, confirmed) SELECT 'spring', 1 + n % 1000, 1 + n / 1000, {line}, {size}, n, 1, 4, 4 FROM generate_series(1, 19500) n`)
	do(`ANALYZE`)
	return s, "spring"
}
