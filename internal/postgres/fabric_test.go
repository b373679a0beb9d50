package postgres

import (
	"strings"
	"sync"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"

	"github.com/stretchr/testify/require"
)

const inch = length.Inch

// tagged tags one lot in the drive "spring" and gives its number.
func tagged(t testing.TB, s *testStore, donor string, pieces int) int64 {
	t.Helper()
	got, err := s.TagLots(t.Context(), s.fresh(), []drive.Tagging{{Donor: donor, Pieces: pieces, ReceivedOn: drive.Day(s.clock.now, time.UTC)}})
	require.NoError(t, err)
	require.Len(t, got.Numbers, 1)
	return got.Numbers[0]
}

// cotton is a measuring of pieces of quilting cotton of 44 in.
func cotton(pieces int, long length.Length) drive.Measured {
	return drive.Measured{
		Make: drive.Make{Fibre: "cotton", Weight: "quilting", Washed: true, Print: drive.PrintFeature, Colours: []string{"Navy"}, Themes: []string{"space"}},
		Cuts: []drive.Cuttings{{Pieces: pieces, Length: long, Width: 44 * inch}},
	}
}

// lotAdds fails unless every piece of a lot balances and its pieces agree with the entries.
func lotAdds(t testing.TB, s *testStore, number int64) LotPage {
	t.Helper()
	lot, err := s.Lot(t.Context(), "spring", number)
	require.NoError(t, err)
	history, err := s.LotHistory(t.Context(), "spring", number)
	require.NoError(t, err)
	for _, p := range lot.Pieces {
		require.Equal(t, p.Received, p.Free+p.Promised+p.Cut+p.Out+p.Parted, "piece %d: received = free + promised + cut + out + parted", p.Piece)
		var in length.Area
		for _, e := range history.Entries {
			if e.Piece != p.Piece {
				continue
			}
			if e.From == drive.Outside || e.From == drive.Origin {
				in += e.Area
			}
			if e.To == drive.Outside || e.To == drive.Origin {
				in -= e.Area
			}
		}
		require.Equal(t, in, p.Received, "piece %d: received as the entries say", p.Piece)
	}
	return lot
}

func TestTagAndMeasure(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	number := tagged(t, s, "  Orla   Brandtveit ", 2)
	require.EqualValues(t, 1, number)
	waiting, err := s.Lot(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, "Orla Brandtveit", waiting.DonorName)
	require.False(t, waiting.Measured())
	require.Empty(t, waiting.Pieces)

	got, err := s.MeasureLot(t.Context(), s.fresh(), number, waiting.Version, cotton(2, 3*length.Yard))
	require.NoError(t, err)
	require.Equal(t, 2, got.Pieces)
	lot := lotAdds(t, s, number)
	require.True(t, lot.Measured())
	require.Equal(t, []string{"navy"}, lot.Colours)
	require.Len(t, lot.Pieces, 2)
	for _, p := range lot.Pieces {
		// 45 in cotton leaves 42 in: 3 in go (common practice, no source); 1 in goes off each cut end.
		require.Equal(t, 41*inch, p.Width)
		require.Equal(t, 106*inch, p.FreeLength)
		require.Equal(t, length.Area(44*inch)*length.Area(108*inch), p.Received, "all that came in is booked")
	}
}

func TestBorderAndFlawsPartTheLot(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	number := tagged(t, s, "", 1)
	m := cotton(1, 98*inch)
	m.Border, m.BorderDepth = drive.BorderOne, 27*inch
	m.Cuts[0].Flaws = []sizing.Flaw{{From: 31 * inch, To: 34 * inch}}
	_, err := s.MeasureLot(t.Context(), s.fresh(), number, 1, m)
	require.NoError(t, err)
	lot := lotAdds(t, s, number)
	require.Equal(t, drive.TurnAlong, lot.Turn, "a border runs round the case")
	require.Len(t, lot.Pieces, 5, "the whole, and what the flaw leaves of strip and rest")
	require.Zero(t, lot.Pieces[0].Free)
	one := 1
	var strips int
	for _, p := range lot.Pieces[1:] {
		require.Equal(t, &one, p.Origin)
		require.Positive(t, p.Free)
		if p.Kind == drive.PieceBorder {
			strips++
			require.Equal(t, 27*inch, p.Width)
		}
	}
	require.Equal(t, 2, strips)
	require.Equal(t, length.Area(3*inch)*length.Area(41*inch)+length.Area(98*44-96*41)*length.SquareInch, lot.Pieces[0].Out, "the flaw and what was squared off")
}

