package postgres

import (
	"context"
	"math/rand/v2"
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// clothDeedNames are the deeds of the hall that move cloth, each as often as it is named.
var clothDeedNames = []string{
	"tag", "measure", "untag", "undo measuring", "import", "plan", "accept", "accept", "withdraw", "sign out", "put back", "cut", "cut", "not cut", "short", "not short",
	"wash", "part cloth", "part cloth", "put cloth back", "take cloth off", "take cloth off", "recount", "recount", "undo cloth", "undo cloth", "undo cloth", "change plan", "change lot",
	"book slivers", "begin a stocktake", "count a lot", "count a lot", "count a lot", "forget a count", "post a stocktake", "give a stocktake up",
}

// Random ledgers, by one hand and by several at once: for each piece received or
// parted in = free + promised + cut + out + parted off, added up here from the
// entries alone, and the balances kept beside it say the same.
func TestFabricLedgerAddsUp(t *testing.T) {
	share, most := 12, 40
	if long() {
		share, most = 1, 160
	}
	fewerChecks(t, share)
	rapid.Check(t, func(rt *rapid.T) {
		hands := rapid.IntRange(1, 4).Draw(rt, "hands")
		seeds := rapid.SliceOfN(rapid.Uint64(), 10, most).Draw(rt, "seeds")
		added := t.Run("ledger", func(t *testing.T) {
			h := newHall(t)
			for i := range 3 {
				h.wait(t, i)
			}
			inParallel(hands, func(hand int) {
				for i := hand; i < len(seeds); i += hands {
					r := rand.New(rand.NewPCG(seeds[i], uint64(i)))
					name := clothDeedNames[r.IntN(len(clothDeedNames))]
					err := deeds[name](t.Context(), h, r, h.act(h.key()))
					if err != nil && apperr.As(err) == nil {
						t.Errorf("%s: %v", name, err)
					}
					if err == nil {
						h.mu.Lock()
						h.done[name]++
						h.mu.Unlock()
					}
				}
			})
			h.addsUp(t)
			agrees(t, h.testStore)
			h.undoneWhole(t)
			h.addsUp(t)
			agrees(t, h.testStore)
		})
		if !added {
			rt.Fatal("a ledger does not add up")
		}
	})
}

// wait tags a lot and measures it, not washed.
func (h *hall) wait(t testing.TB, i int) {
	t.Helper()
	number := tagged(t, h.testStore, "", 1)
	m := cotton(1+i, length.Length(60+10*i)*inch)
	m.Washed = false
	_, err := h.MeasureLot(t.Context(), h.fresh(), number, 1, m)
	require.NoError(t, err)
}

// addsUp adds every piece up from its entries, in a way of its own.
func (h *hall) addsUp(t testing.TB) {
	t.Helper()
	lots, err := h.Lots(t.Context(), "spring", LotsQuery{State: LotsAll})
	require.NoError(t, err)
	for _, l := range lots.Lots {
		stock, err := h.LotStock(t.Context(), "spring", l.Number)
		require.NoError(t, err)
		accounts := map[int]map[drive.Account]length.Area{}
		free := map[int]length.Length{}
		undone := map[int64]bool{}
		for _, e := range stock.Entries {
			if accounts[e.Piece] == nil {
				accounts[e.Piece] = map[drive.Account]length.Area{}
			}
			accounts[e.Piece][e.From] -= e.Area
			accounts[e.Piece][e.To] += e.Area
			if e.From == drive.Free {
				free[e.Piece] -= e.Length
			}
			if e.To == drive.Free {
				free[e.Piece] += e.Length
			}
			if e.Undoes != nil {
				require.False(t, undone[*e.Undoes], "undone once")
				undone[*e.Undoes] = true
			}
		}
		var given, stands length.Area
		for _, p := range stock.Pieces {
			a := accounts[p.Piece]
			in := -a[drive.Outside] - a[drive.Origin]
			require.Equal(t, in, a[drive.Free]+a[drive.Promised]+a[drive.Cut]+a[drive.Out]+a[drive.Parted],
				"%s: received or parted in = free + promised + cut + out + parted off", p.Name())
			want := drive.Piece{
				Lot: p.Lot, Piece: p.Piece, Kind: p.Kind, Origin: p.Origin, Width: p.Width, FreeLength: free[p.Piece],
				Received: in, Free: a[drive.Free], Promised: a[drive.Promised], Cut: a[drive.Cut], Out: a[drive.Out], Parted: a[drive.Parted],
			}
			require.Equal(t, want, p, "%s: the balance is what the entries say", p.Name())
			require.Equal(t, p.Free, length.Area(p.Width)*length.Area(p.FreeLength), "%s: what is free is a rectangle", p.Name())
			for account, area := range a {
				require.True(t, account == drive.Outside || account == drive.Origin || area >= 0, "%s: %s is below nothing", p.Name(), account)
			}
			given -= a[drive.Outside]
			stands += p.Free + p.Promised + p.Cut + p.Out
		}
		require.Equal(t, given, stands, "lot %d: all that came in is somewhere, once", l.Number)
	}
}

// undoneWhole undoes every deed that may be, newest first, until none is left that
// may: then only deeds stand that something else depends on.
func (h *hall) undoneWhole(t testing.TB) {
	t.Helper()
	lots, err := h.Lots(t.Context(), "spring", LotsQuery{State: LotsAll})
	require.NoError(t, err)
	for _, l := range lots.Lots {
		stock, err := h.LotStock(t.Context(), "spring", l.Number)
		require.NoError(t, err)
		for i := len(stock.Deeds) - 1; i >= 0; i-- {
			deed := stock.Deeds[i]
			if deed.Undone || deed.Kind == drive.DeedUndone {
				continue
			}
			_, err := h.UndoCloth(t.Context(), h.act(h.key()), l.Number, deed.Number)
			if err != nil {
				require.True(t, apperr.Is(err, apperr.KindConflict), "%s of lot %d: %v", deed.Kind, l.Number, err)
			}
		}
	}
}

// somePiece picks a lot with free cloth and one of its pieces.
func (h *hall) somePiece(ctx context.Context, r *rand.Rand) (drive.Stock, drive.Piece, error) {
	l, err := h.lot(ctx, r, LotsHere)
	if err != nil {
		return drive.Stock{}, drive.Piece{}, err
	}
	stock, err := h.LotStock(ctx, "spring", l.Number)
	if err != nil {
		return stock, drive.Piece{}, err
	}
	p, err := pick(r, stock.Pieces)
	return stock, p, err
}

// someLength is up to a little more than there is.
func someLength(r *rand.Rand, of length.Length) length.Length {
	return length.Length(1 + r.Int64N(int64(of)+int64(inch)))
}

// onCloth makes a deed of what somebody does to a piece by chance, now and then from
// a page that was opened earlier.
func onCloth(make func(r *rand.Rand, p drive.Piece) drive.Handling) deed {
	return func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		stock, p, err := h.somePiece(ctx, r)
		if err != nil {
			return err
		}
		seen := int64(0)
		if r.IntN(2) == 0 {
			seen = stock.Last()
		}
		handling := make(r, p)
		handling.Piece = p.Piece
		_, err = h.HandleCloth(ctx, act, stock.Lot.Number, seen, handling)
		return err
	}
}

