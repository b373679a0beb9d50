package postgres

import (
	"context"
	"fmt"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
)

func keptUpload(t *testing.T, s *testStore, kind drive.BringKind) int64 {
	t.Helper()
	number, err := s.KeepUpload(t.Context(), s.fresh(), kind, "list.csv", []byte("Code\nA\n"))
	require.NoError(t, err)
	return number
}

func TestHeadingsAreKeptForNextTime(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	first := keptUpload(t, s, drive.BringFabric)
	require.NoError(t, s.ReadUploadAs(t.Context(), s.fresh(), first, UploadReading{Sheet: "March", Heading: 3, Means: map[string]string{"stoff nr": "tag", "preis": "", "wer": "donor"}}))
	u, err := s.Upload(t.Context(), "spring", first)
	require.NoError(t, err)
	require.Equal(t, "March", u.Sheet)
	require.Equal(t, 3, u.Heading)
	require.Equal(t, drive.TakeWaiting, u.State)
	require.NoError(t, s.ReadUploadAs(t.Context(), s.fresh(), first, UploadReading{Means: map[string]string{"preis": "note"}, Forget: []string{"wer"}}))
	means, err := s.HeadingChoices(t.Context(), "spring", drive.BringFabric)
	require.NoError(t, err)
	require.Equal(t, map[string]string{"stoff nr": "tag", "preis": "note"}, means)
	means, err = s.HeadingChoices(t.Context(), "spring", drive.BringDonors)
	require.NoError(t, err)
	require.Empty(t, means, "another kind of list")
	err = s.ReadUploadAs(t.Context(), s.fresh(), 99, UploadReading{})
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
	err = s.ReadUploadAs(t.Context(), s.fresh(), first, UploadReading{Heading: -1})
	require.NotNil(t, apperr.Fields(err)["heading"])
}

func TestTakeRequested(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	n := keptUpload(t, s, drive.BringFabric)
	job, err := s.BeginTake(t.Context(), "spring", n)
	require.NoError(t, err)
	require.Nil(t, job, "nobody asked for it yet")
	act := s.act("the form's key")
	require.NoError(t, s.RequestTake(t.Context(), act, n, true))
	require.NoError(t, s.RequestTake(t.Context(), act, n, true), "the same form sent twice")
	for what, err := range map[string]error{
		"again":     s.RequestTake(t.Context(), s.fresh(), n, true),
		"leave":     s.DropUpload(t.Context(), s.fresh(), n),
		"read anew": s.ReadUploadAs(t.Context(), s.fresh(), n, UploadReading{}),
	} {
		require.True(t, apperr.Is(err, apperr.KindConflict), "%s: %v", what, err)
	}
	job, err = s.BeginTake(t.Context(), "spring", n)
	require.NoError(t, err)
	require.True(t, job.Upload.Good)
	require.Equal(t, act.At, job.Act.At.UTC())
	require.Equal(t, "spring", job.Act.Drive)
	require.NotEqual(t, act.Key, job.Act.Key)
	again, err := s.BeginTake(t.Context(), "spring", n)
	require.NoError(t, err)
	require.Equal(t, job.Act, again.Act, "a worker that takes up what another left does the same act")

	goOn, err := s.TakeProgress(t.Context(), "spring", n, 250, 1000)
	require.NoError(t, err)
	require.True(t, goOn)
	stopped, err := s.StopTake(t.Context(), s.fresh(), n)
	require.NoError(t, err)
	require.True(t, stopped)
	goOn, err = s.TakeProgress(t.Context(), "spring", n, 500, 1000)
	require.NoError(t, err)
	require.False(t, goOn)
	require.NoError(t, s.EndTake(t.Context(), "spring", n, Take{State: drive.TakeStopped}))
	take, err := s.TakeOf(t.Context(), "spring", n)
	require.NoError(t, err)
	require.Equal(t, Take{State: drive.TakeStopped, Good: true, Done: 500, Total: 1000}, take)
	stopped, err = s.StopTake(t.Context(), s.fresh(), n)
	require.NoError(t, err)
	require.False(t, stopped)
	require.NoError(t, s.EndTake(t.Context(), "spring", n, Take{State: drive.TakeTaken}), "a late worker changes nothing")
	take, err = s.TakeOf(t.Context(), "spring", n)
	require.NoError(t, err)
	require.Equal(t, drive.TakeStopped, take.State)
	require.NoError(t, s.RequestTake(t.Context(), s.fresh(), n, false), "it may be asked for again")
	stopped, err = s.StopTake(t.Context(), s.fresh(), n)
	require.NoError(t, err)
	require.True(t, stopped)
	take, err = s.TakeOf(t.Context(), "spring", n)
	require.NoError(t, err)
	require.Equal(t, drive.TakeStopped, take.State, "nobody has begun, so there is nobody to wait for")
	require.NoError(t, s.RequestTake(t.Context(), s.fresh(), n, false))
	_, err = s.db.Owner().Exec(t.Context(), `DELETE FROM river.river_job`)
	require.NoError(t, err)
	ended, err := s.FailStrandedTakes(t.Context(), "Nobody could.")
	require.NoError(t, err)
	require.EqualValues(t, 1, ended)
}

