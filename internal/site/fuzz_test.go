package site

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
)

// FuzzTyped reads anything that is typed into a field of a day, a count, a length or
// a scanned tag. What is not understood stands beside its field.
func FuzzTyped(f *testing.F) {
	for _, typed := range []string{"2026-10-24", "24 Dec 2026", "1,000", "-1", "2 1/2 yd", "27½", "http://h/l/spring/tag/A01", "", "١٢"} {
		f.Add(typed)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		problems := map[string]string{}
		if day := typedDay(problems, "day", typed); day != nil {
			require.Empty(t, problems)
			require.Equal(t, day.Truncate(24*time.Hour), *day, "a day has no hours")
			again := typedDay(problems, "day", day.Format(time.DateOnly))
			require.True(t, again != nil && again.Equal(*day), "typedDay(%q) = %s, read again %v", typed, day, again)
		} else {
			require.Equal(t, typed != "", problems["day"] != "")
		}
		n := typedCount(problems, "n", typed, 7)
		require.True(t, n >= 0 && n <= 1_000_000, "typedCount(%q) = %d", typed, n)
		for _, unit := range []length.Unit{length.In, length.M} {
			l := clothLength(problems, "length", typed, unit)
			require.GreaterOrEqual(t, l, length.Length(0), "clothLength(%q)", typed)
		}
		if n, ok := wholeNumber(typed); ok {
			require.Positive(t, n, "wholeNumber(%q)", typed)
		}
		require.True(t, strings.HasSuffix(typed, scanned(typed)), "scanned(%q)", typed)
	})
}

// FuzzMeasureForm sends anything as the measuring of a lot: it is refused beside a
// field, or every inch of it is accounted for.
func FuzzMeasureForm(f *testing.F) {
	f.Add("2 1/2", "44", "", "2", "stain across at 30 to 33\"", "10", "12", "3", "9", "navy; white", "one selvedge")
	f.Add("18 x 22 in", "", "40", "500", "", "1 yd", "", "", "", "", "both selvedges")
	f.Add("0", "999 yd", "-1", "0", "½ to ¾ in", "5", "4", "500", "20", strings.Repeat("red,", 40), "")
	d := drive.NewDrive("spring", "Spring drive", "Europe/Dublin", length.In)
	f.Fuzz(func(t *testing.T, long, wide, usable, pieces, flaws, from, to, reach, depth, colours, border string) {
		form := measureForm{
			Length: long, Width: wide, Usable: usable, Pieces: pieces, Flaws: flaws, Border: border, BorderDepth: depth, Colours: colours,
			Ends: drive.EndsTorn, Weight: drive.Weights()[0], Fibre: drive.FibreNotSure, Print: drive.PrintFeature, Turn: drive.TurnEither,
		}
		form.Flaw[0] = flawForm{From: from, To: to, Where: "left", Deep: reach}
		m, problems := form.measured(d, 3)
		if len(problems) > 0 {
			return
		}
		out, err := drive.Measure(d, drive.Lot{Number: 1}, m, 1)
		if err != nil {
			require.NotNil(t, apperr.Fields(err), "%v", err)
			return
		}
		sums := map[int]map[drive.Account]length.Area{}
		for _, e := range out.Entries {
			if sums[e.Piece] == nil {
				sums[e.Piece] = map[drive.Account]length.Area{}
			}
			sums[e.Piece][e.From] -= e.Area
			sums[e.Piece][e.To] += e.Area
		}
		for piece, a := range sums {
			require.Equal(t, -a[drive.Outside]-a[drive.Origin], a[drive.Free]+a[drive.Out]+a[drive.Parted], "piece %d", piece)
			require.GreaterOrEqual(t, a[drive.Free], length.Area(0))
			require.GreaterOrEqual(t, a[drive.Out], length.Area(0))
		}
	})
}

// FuzzTagForm sends anything as a lot at the door.
func FuzzTagForm(f *testing.F) {
	today := time.Date(2026, 10, 24, 0, 0, 0, 0, time.UTC)
	f.Add("Orla", "2", "A01", "bolt", "smell", "C2", "2026-10-24")
	f.Add("  erased donor 4", "0", "/l/spring/tag/7", "", "", strings.Repeat("x", 90), "24.10.2026")
	f.Fuzz(func(t *testing.T, donor, pieces, tag, kind, aside, shelf, received string) {
		form := tagForm{Donor: donor, Pieces: pieces, Tag: tag, Kind: kind, SetAside: aside, Shelf: shelf, Received: received}
		tagging, problems := form.tagging(today)
		if len(problems) > 0 {
			return
		}
		tagging = tagging.Tidy()
		if err := tagging.Check(today); err != nil {
			require.NotNil(t, apperr.Fields(err), "%v", err)
			return
		}
		require.Equal(t, tagging, tagging.Tidy(), "tidy once is tidy")
		require.LessOrEqual(t, tagging.ReceivedOn.Compare(today), 0)
	})
}
