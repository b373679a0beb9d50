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

func TestDonorChangedByTwo(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	_, err := s.CreateDonor(t.Context(), s.fresh(), drive.Donor{Name: "Mary Ellis"}, nil)
	require.NoError(t, err)
	var wait sync.WaitGroup
	errs := make([]error, 2)
	for i := range errs {
		act := s.act(fmt.Sprintf("desk-%d", i))
		wait.Go(func() {
			d := drive.Donor{Number: 1, Version: 1, Name: fmt.Sprintf("Mary Ellis %d", i), Letter: true}
			_, errs[i] = s.UpdateDonor(t.Context(), act, d, &drive.DonorContacts{Email: "mary@example.org"})
		})
	}
	wait.Wait()
	lost := errs[0]
	if lost == nil {
		lost = errs[1]
	}
	require.True(t, (errs[0] == nil) != (errs[1] == nil), "one is saved: %v", errs)
	require.True(t, apperr.Is(lost, apperr.KindConflict), "the other is told: %v", lost)
	d, err := s.Donor(t.Context(), "spring", 1)
	require.NoError(t, err)
	require.Equal(t, 2, d.Version)
	_, err = s.UpdateDonor(t.Context(), s.fresh(), drive.Donor{Number: 1, Version: 2, Name: "M", Letter: true, NoLetters: true}, nil)
	require.Contains(t, apperr.Fields(err), "no_letters")
}

