package postgres

import (
	"sync"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// aReminder makes a draft about kits of somebody and gives its number.
func aReminder(t testing.TB, s *testStore, person int64, kits ...drive.KitRef) int64 {
	t.Helper()
	tx, err := s.db.Pool.Begin(t.Context())
	require.NoError(t, err)
	number, err := s.insertReminder(t.Context(), tx, "spring", person, drive.RemindLate, kits)
	require.NoError(t, err)
	require.NoError(t, tx.Commit(t.Context()))
	require.Positive(t, number, "no other stands")
	return number
}

// remindersOn turns reminders on for every day of the week.
func remindersOn(t testing.TB, s *testStore, itself bool) {
	t.Helper()
	rules, err := s.ReminderRules(t.Context(), "spring")
	require.NoError(t, err)
	rules.On, rules.Quiet, rules.ByItself = true, nil, itself
	if itself {
		rules.ReplyTo = "desk@example.org"
	}
	_, err = s.UpdateReminderRules(t.Context(), s.fresh(), rules)
	require.NoError(t, err)
}

// mailed gives somebody with an e-mail address.
func mailed(t testing.TB, s *testStore, name string) int64 {
	t.Helper()
	saved, err := s.CreatePerson(t.Context(), s.fresh(), drive.Person{Kind: drive.PersonVolunteer, Name: name}, &drive.Contacts{Email: "mary@example.org"})
	require.NoError(t, err)
	return saved.Number
}

func TestWhoIsReminded(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	mary, bo, kim, lou := mailed(t, s, "Mary"), addPerson(t, s, "Bo"), addPerson(t, s, "Kim"), addPerson(t, s, "Lou")
	late, soon := dayIn(-3), dayIn(2)
	s.clock.forward(-9 * 24 * time.Hour)
	kits := []drive.KitRef{}
	for range 4 {
		kits = append(kits, ownKits(t, s, z, 1, 4, 0, nil)[0])
	}
	for i, p := range []struct {
		person int64
		due    time.Time
	}{{mary, late}, {bo, soon}, {kim, late}, {lou, late}} {
		_, err := s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: kits[i : i+1], Person: p.person, Due: &p.due})
		require.NoError(t, err)
	}
	s.clock.forward(9 * 24 * time.Hour)

	made, err := s.RemindersDue(t.Context(), true)
	require.NoError(t, err)
	require.Zero(t, made, "reminders are off until somebody turns them on")
	_, err = s.ReportKit(t.Context(), s.fresh(), drive.KitReport{KitRef: kits[2], Person: kim, Kind: drive.ReportCannot})
	require.NoError(t, err)
	_, err = s.SetReminded(t.Context(), s.fresh(), lou, false)
	require.NoError(t, err)
	remindersOn(t, s, false)

	made, err = s.RemindersDue(t.Context(), true)
	require.NoError(t, err)
	require.Equal(t, 2, made, "Mary and Bo; Kim waits for an answer, Lou wants none")
	waiting, _, err := s.Reminders(t.Context(), "spring", 10)
	require.NoError(t, err)
	require.Equal(t, drive.RemindLate, waiting[0].Kind)
	require.Equal(t, drive.RemindSoon, waiting[1].Kind)
	require.Equal(t, kits[0], waiting[0].Kits[0].KitRef)
	require.True(t, waiting[0].Kits[0].Due.Equal(late))
	require.NotEmpty(t, waiting[0].Link, "with a page of their own to answer on")

	for range 2 {
		made, err = s.RemindersDue(t.Context(), true)
		require.NoError(t, err)
		require.Zero(t, made, "at most one a week")
		_, err = s.NoteReminder(t.Context(), s.act("noted"), waiting[0].Number, drive.RemindedByPhone)
		require.NoError(t, err)
		s.clock.forward(3 * 24 * time.Hour)
	}
	s.clock.forward(24 * time.Hour)
	made, err = s.RemindersDue(t.Context(), true)
	require.NoError(t, err)
	require.Equal(t, 1, made, "Mary once more after a week; Bo's waits still")

	// What comes back is not reminded of.
	_, err = s.TakeBack(t.Context(), s.fresh(), kits[1], drive.KitReturn{Sewn: 4}, time.Time{})
	require.NoError(t, err)
	gone, err := s.LoseReminders(t.Context())
	require.NoError(t, err)
	require.EqualValues(t, 1, gone)
}

// However many workers look, and however often, one reminder is made for a person.
func TestManyWorkersRemindOnce(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z, due := addSize(t, s, "standard"), dayIn(1)
	for _, name := range []string{"Mary", "Bo", "Kim"} {
		ownKits(t, s, z, 2, 4, addPerson(t, s, name), &due)
	}
	remindersOn(t, s, false)
	var wg sync.WaitGroup
	var mu sync.Mutex
	all := 0
	for range 16 {
		wg.Go(func() {
			made, err := s.RemindersDue(t.Context(), true)
			require.NoError(t, err)
			mu.Lock()
			defer mu.Unlock()
			all += made
		})
	}
	wg.Wait()
	require.Equal(t, 3, all)
}

