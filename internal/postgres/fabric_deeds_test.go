package postgres

import (
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"

	"github.com/stretchr/testify/require"
)

// bolt is a measured lot of one piece, 41 × 106 in usable.
func bolt(t testing.TB, s *testStore, washed bool) int64 {
	t.Helper()
	number := tagged(t, s, "Orla", 1)
	m := cotton(1, 108*inch)
	m.Washed = washed
	_, err := s.MeasureLot(t.Context(), s.fresh(), number, 1, m)
	require.NoError(t, err)
	return number
}

// handle books a deed that has to be possible.
func handle(t testing.TB, s *testStore, lot int64, h drive.Handling) ClothHandled {
	t.Helper()
	done, err := s.HandleCloth(t.Context(), s.fresh(), lot, 0, h)
	require.NoError(t, err)
	return done
}

// piece gives a piece of a lot whose pieces all add up.
func piece(t testing.TB, s *testStore, lot int64, number int) drive.Piece {
	t.Helper()
	for _, p := range lotAdds(t, s, lot).Pieces {
		if p.Piece == number {
			return p
		}
	}
	require.Failf(t, "no such piece", "%d/%d", lot, number)
	return drive.Piece{}
}

func TestEveryDeedBooksAndIsUndone(t *testing.T) {
	for _, tt := range []struct {
		name   string
		h      drive.Handling
		stays  length.Length // free length of piece 1
		made   [][2]length.Length
		out    length.Area // beside the 2 + 3 in squared off
		reason string
	}{
		{"given away", drive.Handling{Kind: drive.DeedGivenAway, Piece: 1, Length: 36 * inch, Reason: "the guild"}, 70 * inch, nil, 36 * 41, "the guild"},
		{"all discarded", drive.Handling{Kind: drive.DeedDiscarded, Piece: 1, All: true, Reason: "mildew"}, 0, nil, 106 * 41, "mildew"},
		{"squared off", drive.Handling{Kind: drive.DeedSquared, Piece: 1, Length: 2 * inch}, 104 * inch, nil, 2 * 41, ""},
		{"counted short", drive.Handling{Kind: drive.DeedRecounted, Piece: 1, Length: 100 * inch, Reason: "counted"}, 100 * inch, nil, 6 * 41, "counted"},
		{"counted more", drive.Handling{Kind: drive.DeedRecounted, Piece: 1, Length: 110 * inch, Reason: "counted"}, 110 * inch, nil, 0, "counted"},
		{"narrower", drive.Handling{Kind: drive.DeedRecounted, Piece: 1, Length: 106 * inch, Width: 40 * inch, Reason: "tape"}, 0, [][2]length.Length{{40, 106}}, 106, "tape"},
		{"wider", drive.Handling{Kind: drive.DeedRecounted, Piece: 1, Length: 106 * inch, Width: 42 * inch, Reason: "tape"}, 0, [][2]length.Length{{42, 106}}, 0, "tape"},
		{"wider and shorter", drive.Handling{Kind: drive.DeedRecounted, Piece: 1, Length: 41 * inch, Width: 106 * inch, Reason: "turned"}, 0, [][2]length.Length{{106, 41}}, 0, "turned"},
		{
			"flaw across",
			drive.Handling{Kind: drive.DeedParted, Piece: 1, Flaws: []sizing.Flaw{{From: 40 * inch, To: 44 * inch}}},
			40 * inch,
			[][2]length.Length{{41, 62}},
			4 * 41, "flaw from 40 in to 44 in across",
		},
		{
			"flaw at the edge",
			drive.Handling{Kind: drive.DeedParted, Piece: 1, Flaws: []sizing.Flaw{{From: 40 * inch, To: 44 * inch, Reach: 2 * inch}}},
			40 * inch,
			[][2]length.Length{{41, 62}},
			4 * 41, "flaw from 40 in to 44 in, 2 in in from the edge",
		},
		{"border", drive.Handling{Kind: drive.DeedParted, Piece: 1, Border: drive.BorderOne, Depth: 27 * inch}, 0, [][2]length.Length{{27, 106}, {14, 106}}, 0, "border strip"},
		{
			"two borders and a flaw",
			drive.Handling{Kind: drive.DeedParted, Piece: 1, Border: drive.BorderBoth, Depth: 11 * inch, Flaws: []sizing.Flaw{{From: 0, To: 6 * inch}}},
			0,
			[][2]length.Length{{11, 100}, {19, 100}, {11, 100}},
			6 * 41, "border strip; flaw from 0 in to 6 in across",
		},
		{"along", drive.Handling{Kind: drive.DeedParted, Piece: 1, Width: 9 * inch}, 0, [][2]length.Length{{9, 106}, {32, 106}}, 0, "cut along its length"},
		{"across", drive.Handling{Kind: drive.DeedParted, Piece: 1, Length: 36 * inch}, 36 * inch, [][2]length.Length{{41, 70}}, 0, "cut across"},
		{"put back", drive.Handling{Kind: drive.DeedPutBack, Piece: 1, Width: 10 * inch, Length: 20 * inch, Reason: "kept"}, 106 * inch, [][2]length.Length{{10, 20}}, -200, "kept"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := newStore(t)
			startDrive(t, s)
			lot := bolt(t, s, true)
			before := piece(t, s, lot, 1)
			done := handle(t, s, lot, tt.h)
			after := piece(t, s, lot, 1)
			require.Equal(t, tt.stays, after.FreeLength)
			require.Equal(t, tt.out*length.SquareInch, after.Out-before.Out)
			require.Len(t, done.Pieces, len(tt.made))
			for i, n := range done.Pieces {
				p := piece(t, s, lot, n)
				require.Equal(t, tt.made[i], [2]length.Length{p.Width / inch, p.FreeLength / inch})
				require.Equal(t, 1, *p.Origin)
			}
			history, err := s.LotHistory(t.Context(), "spring", lot)
			require.NoError(t, err)
			require.Equal(t, tt.reason, history.Entries[len(history.Entries)-1].Reason)
			require.Equal(t, tt.h.Kind, history.Deeds[0].Kind)
			agrees(t, s)

			_, err = s.UndoMeasure(t.Context(), s.fresh(), lot)
			require.True(t, apperr.Is(err, apperr.KindConflict), "what was done since has to be undone first: %v", err)
			_, err = s.UndoCloth(t.Context(), s.fresh(), lot, done.Deed)
			require.NoError(t, err)
			require.Equal(t, before, piece(t, s, lot, 1))
			agrees(t, s)
			_, err = s.UndoCloth(t.Context(), s.fresh(), lot, done.Deed)
			require.ErrorContains(t, err, "undone already")
			_, err = s.UndoCloth(t.Context(), s.fresh(), lot, done.Deed+1)
			require.ErrorContains(t, err, "stays undone")
			_, err = s.UndoMeasure(t.Context(), s.fresh(), lot)
			require.NoError(t, err)
		})
	}
}

