package postgres

import (
	"sync/atomic"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
)

func begin(t testing.TB, s *testStore, shelf string) int64 {
	t.Helper()
	take, err := s.BeginStocktake(t.Context(), s.fresh(), shelf)
	require.NoError(t, err)
	return take
}

func count(t testing.TB, s *testStore, take, lot int64, version int, counted map[int]length.Length) LotCounted {
	t.Helper()
	done, err := s.CountLot(t.Context(), s.fresh(), take, lot, version, counted, false)
	require.NoError(t, err)
	return done
}

func TestStocktakeIsPostedWithAReason(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	as, less, more, gone := bolt(t, s, true), bolt(t, s, true), bolt(t, s, true), bolt(t, s, true)
	waiting := tagged(t, s, "", 2)
	used := bolt(t, s, true)
	handle(t, s, used, drive.Handling{Kind: drive.DeedGivenAway, Piece: 1, All: true, Reason: "the guild"})
	take := begin(t, s, "")
	_, err := s.BeginStocktake(t.Context(), s.fresh(), "")
	require.ErrorContains(t, err, "open already")
	_, err = s.PostStocktake(t.Context(), s.fresh(), take, "counted")
	require.ErrorContains(t, err, "Nothing was counted")
	page, err := s.Stocktake(t.Context(), "spring", take, 100)
	require.NoError(t, err)
	require.Equal(t, 5, page.ToCount, "what is used up is not looked for")
	require.Len(t, page.Missing, 5)

	require.False(t, count(t, s, take, as, 0, nil).Differs)
	require.True(t, count(t, s, take, less, 0, map[int]length.Length{1: 100 * inch}).Differs)
	require.True(t, count(t, s, take, more, 0, map[int]length.Length{1: 108 * inch}).Differs)
	require.False(t, count(t, s, take, waiting, 0, nil).Differs)
	s.clock.forward(26 * time.Hour) // gone on with the next day
	page, err = s.Stocktake(t.Context(), "spring", take, 100)
	require.NoError(t, err)
	require.Equal(t, 4, page.Lots)
	require.Equal(t, 2, page.Differ)
	require.Len(t, page.Missing, 1)
	require.Equal(t, gone, page.Missing[0].Number)
	require.Len(t, page.Counted, 4)

	// What moves between the count and the posting moves on from the count.
	handle(t, s, less, drive.Handling{Kind: drive.DeedGivenAway, Piece: 1, Length: 10 * inch, Reason: "the guild"})
	_, err = s.PostStocktake(t.Context(), s.fresh(), take, " ")
	require.Contains(t, apperr.Fields(err), "reason")
	_, err = s.PostStocktake(t.Context(), s.fresh(), take, "counted")
	require.ErrorContains(t, err, "Piece 2/1 was booked by hand after it was counted (given away). Count it again.")
	require.Equal(t, 96*inch, piece(t, s, less, 1).FreeLength, "nothing is half posted")
	kept, err := s.LotCount(t.Context(), "spring", take, less)
	require.NoError(t, err)
	count(t, s, take, less, kept.Version, map[int]length.Length{1: 90 * inch})
	count(t, s, take, gone, 0, map[int]length.Length{1: 0})
	posted, err := s.PostStocktake(t.Context(), s.fresh(), take, "counted")
	require.NoError(t, err)
	require.Equal(t, 5, posted.Lots)
	require.Len(t, posted.Deeds, 3)
	require.Equal(t, 106*inch, piece(t, s, as, 1).FreeLength)
	require.Equal(t, 90*inch, piece(t, s, less, 1).FreeLength)
	require.Equal(t, 108*inch, piece(t, s, more, 1).FreeLength)
	require.Zero(t, piece(t, s, gone, 1).FreeLength)
	history, err := s.LotHistory(t.Context(), "spring", gone)
	require.NoError(t, err)
	require.Equal(t, "stocktake 1: counted", history.Deeds[0].Reason)
	agrees(t, s)

	for _, refused := range []error{
		func() error { _, err := s.PostStocktake(t.Context(), s.fresh(), take, "again"); return err }(),
		func() error { _, err := s.CountLot(t.Context(), s.fresh(), take, as, 1, nil, false); return err }(),
		func() error { _, err := s.ForgetCount(t.Context(), s.fresh(), take, as); return err }(),
		func() error { _, err := s.DropStocktake(t.Context(), s.fresh(), take); return err }(),
	} {
		require.ErrorContains(t, refused, "posted already")
	}
	_, err = s.UndoCloth(t.Context(), s.fresh(), gone, posted.Deeds[2])
	require.NoError(t, err)
	require.Equal(t, 106*inch, piece(t, s, gone, 1).FreeLength, "each difference is undone by itself")
	list, err := s.Stocktakes(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, drive.StocktakePosted, list[0].State)
}