func washLot(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	stock, _, err := h.somePiece(ctx, r)
	if err != nil {
		return err
	}
	wash := drive.Handling{Kind: drive.DeedWashed}
	for _, p := range stock.Pieces {
		if p.FreeLength > 0 {
			s := drive.WashedSize{Piece: p.Piece, Width: p.Width, Length: p.FreeLength - length.Length(r.Int64N(int64(p.FreeLength)/20+1))}
			if r.IntN(2) == 0 {
				s.Width -= length.Length(r.Int64N(int64(p.Width)/20 + 1))
			}
			wash.Sizes = append(wash.Sizes, s)
		}
	}
	_, err = h.HandleCloth(ctx, act, stock.Lot.Number, 0, wash)
	return err
}

func takeClothOff(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	return onCloth(func(r *rand.Rand, p drive.Piece) drive.Handling {
		kind := []drive.DeedKind{drive.DeedGivenAway, drive.DeedDiscarded, drive.DeedSquared}[r.IntN(3)]
		return drive.Handling{Kind: kind, Length: someLength(r, p.FreeLength/3), All: r.IntN(6) == 0, Reason: "the guild"}
	})(ctx, h, r, act)
}

func recountPiece(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	return onCloth(func(r *rand.Rand, p drive.Piece) drive.Handling {
		h := drive.Handling{Kind: drive.DeedRecounted, Length: someLength(r, p.OnShelf()+3*inch), Reason: "counted"}
		if r.IntN(3) == 0 {
			h.Width = p.Width + length.Length(r.Int64N(int64(4*inch))) - 2*inch
		}
		return h
	})(ctx, h, r, act)
}

func partCloth(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	return onCloth(func(r *rand.Rand, p drive.Piece) drive.Handling {
		h := drive.Handling{Kind: drive.DeedParted}
		switch r.IntN(4) {
		case 0:
			for range 1 + r.IntN(2) {
				from := someLength(r, p.FreeLength) - 1
				f := sizing.Flaw{From: from, To: from + length.Length(1+r.IntN(6))*inch}
				if r.IntN(2) == 0 {
					f.Reach, f.Far = length.Length(1+r.IntN(20))*inch, r.IntN(2) == 0
				}
				h.Flaws = append(h.Flaws, f)
			}
		case 1:
			h.Border, h.Depth = []string{drive.BorderOne, drive.BorderBoth}[r.IntN(2)], someLength(r, p.Width/2)
		case 2:
			h.Width = someLength(r, p.Width)
		default:
			h.Length = someLength(r, p.FreeLength)
		}
		return h
	})(ctx, h, r, act)
}

func putClothBack(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	return onCloth(func(r *rand.Rand, _ drive.Piece) drive.Handling {
		return drive.Handling{Kind: drive.DeedPutBack, Width: length.Length(1+r.IntN(12)) * inch, Length: length.Length(1+r.IntN(30)) * inch, Reason: "kept"}
	})(ctx, h, r, act)
}

func undoCloth(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	stock, _, err := h.somePiece(ctx, r)
	if err != nil {
		return err
	}
	done, err := pick(r, stock.Deeds)
	if err != nil {
		return err
	}
	_, err = h.UndoCloth(ctx, act, stock.Lot.Number, done.Number)
	return err
}