func TestErasedDonorKeepsItsNumbers(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	tagged(t, s, "Mary Ellis", 2)
	d, err := s.Donor(t.Context(), "spring", 1)
	require.NoError(t, err)
	_, err = s.UpdateDonor(t.Context(), s.fresh(), drive.Donor{Number: 1, Version: d.Version, Name: d.Name, Note: "by the mill", Letter: true}, &drive.DonorContacts{Email: "mary@example.org", Address: "Mill Lane 4"})
	require.NoError(t, err)
	_, err = s.EraseDonor(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	var left string
	require.NoError(t, s.db.Owner().QueryRow(t.Context(), `SELECT concat_ws('|', name, email, phone, address, note) FROM donors WHERE number = 1`).Scan(&left))
	require.Equal(t, "Erased donor 1||||", left)
	list, err := s.Donors(t.Context(), "spring", "")
	require.NoError(t, err)
	require.Equal(t, []int{1, 2}, []int{list[0].Lots, list[0].Pieces}, "what was given keeps its place")
	due, err := s.ThanksDue(t.Context(), "spring")
	require.NoError(t, err)
	require.Empty(t, due)
	for _, again := range []error{
		refusal(s.EraseDonor(t.Context(), s.fresh(), 1)),
		refusal(s.UpdateDonor(t.Context(), s.fresh(), drive.Donor{Number: 1, Version: 3, Name: "Mary Ellis"}, nil)),
	} {
		require.True(t, apperr.Is(again, apperr.KindConflict), "%v", again)
	}
	known, err := s.KnownDonors(t.Context(), "spring", 0)
	require.NoError(t, err)
	require.Empty(t, known, "no form offers who was forgotten")
	// What stands in the place of the name is nobody's name.
	lot := tagged(t, s, "erased  donor 1", 1)
	now, err := s.Lot(t.Context(), "spring", lot)
	require.NoError(t, err)
	require.Nil(t, now.Donor)
	_, err = s.CreateDonor(t.Context(), s.fresh(), drive.Donor{Name: "Erased donor 2"}, nil)
	require.Contains(t, apperr.Fields(err), "name")
	// Who gives again under the old name is somebody new.
	tagged(t, s, "Mary Ellis", 1)
	list, err = s.Donors(t.Context(), "spring", "Mary")
	require.NoError(t, err)
	require.Equal(t, int64(2), list[0].Number)
}

func refusal[T any](_ T, err error) error { return err }

func TestThanksAreNotedOnce(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	day := drive.Day(s.clock.now, time.UTC)
	for _, name := range []string{"Mary Ellis", "Noor Haddad", "Mary Ellis", ""} {
		tagged(t, s, name, 1)
	}
	weeks, err := s.ThanksDue(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, []ThanksWeek{{Monday: time.Date(2026, time.September, 28, 0, 0, 0, 0, time.UTC), Due: 2}}, weeks, "a gift is what one brought on one day")
	require.Equal(t, weeks[0].Monday, drive.Week(day))
	gifts, err := s.Gifts(t.Context(), "spring", 0, weeks[0].Monday, weeks[0].Monday.AddDate(0, 0, 6))
	require.NoError(t, err)
	require.Len(t, gifts, 2)
	require.Len(t, gifts[0].Lots, 2)

	both := []drive.GiftOf{gifts[0].GiftOf, gifts[1].GiftOf}
	number, err := s.NoteThanks(t.Context(), s.fresh(), []drive.GiftOf{both[1], both[0], both[1]}, drive.ThankedByLetter, day)
	require.NoError(t, err)
	_, err = s.NoteThanks(t.Context(), s.fresh(), both[:1], drive.ThankedByWords, day)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	gifts, err = s.Gifts(t.Context(), "spring", 1, day, day)
	require.NoError(t, err)
	require.Equal(t, []any{number, "letter", day}, []any{gifts[0].Thanks, gifts[0].Way, *gifts[0].ThankedOn})
	_, err = s.UndoThanks(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	weeks, err = s.ThanksDue(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, 2, weeks[0].Due)
	_, err = s.NoteThanks(t.Context(), s.fresh(), both[:1], drive.ThankedByWords, day)
	require.NoError(t, err, "thanked again after the undo")
	_, err = s.NoteThanks(t.Context(), s.fresh(), []drive.GiftOf{{Donor: 1, On: day.AddDate(0, 0, 1)}}, drive.ThankedByWords, day)
	require.True(t, apperr.Is(err, apperr.KindConflict), "a gift that is not there: %v", err)
	_, err = s.NoteThanks(t.Context(), s.fresh(), both, "by pigeon", day)
	require.Contains(t, apperr.Fields(err), "way")
}

func TestLetterRulesAreKept(t *testing.T) {
	s := newStore(t)
	d := startDrive(t, s)
	rules, err := s.LetterRules(t.Context(), d)
	require.NoError(t, err)
	require.Equal(t, d.LetterRules(), rules)
	rules.Wording, rules.Sender = drive.WordingUK, " Spring drive \n\n Mill  Lane 4"
	_, err = s.UpdateLetterRules(t.Context(), s.fresh(), rules)
	require.NoError(t, err)
	_, err = s.UpdateLetterRules(t.Context(), s.fresh(), rules)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	rules, err = s.LetterRules(t.Context(), d)
	require.NoError(t, err)
	require.Equal(t, []any{"Spring drive\nMill Lane 4", 1}, []any{rules.Sender, rules.Version})
	rules.WindowTop, rules.Wording = 0, "Mars"
	_, err = s.UpdateLetterRules(t.Context(), s.fresh(), rules)
	require.Contains(t, apperr.Fields(err), "window_top")
	require.Contains(t, apperr.Fields(err), "wording")
}

// What a donor gave adds up, and the pillowcases its cloth is in are those of the kits.
func TestWhatBecameOfWhatADonorGave(t *testing.T) {
	s, asked := lived(t)
	_, err := s.db.Owner().Exec(t.Context(), `INSERT INTO donors (drive_id, number, name, created_at) VALUES ('spring', 900, 'Everybody', now()); UPDATE lots SET donor = 900`)
	require.NoError(t, err)
	lots, cases, err := s.DonorGave(t.Context(), "spring", 900)
	require.NoError(t, err)
	require.NotEmpty(t, lots)
	cut := false
	for _, l := range lots {
		require.Equal(t, l.CameIn, l.Free+l.Promised+l.Cut+l.GivenOn+l.Discarded+l.Other)
		require.GreaterOrEqual(t, l.Other, l.Cut*0)
		cut = cut || l.Cut > 0
	}
	require.True(t, cut)
	kits, holding := map[int64]int{}, 0
	for _, c := range cases {
		if c.Lot == 0 && kits[c.Kit] == 0 {
			kits[c.Kit] = c.Holding
			holding += c.Holding
		}
		require.Equal(t, line(t, s, asked.Number).RecipientName, c.Recipient)
	}
	var made int
	require.NoError(t, s.db.Owner().QueryRow(t.Context(), `SELECT sum(cases) FROM kits WHERE plan IS NOT NULL AND part = 1`).Scan(&made))
	require.Equal(t, made, holding, "every pillowcase of the plan holds cloth of a donor who gave it all, counted once")
}