// A lot that was used up since its label was scanned is seen all the same: nothing is on the
// shelf, as booked.
func TestALotThatIsUsedUpIsCounted(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	used := bolt(t, s, true)
	handle(t, s, used, drive.Handling{Kind: drive.DeedGivenAway, Piece: 1, All: true, Reason: "the guild"})
	take := begin(t, s, "")
	require.False(t, count(t, s, take, used, 0, nil).Differs)
	page, err := s.Stocktake(t.Context(), "spring", take, 100)
	require.NoError(t, err)
	require.Equal(t, []int{1, 0}, []int{page.Lots, page.Differ})
	_, err = s.PostStocktake(t.Context(), s.fresh(), take, "counted")
	require.NoError(t, err)
	agrees(t, s)
}

// A lot that is looked for is told as in the list of lots: both sides are of its largest piece.
func TestALotLookedForHasTheSidesOfOnePiece(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	lot := bolt(t, s, true)
	_, err := s.db.Owner().Exec(t.Context(), `INSERT INTO pieces (drive_id, lot, piece, kind, width) SELECT drive_id, lot, 2, kind, width + 1600 FROM pieces WHERE lot = $1`, lot)
	require.NoError(t, err)
	_, err = s.db.Owner().Exec(t.Context(), `INSERT INTO fabric_entries (drive_id, lot, piece, kind, from_account, to_account, length, area, at, who)
		SELECT drive_id, lot, 2, 'measured', 'outside', 'free', 1600, 1600 * width, now(), 1 FROM pieces WHERE lot = $1 AND piece = 2`, lot)
	require.NoError(t, err)
	page, err := s.Stocktake(t.Context(), "spring", begin(t, s, ""), 10)
	require.NoError(t, err)
	list, err := s.Lots(t.Context(), "spring", LotsQuery{})
	require.NoError(t, err)
	require.Equal(t, list.Lots, page.Missing)
}

func TestStocktakeOfOneShelfAndRefusals(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	here, there := bolt(t, s, true), bolt(t, s, true)
	_, err := s.ChangeLot(t.Context(), s.fresh(), here, 2, drive.LotChange{Shelf: "B2", Fibre: "cotton", Weight: "quilting", Print: drive.PrintFeature, Turn: drive.TurnEither})
	require.NoError(t, err)
	take := begin(t, s, "b2")
	page, err := s.Stocktake(t.Context(), "spring", take, 10)
	require.NoError(t, err)
	require.Len(t, page.Missing, 1)
	count(t, s, take, there, 0, nil) // from another shelf: counted all the same
	for field, counted := range map[string]map[int]length.Length{"length1": {1: -inch}} {
		_, err := s.CountLot(t.Context(), s.fresh(), take, here, 0, counted, false)
		require.Contains(t, apperr.Fields(err), field)
	}
	_, err = s.CountLot(t.Context(), s.fresh(), take, here, 0, map[int]length.Length{7: inch}, false)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
	_, err = s.CountLot(t.Context(), s.fresh(), take, 99, 0, nil, false)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
	_, err = s.CountLot(t.Context(), s.fresh(), 9, here, 0, nil, false)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
	_, err = s.ForgetCount(t.Context(), s.fresh(), take, here)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
	_, err = s.DropStocktake(t.Context(), s.fresh(), take)
	require.NoError(t, err)
	_, err = s.CountLot(t.Context(), s.fresh(), take, here, 0, nil, false)
	require.ErrorContains(t, err, "given up")
	require.Equal(t, int64(2), begin(t, s, ""))
}

// A measuring that was taken back after the count leaves nothing that its difference
// could be booked to.
func TestStocktakeOfALotMeasuredAnew(t *testing.T) {
	for name, undo := range map[string]func(s *testStore, lot int64){
		"undone": func(s *testStore, lot int64) { require.NoError(t, refusal(s.UndoMeasure(t.Context(), s.fresh(), lot))) },
		"instead": func(s *testStore, lot int64) {
			require.NoError(t, refusal(s.MeasureInstead(t.Context(), s.fresh(), lot, 2, cotton(1, 90*inch))))
		},
	} {
		t.Run(name, func(t *testing.T) {
			s := newStore(t)
			startDrive(t, s)
			lot, take := bolt(t, s, true), begin(t, s, "")
			long := piece(t, s, lot, 1).OnShelf()
			require.True(t, count(t, s, take, lot, 0, map[int]length.Length{1: long + 9*inch}).Differs)
			undo(s, lot)
			_, err := s.PostStocktake(t.Context(), s.fresh(), take, "counted")
			require.ErrorContains(t, err, "Count it again")
			require.Zero(t, piece(t, s, lot, 1).Free)
			count(t, s, take, lot, 1, nil)
			_, err = s.PostStocktake(t.Context(), s.fresh(), take, "counted")
			require.NoError(t, err)
			agrees(t, s)
		})
	}
}