func TestWashingTeaches(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	lot := bolt(t, s, false)
	// 36 × 42 → 35 × 41: −2.78 %, −2.38 % (AATCC TM135; its formula from memory).
	handle(t, s, lot, drive.Handling{Kind: drive.DeedRecounted, Piece: 1, Length: 36 * inch, Width: 42 * inch, Reason: "measured anew"})
	_, err := s.HandleCloth(t.Context(), s.fresh(), lot, 0, drive.Handling{Kind: drive.DeedWashed})
	require.Contains(t, apperr.Fields(err), "length2")
	wash := drive.Handling{Kind: drive.DeedWashed, Sizes: []drive.WashedSize{{Piece: 2, Width: 41 * inch, Length: 35 * inch}}}
	grown := wash
	grown.Sizes = []drive.WashedSize{{Piece: 2, Width: 42 * inch, Length: 37 * inch}}
	_, err = s.HandleCloth(t.Context(), s.fresh(), lot, 0, grown)
	require.Contains(t, apperr.Fields(err)["length2"], "does not grow")
	done := handle(t, s, lot, wash)
	require.Equal(t, []int{3}, done.Pieces)
	require.Equal(t, length.Area(42*36-41*35)*length.SquareInch, piece(t, s, lot, 2).Out, "the loss is booked")
	got, err := s.Lot(t.Context(), "spring", lot)
	require.NoError(t, err)
	require.True(t, got.Washed)
	learned, err := s.Shrinkages(t.Context(), "spring")
	require.NoError(t, err)
	require.Len(t, learned, 1)
	require.Equal(t, "cotton", learned[0].Fibre)
	require.Equal(t, sizing.Shrink{Along: 278, Across: 238}, learned[0].Shrunk())
	_, err = s.HandleCloth(t.Context(), s.fresh(), lot, 0, wash)
	require.ErrorContains(t, err, "washed already")

	// What is used after the wash keeps the wash from being undone, and is named.
	given := handle(t, s, lot, drive.Handling{Kind: drive.DeedGivenAway, Piece: 3, Length: inch, Reason: "a swatch"})
	_, err = s.UndoCloth(t.Context(), s.fresh(), lot, done.Deed)
	require.ErrorContains(t, err, "Cloth of piece 1/3 was used since: given away: 41 in × 1 in (a swatch)")
	_, err = s.UndoCloth(t.Context(), s.fresh(), lot, given.Deed)
	require.NoError(t, err)
	_, err = s.UndoCloth(t.Context(), s.fresh(), lot, done.Deed)
	require.NoError(t, err)
	got, err = s.Lot(t.Context(), "spring", lot)
	require.NoError(t, err)
	require.False(t, got.Washed)
	learned, err = s.Shrinkages(t.Context(), "spring")
	require.NoError(t, err)
	require.Empty(t, learned, "what was undone taught nothing")
	agrees(t, s)
}