// However late somebody stops it, either it is taken and says so, or it is stopped
// and nothing is taken: never one with the word of the other.
func TestStoppedAtTheLastMoment(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	list := drive.Bringing{Kind: drive.BringFabric, Fabric: []drive.Incoming[drive.LotIn]{cut(2, "A01", "Orla", 90*length.Inch)}}
	n := keptUpload(t, s, drive.BringFabric)
	require.NoError(t, s.RequestTake(t.Context(), s.fresh(), n, false))
	job, err := s.BeginTake(t.Context(), "spring", n)
	require.NoError(t, err)
	_, err = s.ImportUpload(t.Context(), job.Act, n, list, false, func(int, int) {
		stopped, err := s.StopTake(t.Context(), s.fresh(), n)
		require.NoError(t, err)
		require.True(t, stopped)
	})
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	lots, err := s.Lots(t.Context(), "spring", LotsQuery{State: LotsAll})
	require.NoError(t, err)
	require.Zero(t, lots.Total)
	require.NoError(t, s.EndTake(t.Context(), "spring", n, Take{State: drive.TakeStopped}))

	require.NoError(t, s.RequestTake(t.Context(), s.fresh(), n, false))
	job, err = s.BeginTake(t.Context(), "spring", n)
	require.NoError(t, err)
	_, err = s.ImportUpload(t.Context(), job.Act, n, list, false, nil)
	require.NoError(t, err)
	stopped, err := s.StopTake(t.Context(), s.fresh(), n)
	require.NoError(t, err)
	require.False(t, stopped, "it is taken, and says so")
	take, err := s.TakeOf(t.Context(), "spring", n)
	require.NoError(t, err)
	require.Equal(t, drive.TakeTaken, take.State)
	require.Equal(t, 1, take.Taken)
}

// Whoever took a list in and died over it is found out by its silence: another is
// asked, and it can be stopped meanwhile.
func TestASilentTakeIsResumed(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	n := keptUpload(t, s, drive.BringFabric)
	require.NoError(t, s.RequestTake(t.Context(), s.fresh(), n, false))
	_, err := s.BeginTake(t.Context(), "spring", n)
	require.NoError(t, err)
	jobs := func() (k int) {
		require.NoError(t, s.db.Owner().QueryRow(t.Context(), `SELECT count(*) FROM river.river_job WHERE kind = 'bring'`).Scan(&k))
		return k
	}
	for _, step := range []struct {
		pass    time.Duration
		resumed int
		jobs    int
	}{{takeSilence - time.Second, 0, 1}, {2 * time.Second, 1, 2}, {time.Second, 0, 2}, {takeSilence, 1, 3}} {
		s.clock.forward(step.pass)
		resumed, err := s.ResumeTakes(t.Context())
		require.NoError(t, err)
		require.Equal(t, step.resumed, resumed)
		require.Equal(t, step.jobs, jobs())
	}
	s.clock.forward(takePause + time.Second)
	stopped, err := s.StopTake(t.Context(), s.fresh(), n)
	require.NoError(t, err)
	require.True(t, stopped)
	take, err := s.TakeOf(t.Context(), "spring", n)
	require.NoError(t, err)
	require.Equal(t, drive.TakeStopped, take.State)
	job, err := s.BeginTake(t.Context(), "spring", n)
	require.NoError(t, err)
	require.Nil(t, job, "and whoever comes late takes nothing")
}

