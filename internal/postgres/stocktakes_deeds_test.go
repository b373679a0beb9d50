package postgres

import (
	"context"
	"math/rand/v2"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// What people do along the shelves, by chance, as deeds of the hall.

func beginStocktake(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	_, err := h.BeginStocktake(ctx, act, []string{"", "", "3"}[r.IntN(3)])
	return err
}

// openTake gives the stocktake that is open, with all that was counted.
func (h *hall) openTake(ctx context.Context) (StocktakePage, error) {
	list, err := h.Stocktakes(ctx, "spring")
	if err != nil {
		return StocktakePage{}, err
	}
	for _, s := range list {
		if s.State == drive.StocktakeOpen {
			return h.Stocktake(ctx, "spring", s.Number, 100)
		}
	}
	return StocktakePage{}, errNothing
}

// countALot finds what is booked, less, or more; now and then a lot that was counted
// before, from a page that knows of that count or not.
func countALot(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	take, err := h.openTake(ctx)
	if err != nil {
		return err
	}
	stock, _, err := h.somePiece(ctx, r)
	if err != nil {
		return err
	}
	version := 0
	for _, c := range take.Counted {
		if c.Lot == stock.Lot.Number && r.IntN(3) > 0 {
			version = c.Version
		}
	}
	counted := map[int]length.Length{}
	for _, p := range stock.Pieces {
		if r.IntN(2) == 0 {
			counted[p.Piece] = someLength(r, p.OnShelf()+3*inch)
		}
	}
	_, err = h.CountLot(ctx, act, take.Number, stock.Lot.Number, version, counted, false)
	return err
}

func forgetACount(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	take, err := h.openTake(ctx)
	if err != nil {
		return err
	}
	c, err := pick(r, take.Counted)
	if err != nil {
		return err
	}
	_, err = h.ForgetCount(ctx, act, take.Number, c.Lot)
	return err
}

func postStocktake(ctx context.Context, h *hall, _ *rand.Rand, act drive.Act) error {
	take, err := h.openTake(ctx)
	if err != nil {
		return err
	}
	_, err = h.PostStocktake(ctx, act, take.Number, "counted")
	return err
}

func giveStocktakeUp(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	take, err := h.openTake(ctx)
	if err != nil {
		return err
	}
	if r.IntN(3) > 0 { // seldom: what is posted is what matters
		return errNothing
	}
	_, err = h.DropStocktake(ctx, act, take.Number)
	return err
}