func TestDeedsRefused(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	lot := bolt(t, s, true)
	waiting := tagged(t, s, "", 1)
	for _, tt := range []struct {
		field, why string
		h          drive.Handling
	}{
		{"length", "has 2 yd 34 in free", drive.Handling{Kind: drive.DeedGivenAway, Piece: 1, Length: 107 * inch, Reason: "x"}},
		{"length", "more than nothing", drive.Handling{Kind: drive.DeedDiscarded, Piece: 1, Length: -inch, Reason: "x"}},
		{"reason", "to whom", drive.Handling{Kind: drive.DeedGivenAway, Piece: 1, All: true}},
		{"reason", "why it is discarded", drive.Handling{Kind: drive.DeedDiscarded, Piece: 1, All: true}},
		{"reason", "differs", drive.Handling{Kind: drive.DeedRecounted, Piece: 1, Length: inch, Reason: "  "}},
		{"reason", "200", drive.Handling{Kind: drive.DeedRecounted, Piece: 1, Length: inch, Reason: string(make([]rune, 201)) + "x"}},
		{"length", "booked already", drive.Handling{Kind: drive.DeedRecounted, Piece: 1, Length: 106 * inch, Reason: "x"}},
		{"length", "longer than any bolt", drive.Handling{Kind: drive.DeedRecounted, Piece: 1, Length: 4000 * length.Metre, Reason: "x"}},
		{"width", "wider than any cloth", drive.Handling{Kind: drive.DeedRecounted, Piece: 1, Length: inch, Width: 44 * length.Yard, Reason: "x"}},
		{"length", "Say where it is parted", drive.Handling{Kind: drive.DeedParted, Piece: 1}},
		{"flaws", "beyond the end", drive.Handling{Kind: drive.DeedParted, Piece: 1, Flaws: []sizing.Flaw{{From: 200 * inch, To: 201 * inch}}}},
		{"flaws", "worth keeping", drive.Handling{Kind: drive.DeedParted, Piece: 1, Flaws: []sizing.Flaw{{From: inch, To: 105 * inch}}}},
		{"depth", "how deep", drive.Handling{Kind: drive.DeedParted, Piece: 1, Border: drive.BorderOne}},
		{"border", "which selvedge", drive.Handling{Kind: drive.DeedParted, Piece: 1, Depth: 9 * inch}},
		{"depth", "leaves nothing", drive.Handling{Kind: drive.DeedParted, Piece: 1, Border: drive.BorderBoth, Depth: 21 * inch}},
		{"width", "a strip of it is less", drive.Handling{Kind: drive.DeedParted, Piece: 1, Width: 41 * inch}},
		{"length", "cut it at less", drive.Handling{Kind: drive.DeedParted, Piece: 1, Length: 106 * inch}},
		{"length", "was ever booked out", drive.Handling{Kind: drive.DeedPutBack, Piece: 1, Width: 40 * inch, Length: 40 * inch, Reason: "x"}},
		{"width", "more than nothing", drive.Handling{Kind: drive.DeedPutBack, Piece: 1, Length: inch, Reason: "x"}},
		{"kind", "what happened", drive.Handling{Kind: "melted", Piece: 1}},
	} {
		_, err := s.HandleCloth(t.Context(), s.fresh(), lot, 0, tt.h)
		require.Contains(t, apperr.Fields(err)[tt.field], tt.why, "%+v: %v", tt.h, err)
	}
	_, err := s.HandleCloth(t.Context(), s.fresh(), waiting, 0, drive.Handling{Kind: drive.DeedDiscarded, Piece: 1, All: true, Reason: "x"})
	require.True(t, apperr.Is(err, apperr.KindConflict), "not measured: %v", err)
	_, err = s.HandleCloth(t.Context(), s.fresh(), lot, 0, drive.Handling{Kind: drive.DeedDiscarded, Piece: 2, All: true, Reason: "x"})
	require.True(t, apperr.Is(err, apperr.KindNotFound), "no such piece: %v", err)
	_, err = s.UndoCloth(t.Context(), s.fresh(), lot, 1)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "no such deed: %v", err)
	startDriveAs(t, s, "other")
	_, err = s.HandleCloth(t.Context(), s.actIn("other", "foreign"), lot, 0, drive.Handling{Kind: drive.DeedDiscarded, Piece: 1, All: true, Reason: "x"})
	require.True(t, apperr.Is(err, apperr.KindNotFound), "another drive: %v", err)
	history, err := s.LotHistory(t.Context(), "spring", lot)
	require.NoError(t, err)
	require.Empty(t, history.Deeds, "nothing is half booked")
}

