package main

import (
	"fmt"
	"os"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/mail/mailtest"
	"boltward/internal/postgres"
)

// reminding gives a store over the database with somebody to remind: their kit is
// due tomorrow and the drive's rules send by themselves.
func reminding(t *testing.T, url string) *postgres.Store {
	t.Helper()
	// Where it is about noon now, so that rules remind; names of such zones have the sign turned round.
	noon := fmt.Sprintf("Etc/GMT%+d", time.Now().UTC().Hour()-12)
	store, act, size := inSpring(t, url, noon, time.Now)
	mary, err := store.CreatePerson(t.Context(), act("mary"), drive.Person{Kind: drive.PersonVolunteer, Name: "Mary Ellis"}, &drive.Contacts{Email: "mary@example.org"})
	require.NoError(t, err)
	due := drive.Day(time.Now(), time.UTC).AddDate(0, 0, 2)
	_, err = store.MakeOwnFabricKits(t.Context(), act("kit"), drive.OwnFabric{Kits: 1, Cases: 4, Size: size.Number, Person: &mary.Number, Due: &due})
	require.NoError(t, err)
	rules := drive.UsualReminderRules()
	rules.On, rules.ByItself, rules.Quiet, rules.SoonDays, rules.ReplyTo = true, true, nil, 5, "desk@example.org"
	_, err = store.UpdateReminderRules(t.Context(), act("rules"), rules)
	require.NoError(t, err)
	return store
}

// becomes waits until the one reminder of the drive stands so.
func becomes(t *testing.T, store *postgres.Store, state drive.ReminderState) {
	t.Helper()
	var last drive.ReminderState
	require.Eventually(t, func() bool {
		standing, ended, err := store.Reminders(t.Context(), "spring", 1)
		all := append(standing, ended...)
		if err != nil || len(all) != 1 {
			return false
		}
		last = all[0].State
		return last == state
	}, 90*time.Second, 50*time.Millisecond, "the reminder becomes %s; it is %s", state, last)
}

// The real program reminds by itself, with a link that opens.
func TestTheProgramReminds(t *testing.T) {
	t.Parallel()
	set, db := withDatabase(t)
	server := mailtest.Start(t, nil)
	store := reminding(t, db.URL)
	set["SMTP_URL"], set["BOLTWARD_URL"] = "smtp://"+server.Address+"?from=drive@example.org", "http://127.0.0.1:9"
	code, _, errs := run(t, settings{"SMTP_URL": set["SMTP_URL"], "DATABASE_URL": db.URL}, "work")
	require.Equal(t, 2, code)
	require.Contains(t, errs, "BOLTWARD_URL", "links need an address")
	launch(t, set, "serve")
	becomes(t, store, drive.ReminderSent)
	got := server.Messages()
	require.Len(t, got, 1)
	require.Equal(t, []string{"mary@example.org"}, got[0].To)
	require.Contains(t, string(got[0].Data), "http://127.0.0.1:9/v/")
}

// A worker is killed between sending and the server's answer: nobody can know, so
// no worker sends it again, and a person is told that it was perhaps sent.
func TestAWorkerKilledWhileItSends(t *testing.T) {
	t.Parallel()
	rounds := 1
	if longRun() {
		rounds = 20
	}
	for range rounds {
		killedWhileItSends(t)
	}
	t.Logf("killed %d times between the message and the answer: none was sent twice", rounds)
}

func killedWhileItSends(t *testing.T) {
	set, db := withDatabase(t)
	server := mailtest.Start(t, &mailtest.Behaviour{HangAfterData: true})
	store := reminding(t, db.URL)
	set["SMTP_URL"], set["BOLTWARD_URL"] = "smtp://"+server.Address+"?from=drive@example.org", "http://127.0.0.1:9"
	worker := launch(t, set, "work")
	require.Eventually(t, func() bool { return len(server.Messages()) == 1 }, time.Minute, 20*time.Millisecond, "the message is handed over")
	require.NoError(t, syscall.Kill(worker.cmd.Process.Pid, syscall.SIGKILL))
	<-worker.ended
	becomes(t, store, drive.ReminderSending)

	again := launch(t, set, "work")
	const began = `UPDATE reminders SET began_at = began_at - interval '1 hour'`
	_, err := db.Pool.Exec(t.Context(), began)
	require.NoError(t, err)
	becomes(t, store, drive.ReminderPerhaps)
	// The killed worker's job is given to another once it counts as orphaned: now, here.
	_, err = db.Owner().Exec(t.Context(), `UPDATE river.river_job SET state = 'available', scheduled_at = now() WHERE kind = 'remind' AND state = 'running'`)
	require.NoError(t, err)
	require.Eventually(t, func() bool {
		var open int
		err := db.Owner().QueryRow(t.Context(), `SELECT count(*) FROM river.river_job WHERE kind = 'remind' AND finalized_at IS NULL`).Scan(&open)
		return err == nil && open == 0
	}, time.Minute, 100*time.Millisecond, "the job ends")
	require.Len(t, server.Messages(), 1, "it is not sent again")
	becomes(t, store, drive.ReminderPerhaps)
	require.NoError(t, again.cmd.Process.Signal(os.Interrupt))
	<-again.ended
}