// A drive whose reminders cannot be made keeps no other from its own.
func TestAFailingDriveKeepsNoOtherFromReminding(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	due := dayIn(1)
	ownKits(t, s, addSize(t, s, "standard"), 2, 4, addPerson(t, s, "Mary"), &due)
	remindersOn(t, s, false)
	_, err := s.db.Owner().Exec(t.Context(), `ALTER TABLE reminder_rules DROP CONSTRAINT reminder_rules_drive_fkey;
		INSERT INTO reminder_rules (drive_id, on_at, soon_days, late_days, silent_days, quiet) VALUES ('autumn', true, 3, 3, 0, '{}')`)
	require.NoError(t, err)
	made, err := s.RemindersDue(t.Context(), false)
	require.ErrorContains(t, err, "reminders of autumn")
	require.Equal(t, 1, made)
}

// A reminder that is being sent is never sent again but by a person: whatever
// becomes of the process that sends it.
func TestAReminderIsSentOnce(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z, mary, due := addSize(t, s, "standard"), mailed(t, s, "Mary"), dayIn(1)
	kit := ownKits(t, s, z, 1, 4, mary, &due)[0]
	number := aReminder(t, s, mary, kit)
	sent, err := s.QueueReminders(t.Context(), s.fresh(), []int64{number, 99})
	require.NoError(t, err)
	require.Equal(t, 1, sent)

	var wg sync.WaitGroup
	var mu sync.Mutex
	begun := 0
	for range 20 {
		wg.Go(func() {
			out, err := s.BeginReminder(t.Context(), "spring", number)
			require.NoError(t, err)
			if out != nil {
				require.Equal(t, "mary@example.org", out.Email)
				mu.Lock()
				defer mu.Unlock()
				begun++
			}
		})
	}
	wg.Wait()
	require.Equal(t, 1, begun, "one of all that try sends it")
	_, err = s.NoteReminder(t.Context(), s.fresh(), number, drive.RemindedByPhone)
	require.True(t, apperr.Is(err, apperr.KindConflict), "it is on its way")

	lost, err := s.LoseReminders(t.Context())
	require.NoError(t, err)
	require.Zero(t, lost, "it may still be answered")
	s.clock.forward(reminderLost + time.Second)
	_, ended, err := s.Reminders(t.Context(), "spring", 10)
	require.NoError(t, err)
	require.Empty(t, ended)
	lost, err = s.LoseReminders(t.Context())
	require.NoError(t, err)
	require.EqualValues(t, 1, lost)
	_, ended, err = s.Reminders(t.Context(), "spring", 10)
	require.NoError(t, err)
	require.Equal(t, drive.ReminderPerhaps, ended[0].State)
	out, err := s.BeginReminder(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Nil(t, out, "no worker sends it again")
	remindersOn(t, s, true)
	made, err := s.RemindersDue(t.Context(), true)
	require.NoError(t, err)
	require.Zero(t, made, "and no rule")
	sent, err = s.QueueReminders(t.Context(), s.fresh(), []int64{number})
	require.NoError(t, err)
	require.Equal(t, 1, sent, "a person does")
}

// What somebody says, or wishes, after a draft was made holds for that draft too.
func TestADraftHeedsWhatCameAfterIt(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z, mary, due := addSize(t, s, "standard"), mailed(t, s, "Mary"), dayIn(1)
	kits := ownKits(t, s, z, 2, 4, mary, &due)
	number := aReminder(t, s, mary, kits...)
	_, err := s.ReportKit(t.Context(), s.fresh(), drive.KitReport{KitRef: kits[0], Person: mary, Kind: drive.ReportFinished, Cases: 4})
	require.NoError(t, err)
	waiting, _, err := s.Reminders(t.Context(), "spring", 1)
	require.NoError(t, err)
	require.Len(t, waiting[0].Kits, 1, "all finished is not asked for again")
	require.Equal(t, kits[1], waiting[0].Kits[0].KitRef)

	sent, err := s.QueueReminders(t.Context(), s.fresh(), []int64{number})
	require.NoError(t, err)
	require.Equal(t, 1, sent)
	out, err := s.BeginReminder(t.Context(), "spring", number)
	require.NoError(t, err)
	require.NotNil(t, out)
	_, err = s.SetReminded(t.Context(), s.fresh(), mary, false)
	require.NoError(t, err)
	require.NoError(t, s.EndReminder(t.Context(), "spring", number, drive.ReminderQueued, "451 later"))
	out, err = s.BeginReminder(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Nil(t, out, "who wants none gets none, also of those that are tried again")
	_, ended, err := s.Reminders(t.Context(), "spring", 1)
	require.NoError(t, err)
	require.Equal(t, drive.ReminderDropped, ended[0].State)
	sent, err = s.QueueReminders(t.Context(), s.fresh(), []int64{number})
	require.NoError(t, err)
	require.Zero(t, sent)

	// A link that was ended stays ended: by mail nothing goes without a way to end it.
	_, err = s.SetReminded(t.Context(), s.fresh(), mary, true)
	require.NoError(t, err)
	_, err = s.EndPersonLink(t.Context(), s.fresh(), mary)
	require.NoError(t, err)
	number = aReminder(t, s, mary, kits[1])
	links, err := s.PersonLinks(t.Context(), "spring", []int64{mary})
	require.NoError(t, err)
	require.Empty(t, links)
	_, err = s.QueueReminders(t.Context(), s.fresh(), []int64{number})
	require.NoError(t, err)
	out, err = s.BeginReminder(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Nil(t, out)
}

// Whoever turns on that e-mails go by themselves is asked about nobody with an address any more, of
// whom a draft waited already either; on a day on which nobody is reminded it waits on.
func TestDraftsGoOnceMailGoesByItself(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z, mary, bo, due := addSize(t, s, "standard"), mailed(t, s, "Mary"), addPerson(t, s, "Bo"), dayIn(1)
	ownKits(t, s, z, 1, 4, mary, &due)
	ownKits(t, s, z, 1, 4, bo, &due)
	remindersOn(t, s, false)
	states := func(mails bool) []drive.ReminderState {
		t.Helper()
		_, err := s.RemindersDue(t.Context(), mails)
		require.NoError(t, err)
		standing, _, err := s.Reminders(t.Context(), "spring", 10)
		require.NoError(t, err)
		require.Len(t, standing, 2)
		return []drive.ReminderState{standing[0].State, standing[1].State}
	}
	asked := []drive.ReminderState{drive.ReminderDraft, drive.ReminderDraft}
	require.Equal(t, asked, states(true))
	remindersOn(t, s, true)
	require.Equal(t, asked, states(false), "nothing can be sent")
	rules, err := s.ReminderRules(t.Context(), "spring")
	require.NoError(t, err)
	rules.Quiet = []time.Weekday{s.clock.now.Weekday()}
	_, err = s.UpdateReminderRules(t.Context(), s.fresh(), rules)
	require.NoError(t, err)
	require.Equal(t, asked, states(true), "not today")
	s.clock.forward(24 * time.Hour)
	require.Equal(t, []drive.ReminderState{drive.ReminderQueued, drive.ReminderDraft}, states(true), "Bo has no address")
}

// What is told of reminders lately begins with what ended last, however long it had waited, and says
// why each was made, whatever has come of its kits.
func TestRemindersLately(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z, mary, bo, due := addSize(t, s, "standard"), mailed(t, s, "Mary"), addPerson(t, s, "Bo"), dayIn(-5)
	s.clock.forward(-9 * 24 * time.Hour)
	kits := ownKits(t, s, z, 2, 4, 0, nil)
	for i, person := range []int64{mary, bo} {
		_, err := s.HandOut(t.Context(), s.fresh(), drive.HandOut{Kits: kits[i : i+1], Person: person, Due: &due})
		require.NoError(t, err)
	}
	s.clock.forward(9 * 24 * time.Hour)
	first, second := aReminder(t, s, mary, kits[0]), aReminder(t, s, bo, kits[1])
	for _, number := range []int64{second, first} {
		_, err := s.NoteReminder(t.Context(), s.fresh(), number, drive.RemindedByPhone)
		require.NoError(t, err)
		s.clock.forward(time.Hour)
	}
	_, err := s.TakeBack(t.Context(), s.fresh(), kits[0], drive.KitReturn{Sewn: 4}, time.Time{})
	require.NoError(t, err)
	_, ended, err := s.Reminders(t.Context(), "spring", 10)
	require.NoError(t, err)
	require.Equal(t, []int64{first, second}, []int64{ended[0].Number, ended[1].Number})
	require.Equal(t, drive.RemindLate, ended[0].Why(dayIn(0)))
}

// Rules remind in the daytime of the drive.
func TestNobodyIsRemindedAtNight(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	due := dayIn(1)
	ownKits(t, s, addSize(t, s, "standard"), 1, 4, addPerson(t, s, "Mary"), &due)
	remindersOn(t, s, false)
	s.clock.forward(12 * time.Hour)
	made, err := s.RemindersDue(t.Context(), true)
	require.NoError(t, err)
	require.Zero(t, made)
	s.clock.forward(10 * time.Hour)
	made, err = s.RemindersDue(t.Context(), true)
	require.NoError(t, err)
	require.Equal(t, 1, made)
}