func TestMeasuringUndone(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	number := tagged(t, s, "", 1)
	m := cotton(1, 98*inch)
	m.Border, m.BorderDepth = drive.BorderOne, 27*inch
	_, err := s.MeasureLot(t.Context(), s.fresh(), number, 1, m)
	require.NoError(t, err)
	version, err := s.UndoMeasure(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	lot := lotAdds(t, s, number)
	require.False(t, lot.Measured())
	for _, p := range lot.Pieces {
		require.Zero(t, p.Received)
		require.Zero(t, p.FreeLength)
	}
	_, err = s.UndoMeasure(t.Context(), s.fresh(), number)
	require.True(t, apperr.Is(err, apperr.KindConflict), "undone already: %v", err)

	_, err = s.MeasureLot(t.Context(), s.fresh(), number, version, cotton(1, 90*inch))
	require.NoError(t, err)
	lot = lotAdds(t, s, number)
	require.Equal(t, 4, lot.Pieces[len(lot.Pieces)-1].Piece, "numbers of pieces are never used again")
}

func TestMeasuringStandsOnceClothIsPromised(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	number := tagged(t, s, "", 1)
	_, err := s.MeasureLot(t.Context(), s.fresh(), number, 1, cotton(1, 90*inch))
	require.NoError(t, err)
	area := length.Area(27*inch) * length.Area(41*inch)
	book := func(e drive.FabricEntry) {
		t.Helper()
		tx, err := s.db.Pool.Begin(t.Context())
		require.NoError(t, err)
		require.NoError(t, writeFabric(t.Context(), tx, s.fresh(), []drive.FabricEntry{e}))
		require.NoError(t, tx.Commit(t.Context()))
	}
	book(drive.FabricEntry{Lot: number, Piece: 1, Kind: drive.FabricPromised, From: drive.Free, To: drive.Promised, Length: 27 * inch, Area: area})
	_, err = s.UndoMeasure(t.Context(), s.fresh(), number)
	require.ErrorContains(t, err, "promised to a plan")
	book(drive.FabricEntry{Lot: number, Piece: 1, Kind: drive.FabricReleased, From: drive.Promised, To: drive.Free, Length: 27 * inch, Area: area})
	_, err = s.UndoMeasure(t.Context(), s.fresh(), number)
	require.NoError(t, err, "what was promised and released again is as it was measured")
	lotAdds(t, s, number)
}

func TestMeasureRefused(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	number := tagged(t, s, "", 1)
	for _, tt := range []struct {
		name, field, why string
		change           func(m *drive.Measured)
	}{
		{"a 4 km cut", "length", "longer than any bolt", func(m *drive.Measured) { m.Cuts[0].Length = 4000 * length.Metre }},
		{"44 yd wide", "width", "wider than any cloth", func(m *drive.Measured) { m.Cuts[0].Width = 44 * length.Yard }},
		{"no length", "length", "more than nothing", func(m *drive.Measured) { m.Cuts[0].Length = 0 }},
		{"a negative length", "length", "more than nothing", func(m *drive.Measured) { m.Cuts[0].Length = -3 * inch }},
		{"shorter than its ends", "length", "Nothing is left", func(m *drive.Measured) { m.Cuts[0].Length = inch }},
		{"no width", "width", "Give the width", func(m *drive.Measured) { m.Cuts[0].Width = 0 }},
		{"too many pieces", "pieces", "1 to 500", func(m *drive.Measured) { m.Cuts[0].Pieces = 501 }},
		{"no fibre", "fibre", "not sure", func(m *drive.Measured) { m.Fibre = "" }},
		{"unknown print", "print", "solid", func(m *drive.Measured) { m.Print = "loud" }},
		{"a flaw beyond the end", "flaws", "beyond the end", func(m *drive.Measured) { m.Cuts[0].Flaws = []sizing.Flaw{{From: 200 * inch, To: 210 * inch}} }},
		{"a border as deep as the cloth", "border_depth", "leaves nothing", func(m *drive.Measured) { m.Border, m.BorderDepth = drive.BorderBoth, 22*inch }},
		{"a depth without a border", "border", "which selvedge", func(m *drive.Measured) { m.BorderDepth = 9 * inch }},
		{"a second cut", "length2", "longer than any bolt", func(m *drive.Measured) {
			m.Cuts = append(m.Cuts, drive.Cuttings{Pieces: 1, Length: 4000 * length.Metre, Width: 44 * inch})
		}},
	} {
		m := cotton(1, 90*inch)
		tt.change(&m)
		_, err := s.MeasureLot(t.Context(), s.fresh(), number, 1, m)
		require.Contains(t, apperr.Fields(err)[tt.field], tt.why, "%s: %v", tt.name, err)
	}
	lot := lotAdds(t, s, number)
	require.False(t, lot.Measured())
	require.Empty(t, lot.Pieces, "nothing is half saved")
	_, err := s.MeasureLot(t.Context(), s.fresh(), 99, 1, cotton(1, 90*inch))
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
	startDriveAs(t, s, "other")
	_, err = s.MeasureLot(t.Context(), s.actIn("other", "foreign"), number, 1, cotton(1, 90*inch))
	require.True(t, apperr.Is(err, apperr.KindNotFound), "a lot of another drive: %v", err)
}

// What no lot can hold is told at its field by the database too, counted at the door or by measuring.
func TestPiecesNoLotHolds(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	lot := tagged(t, s, "Orla Brandt", 1)
	for _, column := range []string{"pieces_told", "pieces_measured"} {
		_, err := s.db.Pool.Exec(t.Context(), `UPDATE lots SET `+column+` = 501 WHERE drive_id = 'spring' AND number = $1`, lot)
		require.Equal(t, "Say how many pieces, 1 to 500.", apperr.Fields(person(err))["pieces"], column)
	}
}

func TestTagRefused(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	day := drive.Day(s.clock.now, time.UTC)
	good := drive.Tagging{Tag: "0017", Pieces: 1, ReceivedOn: day}
	_, err := s.TagLots(t.Context(), s.fresh(), []drive.Tagging{good})
	require.NoError(t, err)
	for _, tt := range []struct {
		field  string
		change func(t *drive.Tagging)
	}{
		{"tag", func(*drive.Tagging) {}},
		{"pieces", func(t *drive.Tagging) { t.Tag, t.Pieces = "2", 0 }},
		{"received_on", func(t *drive.Tagging) { t.Tag, t.ReceivedOn = "2", day.AddDate(0, 0, 1) }},
		{"donor", func(t *drive.Tagging) { t.Tag, t.Donor = "2", strings.Repeat("x", 121) }},
	} {
		bad := good
		tt.change(&bad)
		_, err := s.TagLots(t.Context(), s.fresh(), []drive.Tagging{{Tag: "ok", Pieces: 1, ReceivedOn: day}, bad})
		require.Contains(t, apperr.Fields(err), tt.field, "%v", err)
	}
	list, err := s.Lots(t.Context(), "spring", LotsQuery{State: LotsAll})
	require.NoError(t, err)
	require.Equal(t, 1, list.Total, "refused lots leave nothing behind")
}

func TestTagSameFormTwice(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	lots := []drive.Tagging{{Donor: "Orla", Pieces: 1, ReceivedOn: drive.Day(s.clock.now, time.UTC)}}
	var wait sync.WaitGroup
	answers := make([]LotsTagged, 20)
	for i := range answers {
		wait.Go(func() {
			var err error
			answers[i], err = s.TagLots(t.Context(), s.act("same"), lots)
			require.NoError(t, err)
		})
	}
	wait.Wait()
	for _, a := range answers {
		require.Equal(t, []int64{1}, a.Numbers)
	}
}

func TestNewDonorTypedAtTwoDesks(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	var wait sync.WaitGroup
	for i := range 8 {
		act := s.act("desk-" + string(rune('a'+i)))
		wait.Go(func() {
			_, err := s.TagLots(t.Context(), act, []drive.Tagging{{Donor: "Half Moon guild", Pieces: 1, ReceivedOn: drive.Day(s.clock.now, time.UTC)}})
			require.NoError(t, err)
		})
	}
	wait.Wait()
	donors, err := s.Donors(t.Context(), "spring", "")
	require.NoError(t, err)
	require.Len(t, donors, 1)
	require.Equal(t, 8, donors[0].Lots)
}

func TestLotEdits(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	number := tagged(t, s, "Orla", 1)
	_, err := s.SetAside(t.Context(), s.fresh(), number, "  ")
	require.Contains(t, apperr.Fields(err), "set_aside")
	_, err = s.SetAside(t.Context(), s.fresh(), number, "smells of smoke")
	require.NoError(t, err)
	lot, err := s.Lot(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, "smells of smoke", lot.SetAside)
	_, err = s.TakeBackAside(t.Context(), s.fresh(), number)
	require.NoError(t, err)

	change := drive.LotChange{Donor: "Pim", Shelf: "B2", Kind: "bolt end", Colours: []string{"gray"}}
	_, err = s.ChangeLot(t.Context(), s.fresh(), number, lot.Version, change)
	require.True(t, apperr.Is(err, apperr.KindConflict), "a stale edit: %v", err)
	version, err := s.ChangeLot(t.Context(), s.fresh(), number, lot.Version+1, change)
	require.NoError(t, err)
	lot, err = s.Lot(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, version, lot.Version)
	require.Equal(t, "Pim", lot.DonorName)
	require.Equal(t, []string{"grey"}, lot.Colours)
	require.Empty(t, lot.SetAside)
}

func TestLotsList(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	a, b, c := tagged(t, s, "Orla", 1), tagged(t, s, "Pim", 3), tagged(t, s, "", 1)
	_, err := s.MeasureLot(t.Context(), s.fresh(), a, 1, cotton(1, 90*inch))
	require.NoError(t, err)
	_, err = s.MeasureLot(t.Context(), s.fresh(), b, 1, cotton(3, 40*inch))
	require.NoError(t, err)
	_, err = s.SetAside(t.Context(), s.fresh(), c, "mildew")
	require.NoError(t, err)
	numbers := func(q LotsQuery) (list []int64) {
		t.Helper()
		got, err := s.Lots(t.Context(), "spring", q)
		require.NoError(t, err)
		for _, l := range got.Lots {
			list = append(list, l.Number)
		}
		return list
	}
	require.Equal(t, []int64{a, b, c}, numbers(LotsQuery{}))
	require.Equal(t, []int64{b}, numbers(LotsQuery{Q: "pIM"}))
	require.Equal(t, []int64{a, b}, numbers(LotsQuery{Q: "space"}))
	require.Equal(t, []int64{a, b}, numbers(LotsQuery{State: LotsFree}))
	require.Equal(t, []int64{c}, numbers(LotsQuery{State: LotsAside}))
	require.Empty(t, numbers(LotsQuery{State: LotsUsed}))
	require.Equal(t, []int64{b, a, c}, numbers(LotsQuery{Sort: "free", Desc: true}))
	require.Equal(t, []int64{b}, numbers(LotsQuery{Limit: 1, Offset: 1}))
	got, err := s.Lots(t.Context(), "spring", LotsQuery{Limit: 1})
	require.NoError(t, err)
	require.Equal(t, 3, got.Total)
	require.Equal(t, 1, got.Waiting)
	require.Equal(t, 4, got.Pieces)
	require.Equal(t, length.Area(41*(88+3*38))*length.SquareInch, got.Free)
	for _, sort := range []string{"number", "tag", "donor", "received", "kind", "width", "free", "shelf", "x'; DROP TABLE lots"} {
		require.Len(t, numbers(LotsQuery{Sort: sort}), 3, "sorted by %s", sort)
	}
	next, err := s.NextToMeasure(t.Context(), "spring", 0, "")
	require.NoError(t, err)
	require.Zero(t, next, "what is set aside is not in the queue")
}

func TestHistoryInWords(t *testing.T) {
	s := newStore(t)
	d := startDrive(t, s)
	number := tagged(t, s, "", 1)
	m := cotton(1, 98*inch)
	m.Border, m.BorderDepth = drive.BorderOne, 27*inch
	m.Cuts[0].Flaws = []sizing.Flaw{{From: 91 * inch, To: 97 * inch}}
	_, err := s.MeasureLot(t.Context(), s.fresh(), number, 1, m)
	require.NoError(t, err)
	_, err = s.UndoMeasure(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	history, err := s.LotHistory(t.Context(), "spring", number)
	require.NoError(t, err)
	var words []string
	for _, e := range history.Entries {
		words = append(words, e.Words(d))
	}
	require.Equal(t, []string{
		"Tagged",
		"Parted off as piece 2: 27 in × 2 1/2 yd (border strip)",
		"Parted from piece 1: 27 in × 2 1/2 yd (border strip)",
		"Parted off as piece 3: 14 in × 2 1/2 yd (flaw)",
		"Parted from piece 1: 14 in × 2 1/2 yd (flaw)",
		"Squared off and trimmed of its selvedges: 0.29 yd²",
		"Discarded: 0.19 yd² (flaw from 91 in to 97 in across)",
	}, words[:7])
	require.Len(t, words, 13)
	require.Contains(t, words[12], "Undone, parted again not booked: 27 in × 2 1/2 yd")
	require.Empty(t, history.Reach)
}