// What was found by eye stands before what was booked earlier is undone.
func TestUndoingInOrder(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	lot := bolt(t, s, true)
	given := handle(t, s, lot, drive.Handling{Kind: drive.DeedGivenAway, Piece: 1, Length: 6 * inch, Reason: "swatches"})
	counted := handle(t, s, lot, drive.Handling{Kind: drive.DeedRecounted, Piece: 1, Length: 98 * inch, Reason: "counted"})
	parted := handle(t, s, lot, drive.Handling{Kind: drive.DeedParted, Piece: 1, Length: 36 * inch})
	again := handle(t, s, lot, drive.Handling{Kind: drive.DeedParted, Piece: parted.Pieces[0], Width: 9 * inch})
	_, err := s.UndoCloth(t.Context(), s.fresh(), lot, given.Deed)
	require.ErrorContains(t, err, "Piece 1/1 was parted on 3 Oct 2026, after this")
	_, err = s.UndoCloth(t.Context(), s.fresh(), lot, parted.Deed)
	require.ErrorContains(t, err, "Piece 1/2 was parted on 3 Oct 2026, after this")
	for _, deed := range []int64{again.Deed, parted.Deed, counted.Deed, given.Deed} {
		_, err = s.UndoCloth(t.Context(), s.fresh(), lot, deed)
		require.NoError(t, err)
	}
	require.Equal(t, 106*inch, piece(t, s, lot, 1).FreeLength)
	// More that was counted in and given away since is not there to be taken off.
	counted = handle(t, s, lot, drive.Handling{Kind: drive.DeedRecounted, Piece: 1, Length: 110 * inch, Reason: "counted"})
	handle(t, s, lot, drive.Handling{Kind: drive.DeedGivenAway, Piece: 1, Length: 109 * inch, Reason: "swatches"})
	_, err = s.UndoCloth(t.Context(), s.fresh(), lot, counted.Deed)
	require.ErrorContains(t, err, "only 1 in are free by now")
	agrees(t, s)
}

// Cloth that is promised stays for its sheet, and the sheet is named.
func TestPromisedClothStaysForItsSheet(t *testing.T) {
	s, _, _ := accepted(t)
	list, err := s.Sheets(t.Context(), "spring", SheetsQuery{})
	require.NoError(t, err)
	sheet := list.Sheets[0]
	p := piece(t, s, sheet.Lot, sheet.Piece)
	require.Positive(t, p.Promised)
	for _, h := range []drive.Handling{
		{Kind: drive.DeedParted, Piece: p.Piece, Width: inch},
		{Kind: drive.DeedRecounted, Piece: p.Piece, Length: 1, Reason: "gone"},
		{Kind: drive.DeedRecounted, Piece: p.Piece, Length: inch, Width: inch, Reason: "gone"},
	} {
		_, err := s.HandleCloth(t.Context(), s.fresh(), sheet.Lot, 0, h)
		require.ErrorContains(t, err, "cut sheet 1", "%+v", h)
	}
	stock, err := s.LotStock(t.Context(), "spring", sheet.Lot)
	require.NoError(t, err)
	_, err = s.HandleCloth(t.Context(), s.fresh(), sheet.Lot, stock.Last()-1, drive.Handling{Kind: drive.DeedRecounted, Piece: p.Piece, Length: p.OnShelf() + inch, Reason: "more"})
	require.ErrorContains(t, err, "Somebody else booked cloth of lot")
	done := handle(t, s, sheet.Lot, drive.Handling{Kind: drive.DeedRecounted, Piece: p.Piece, Length: p.OnShelf() + inch, Reason: "more"})
	require.Equal(t, p.FreeLength+inch, piece(t, s, sheet.Lot, p.Piece).FreeLength, "what is promised is counted with the rest")
	_, err = s.UndoCloth(t.Context(), s.fresh(), sheet.Lot, done.Deed)
	require.NoError(t, err)
	agrees(t, s)
}