// A file that every worker dies over is not begun for ever: the process dies with it.
func TestAFileThatKillsItsWorkersIsGivenUp(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	n := keptUpload(t, s, drive.BringFabric)
	require.NoError(t, s.RequestTake(t.Context(), s.fresh(), n, false))
	for died := 1; ; died++ {
		_, err := s.BeginTake(t.Context(), "spring", n)
		require.NoError(t, err)
		_, err = s.db.Owner().Exec(t.Context(), `UPDATE river.river_job SET state = 'running', attempted_at = now(), attempt = 1`)
		require.NoError(t, err)
		failed, err := s.FailStrandedTakes(t.Context(), "Nobody could.")
		require.NoError(t, err)
		require.Zero(t, failed, "somebody is at it")
		s.clock.forward(takeSilence + time.Second)
		failed, err = s.FailStrandedTakes(t.Context(), "Nobody could.")
		require.NoError(t, err)
		if died == takeAttempts {
			require.EqualValues(t, 1, failed)
			break
		}
		require.Zero(t, failed)
		resumed, err := s.ResumeTakes(t.Context())
		require.NoError(t, err)
		require.Equal(t, 1, resumed)
	}
	take, err := s.TakeOf(t.Context(), "spring", n)
	require.NoError(t, err)
	require.Equal(t, []any{drive.TakeFailed, "Nobody could."}, []any{take.State, take.Trouble})
}

// A worker that slept while its wish was stopped, and the file asked for anew as read
// otherwise, takes nothing of the old reading when it wakes.
func TestAWokenWorkerTakesNothing(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	n := keptUpload(t, s, drive.BringFabric)
	require.NoError(t, s.RequestTake(t.Context(), s.fresh(), n, false))
	slept, err := s.BeginTake(t.Context(), "spring", n)
	require.NoError(t, err)
	s.clock.forward(takePause + time.Second)
	stopped, err := s.StopTake(t.Context(), s.fresh(), n)
	require.NoError(t, err)
	require.True(t, stopped)
	require.NoError(t, s.RequestTake(t.Context(), s.fresh(), n, false))
	now, err := s.BeginTake(t.Context(), "spring", n)
	require.NoError(t, err)
	list := func(tag string) drive.Bringing {
		return drive.Bringing{Kind: drive.BringFabric, Fabric: []drive.Incoming[drive.LotIn]{cut(2, tag, "Orla", 90*length.Inch)}}
	}
	_, err = s.ImportUpload(t.Context(), slept.Act, n, list("OLD"), false, nil)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	report, err := s.ImportUpload(t.Context(), now.Act, n, list("NEW"), false, nil)
	require.NoError(t, err)
	require.Equal(t, 1, report.Taken)
	lots, err := s.Lots(t.Context(), "spring", LotsQuery{State: LotsAll})
	require.NoError(t, err)
	require.Equal(t, 1, lots.Total)
}

// An import that is stopped on its way leaves nothing behind, however far it was.
func TestStoppedImportTakesNothing(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	var rows []drive.Incoming[drive.LotIn]
	for i := range 3 * lotsAtOnce {
		rows = append(rows, cut(i+2, fmt.Sprintf("S%04d", i), "Orla", 90*length.Inch))
	}
	ctx, stop := context.WithCancel(t.Context())
	var seen [][2]int
	_, err := s.ImportTold(ctx, s.act("stopped import"), drive.Bringing{Kind: drive.BringFabric, Fabric: rows}, false, func(done, total int) {
		if seen = append(seen, [2]int{done, total}); done >= 2*lotsAtOnce {
			stop()
		}
	})
	require.ErrorIs(t, err, context.Canceled)
	require.Equal(t, [][2]int{{lotsAtOnce, 3 * lotsAtOnce}, {2 * lotsAtOnce, 3 * lotsAtOnce}}, seen)
	list, err := s.Lots(t.Context(), "spring", LotsQuery{State: LotsAll})
	require.NoError(t, err)
	require.Zero(t, list.Total)
	donors, err := s.Donors(t.Context(), "spring", "")
	require.NoError(t, err)
	require.Empty(t, donors)
	report, err := s.Import(t.Context(), s.act("stopped import"), drive.Bringing{Kind: drive.BringFabric, Fabric: rows}, false)
	require.NoError(t, err)
	require.Equal(t, len(rows), report.Taken, "the same wish may be made again")
}
