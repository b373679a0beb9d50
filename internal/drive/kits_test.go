package drive

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
)

func TestKitName(t *testing.T) {
	for _, c := range []struct {
		typed string
		want  KitRef
		name  string
	}{
		{"107", KitRef{107, 1}, "107"},
		{" 107 ", KitRef{107, 1}, "107"},
		{"107-1", KitRef{107, 1}, "107"},
		{"107-2", KitRef{107, 2}, "107-2"},
		{"007-12", KitRef{7, 12}, "7-12"},
	} {
		got, err := ParseKitName(c.typed)
		require.NoError(t, err, c.typed)
		require.Equal(t, c.want, got, "ParseKitName(%q)", c.typed)
		require.Equal(t, c.name, got.String(), "name of %v", got)
	}
	for _, typed := range []string{"", "0", "-2", "107-0", "107-", "107-2-3", "kit 107", "107.5", "+107", "1e3", "99999999999999999999", "107-99999"} {
		_, err := ParseKitName(typed)
		require.NotEmpty(t, apperr.Fields(err)["kit"], "ParseKitName(%q) = %v, want a message on the field", typed, err)
	}
}

func FuzzParseKitName(f *testing.F) {
	for _, seed := range []string{"107", "107-2", " 1-1", "-", "9999999999"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		ref, err := ParseKitName(typed)
		if err != nil {
			require.NotNil(t, apperr.Fields(err))
			return
		}
		again, err := ParseKitName(ref.String())
		require.NoError(t, err)
		require.Equal(t, ref, again, "what %q is called reads back as itself", typed)
	})
}

func ExampleKitName() {
	fmt.Println(KitName(107, 1), KitName(107, 2))
	// Output: 107 107-2
}

func TestSortedKits(t *testing.T) {
	got := SortedKits([]KitRef{{9, 2}, {107, 1}, {9, 1}, {9, 2}})
	require.Equal(t, []KitRef{{9, 1}, {9, 2}, {107, 1}}, got)
}

// day gives the nth day of a month in which the tests play.
func day(n int) time.Time { return time.Date(2026, 12, n, 0, 0, 0, 0, time.UTC) }

func dayPtr(n int) *time.Time { d := day(n); return &d }

func kitOut(cases int) Kit {
	holder := int64(3)
	return Kit{
		KitRef: KitRef{107, 1}, Size: 1, Cases: cases, State: KitOut, Holder: &holder, HolderName: "Mary Ellis",
		Since: dayPtr(3), Due: dayPtr(14), LastPart: 1, Held: []KitHeld{{Asked: 7, Size: 1, State: CaseOut, N: cases}},
	}
}

func TestTakeBackInPart(t *testing.T) {
	got, err := kitOut(6).TakeBack(KitReturn{Sewn: 5}, day(10))
	require.NoError(t, err)
	holder, one := int64(3), 1
	require.Equal(t, KitMoves{
		Born: []NewKit{{KitRef: KitRef{107, 2}, Parent: &one, Size: 1}},
		Kits: []KitEntry{
			{Kit: 107, Part: 2, From: KitBorn, To: KitBack, Cases: 5},
			{Kit: 107, Part: 1, From: KitOut, To: KitOut, Holder: &holder, Due: dayPtr(14), Cases: 1},
		},
		Cases: []CaseEntry{{
			Size: 1, N: 5, Asked: 7, Kit: 107, Part: 1, From: CaseOut,
			ToAsked: 7, ToKit: 107, ToPart: 2, To: CaseSewn, Person: &holder,
		}},
	}, got)
}

// What was found sewn of a lost kit cannot go back into it once the rest was found too, though
// the rest may be out with the same person again.
func TestUndoOfWhatWasFoundInPart(t *testing.T) {
	rest := kitOut(4)
	back := Kit{
		KitRef: KitRef{107, 2}, Parent: &rest.Part, Size: 1, Cases: 2, State: KitBack, LastPart: 2,
		Held: []KitHeld{{Asked: 7, Size: 1, State: CaseSewn, N: 2}},
	}
	written := []WrittenCase{{ID: 9, CaseEntry: CaseEntry{
		Size: 1, N: 2, Asked: 7, Kit: 107, Part: 1, From: CaseLost, ToAsked: 7, ToKit: 107, ToPart: 2, To: CaseSewn, Person: rest.Holder,
	}}}
	_, _, err := back.UndoTakeBack([]KitStep{{From: KitBorn, To: KitBack, Day: day(10), Cases: 2}}, written, &rest)
	require.ErrorContains(t, err, "not lost any more")
}

func TestTakeBackWhole(t *testing.T) {
	got, err := kitOut(6).TakeBack(KitReturn{Sewn: 6}, day(10))
	require.NoError(t, err)
	require.Empty(t, got.Born, "nothing parts when all of it comes back")
	require.Equal(t, []KitEntry{{Kit: 107, Part: 1, From: KitOut, To: KitBack, Cases: 6}}, got.Kits)
	require.Equal(t, CaseSewn, got.Cases[0].To)
}