// Two people count at once: one lot is counted once, and who comes second is told.
func TestTwoCountAtOnce(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	var lots []int64
	for range 8 {
		lots = append(lots, bolt(t, s, true))
	}
	take := begin(t, s, "")
	var counted, told atomic.Int64
	acts := [][]drive.Act{nil, nil}
	for range lots {
		acts[0], acts[1] = append(acts[0], s.fresh()), append(acts[1], s.fresh())
	}
	inParallel(2, func(hand int) {
		for i, lot := range lots {
			_, err := s.CountLot(t.Context(), acts[hand][i], take, lot, 0, map[int]length.Length{1: length.Length(100+hand) * inch}, false)
			switch {
			case err == nil:
				counted.Add(1)
			case apperr.Is(err, apperr.KindConflict):
				told.Add(1)
			default:
				t.Errorf("lot %d: %v", lot, err)
			}
		}
	})
	require.EqualValues(t, len(lots), counted.Load())
	require.EqualValues(t, len(lots), told.Load())
	post := []drive.Act{s.fresh(), s.fresh()}
	var posted atomic.Int64
	inParallel(2, func(i int) {
		if _, err := s.PostStocktake(t.Context(), post[i], take, "counted"); err == nil {
			posted.Add(1)
		}
	})
	require.EqualValues(t, 1, posted.Load())
	for _, lot := range lots {
		require.Contains(t, []length.Length{100 * inch, 101 * inch}, piece(t, s, lot, 1).FreeLength)
	}
	agrees(t, s)
}

// Cloth that is promised is counted with the rest, and stays for its sheet.
func TestStocktakeLeavesPromisedCloth(t *testing.T) {
	s, _, _ := accepted(t)
	list, err := s.Sheets(t.Context(), "spring", SheetsQuery{})
	require.NoError(t, err)
	sheet := list.Sheets[0]
	p := piece(t, s, sheet.Lot, sheet.Piece)
	take := begin(t, s, "")
	_, err = s.CountLot(t.Context(), s.fresh(), take, sheet.Lot, 0, map[int]length.Length{p.Piece: inch}, false)
	require.Contains(t, apperr.Fields(err)["length1"], "is promised to cut sheet 1")
	count(t, s, take, sheet.Lot, 0, map[int]length.Length{p.Piece: p.OnShelf() + 2*inch})
	_, err = s.MarkSheetCut(t.Context(), s.fresh(), sheet.Number)
	require.NoError(t, err, "cutting goes on while shelves are counted")
	_, err = s.PostStocktake(t.Context(), s.fresh(), take, "counted")
	require.NoError(t, err)
	require.Equal(t, p.FreeLength+2*inch, piece(t, s, sheet.Lot, p.Piece).FreeLength)
	agrees(t, s)
}

func TestSupplies(t *testing.T) {
	s, _, _ := accepted(t)
	thread := drive.Supply{Name: " white  thread ", Unit: "spools", Have: 10, Used: 1, PerKits: 4}
	first := s.fresh()
	number, err := s.SaveSupply(t.Context(), first, thread)
	require.NoError(t, err)
	first.At = first.At.Add(time.Second)
	again, err := s.SaveSupply(t.Context(), first, thread)
	require.NoError(t, err, "the same form sent once more, a moment later")
	require.Equal(t, number, again)
	_, err = s.SaveSupply(t.Context(), s.fresh(), drive.Supply{Name: "White thread", PerKits: 1})
	require.Contains(t, apperr.Fields(err), "name")
	have, err := s.MoveSupply(t.Context(), s.fresh(), number, -9)
	require.NoError(t, err)
	require.Equal(t, 1, have)
	_, err = s.MoveSupply(t.Context(), s.fresh(), number, -2)
	require.Contains(t, apperr.Fields(err)["n"], "Only 1 are booked")
	list, coming, err := s.Supplies(t.Context(), "spring")
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Positive(t, coming)
	require.Equal(t, "white thread", list[0].Name)
	kits, _ := list[0].EnoughFor()
	require.Equal(t, 4, kits)
	stale := list[0]
	stale.Version--
	_, err = s.SaveSupply(t.Context(), s.fresh(), stale)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
	changed := list[0]
	changed.Have = 50
	_, err = s.SaveSupply(t.Context(), s.fresh(), changed)
	require.NoError(t, err)
	_, err = s.RetireSupply(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	list, _, err = s.Supplies(t.Context(), "spring")
	require.NoError(t, err)
	require.Empty(t, list)
	_, err = s.SaveSupply(t.Context(), s.fresh(), drive.Supply{Name: "White thread", PerKits: 1})
	require.NoError(t, err, "the name is free again")
}