func TestTakeBackOfMended(t *testing.T) {
	k := kitOut(1)
	k.Held[0].State = CaseToMend
	got, err := k.TakeBack(KitReturn{Sewn: 1}, day(10))
	require.NoError(t, err)
	require.Equal(t, CaseToMend, got.Cases[0].From)
	require.Equal(t, CaseSewn, got.Cases[0].To, "what was mended waits to be checked again")
	_, err = k.TakeBack(KitReturn{RestUnsewn: true}, day(10))
	require.Contains(t, apperr.Fields(err)["rest"], "sewn before")
}

func TestTakeBackRefused(t *testing.T) {
	for _, c := range []struct {
		name  string
		kit   Kit
		r     KitReturn
		day   time.Time
		field string
		says  string
	}{
		{"more than it holds", kitOut(6), KitReturn{Sewn: 7}, day(10), "sewn", "Kit 107 holds 6 pillowcases with Mary Ellis, not 7"},
		{"nothing", kitOut(6), KitReturn{}, day(10), "sewn", "1 to 6"},
		{"less than nothing", kitOut(6), KitReturn{Sewn: -1, RestUnsewn: true}, day(10), "sewn", "1 to 6"},
		{"before it went out", kitOut(6), KitReturn{Sewn: 1}, day(2), "day", "since 3 Dec 2026"},
	} {
		_, err := c.kit.TakeBack(c.r, c.day)
		require.Contains(t, apperr.Fields(err)[c.field], c.says, c.name)
	}
	ready := kitOut(6)
	ready.State, ready.Holder = KitReady, nil
	_, err := ready.TakeBack(KitReturn{Sewn: 1}, day(10))
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
}

func TestHandOutSaysWhoHasIt(t *testing.T) {
	_, err := kitOut(6).HandOut(Holder{4, "Ann", true}, day(10), nil)
	require.EqualError(t, err, "Kit 107 is with Mary Ellis since 3 Dec 2026.")
	require.True(t, apperr.Is(err, apperr.KindConflict))
}

func TestHandOutToSomebodyWhoRests(t *testing.T) {
	k := kitOut(6)
	k.State, k.Holder, k.Held[0].State = KitReady, nil, CaseCut
	_, err := k.HandOut(Holder{4, "Ann", false}, day(10), nil)
	require.Contains(t, apperr.Fields(err)["person"], "not sewing at the moment")
}

func TestCheckHandOut(t *testing.T) {
	for _, c := range []struct {
		name        string
		day         time.Time
		due         *time.Time
		field, says string
	}{
		{"today, no day agreed", day(10), nil, "", ""},
		{"typed in later", day(3), dayPtr(8), "", ""},
		{"tomorrow", day(11), nil, "day", "has not come yet"},
		{"due before it goes out", day(10), dayPtr(9), "due", "before 10 Dec 2026"},
		{"a slip of the year", day(10), func() *time.Time { d := day(10).AddDate(10, 0, 0); return &d }(), "due", "year"},
	} {
		err := CheckHandOut(c.day, c.due, day(10))
		if c.field == "" {
			require.NoError(t, err, c.name)
			continue
		}
		require.Contains(t, apperr.Fields(err)[c.field], c.says, c.name)
	}
}

func TestLateAndDueSoon(t *testing.T) {
	k := kitOut(6) // due on the 14th
	for _, c := range []struct {
		today      int
		late, soon bool
	}{{6, false, false}, {7, false, true}, {13, false, true}, {14, false, true}, {15, true, false}, {30, true, false}} {
		require.Equal(t, c.late, k.Late(day(c.today)), "late on the %d", c.today)
		require.Equal(t, c.soon, k.DueSoon(day(c.today)), "due soon on the %d", c.today)
	}
	k.Due = nil
	require.False(t, k.Late(day(30)) || k.DueSoon(day(30)), "no day agreed is never late")
	back := kitOut(6)
	back.State = KitBack
	require.False(t, back.Late(day(30)), "a kit that is back is not late")
}

func TestGiveAgain(t *testing.T) {
	got, err := kitOut(6).GiveAgain(Holder{4, "Ann", true}, day(20), dayPtr(27))
	require.NoError(t, err)
	require.Empty(t, got.Cases, "the pillowcases are out before and after")
	require.Equal(t, int64(4), *got.Kits[0].Holder)

	_, err = kitOut(6).GiveAgain(Holder{3, "Mary Ellis", true}, day(20), nil)
	require.Contains(t, apperr.Fields(err)["person"], "has kit 107 already")

	lost := kitOut(6)
	lost.State, lost.Holder, lost.Held[0].State = KitLost, nil, CaseLost
	got, err = lost.GiveAgain(Holder{4, "Ann", true}, day(20), nil)
	require.NoError(t, err)
	require.Equal(t, CaseLost, got.Cases[0].From)
	require.Equal(t, CaseOut, got.Cases[0].To)
}

func TestOwnFabricCheck(t *testing.T) {
	good := OwnFabric{Kits: 2, Cases: 4, Size: 1}
	require.NoError(t, good.Check(day(10)))
	for field, o := range map[string]OwnFabric{
		"kits":  {Kits: 0, Cases: 4, Size: 1},
		"cases": {Kits: 1, Cases: 51, Size: 1},
		"size":  {Kits: 1, Cases: 1},
		"due":   {Kits: 1, Cases: 1, Size: 1, Due: dayPtr(20)},
	} {
		require.NotEmpty(t, apperr.Fields(o.Check(day(10)))[field], field)
	}
}

func TestCheckPerson(t *testing.T) {
	good := Person{Kind: PersonVolunteer, Name: "Ann Noyes", Heads: 1}
	require.NoError(t, CheckPerson(good, &Contacts{Email: "ann@example.org", AgreedOn: dayPtr(10)}, day(10)))
	many := 1001
	for field, p := range map[string]Person{
		"name":  {Kind: PersonVolunteer, Heads: 1},
		"kind":  {Kind: "aunt", Name: "Ann", Heads: 1},
		"heads": {Kind: PersonSchool, Name: "Hill School", Heads: 5001},
		"pace":  {Kind: PersonVolunteer, Name: "Ann", Heads: 1, Pace: &many},
	} {
		require.NotEmpty(t, apperr.Fields(CheckPerson(p, nil, day(10)))[field], field)
	}
	for _, email := range []string{"ann", "@example.org", "ann@", "ann@x.org, bo@x.org", "ann@x.org\r\nBcc: bo@x.org"} {
		require.NotEmpty(t, apperr.Fields(CheckPerson(good, &Contacts{Email: email}, day(10)))["email"], email)
	}
	require.NotEmpty(t, apperr.Fields(CheckPerson(good, &Contacts{AgreedOn: dayPtr(11)}, day(10)))["agreed_on"], "nobody has agreed tomorrow")
	tidy := Person{Kind: PersonVolunteer, Name: "  Ann   Noyes ", Heads: 40}.Tidy()
	require.Equal(t, "Ann Noyes", tidy.Name)
	require.Equal(t, 1, tidy.Heads, "a volunteer is one head")
}

// A kit is not bagged and labelled after all only while that is what stands last of its history.
func TestUndoReady(t *testing.T) {
	mary := int64(3)
	cut := KitStep{From: KitPlanned, To: KitCut, Day: day(2), Cases: 6}
	bagged := KitStep{From: KitCut, To: KitReady, Day: day(4), Cases: 6}
	out := KitStep{From: KitReady, To: KitOut, Holder: &mary, Day: day(5), Cases: 6}
	outUndone := KitStep{From: KitOut, To: KitReady, Day: day(4), Cases: 6, Reason: undone}
	split := KitStep{From: KitReady, To: KitReady, Day: day(5), Cases: 4, Reason: splitReason}
	joined := KitStep{From: KitReady, To: KitReady, Day: day(5), Cases: 6, Reason: undone}
	notBagged := KitStep{From: KitReady, To: KitCut, Day: day(2), Cases: 6, Reason: undone}
	unsewn := KitStep{From: KitOut, To: KitReady, Day: day(6), Cases: 6, Reason: "came back unsewn"}
	for _, c := range []struct {
		name    string
		history []KitStep
		says    string // why not; empty: it is undone
	}{
		{"bagged last", []KitStep{cut, bagged}, ""},
		{"handed out by mistake since", []KitStep{cut, bagged, out, outUndone}, ""},
		{"split and together again since", []KitStep{cut, bagged, split, joined}, ""},
		{"a second time", []KitStep{cut, bagged, notBagged, bagged}, ""},
		{"handed out", []KitStep{cut, bagged, out}, "Kit 107 is with Mary Ellis since 3 Dec 2026, so that it was bagged and labelled cannot be undone."},
		{"came back unsewn", []KitStep{cut, bagged, out, unsewn}, "Kit 107 is ready, but bagging it is not the last thing"},
		{"split", []KitStep{cut, bagged, split}, "not the last thing"},
		{"undone already", []KitStep{cut, bagged, notBagged}, "is cut and lies here: it is not bagged and labelled"},
		{"made ready, of own fabric", []KitStep{{From: KitBorn, To: KitReady, Day: day(2), Cases: 6}}, "not the last thing"},
	} {
		k := kitOut(6)
		if k.State = c.history[len(c.history)-1].To; k.State != KitOut {
			k.Holder = nil
		}
		m, since, err := k.UndoReady(c.history)
		require.Equal(t, c.says == "", MadeReady(c.history), c.name)
		if c.says != "" {
			require.ErrorContains(t, err, c.says, c.name)
			require.True(t, apperr.Is(err, apperr.KindConflict), c.name)
			continue
		}
		require.NoError(t, err, c.name)
		require.Equal(t, []KitEntry{{Kit: 107, Part: 1, From: KitReady, To: KitCut, Cases: 6, Reason: undone}}, m.Kits, c.name)
		require.Empty(t, m.Cases, c.name)
		require.Equal(t, day(2), since, "%s: cut since then", c.name)
	}
}
