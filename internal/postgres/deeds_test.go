package postgres

import (
	"context"
	"fmt"
	"math/rand/v2"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// deeds is what people do in a hall, by name.
var deeds = map[string]deed{
	"tag": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		lots := []drive.Tagging{{Donor: fmt.Sprintf("Donor %d", r.IntN(6)), Pieces: 1, ReceivedOn: h.day(r)}}
		_, err := h.TagLots(ctx, act, lots)
		return err
	},
	"measure": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		l, err := h.lot(ctx, r, LotsWaiting)
		if err != nil {
			return err
		}
		_, err = h.MeasureLot(ctx, act, l.Number, l.Version, newSize(r))
		return err
	},
	"undo measuring": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		l, err := h.lot(ctx, r, LotsFree)
		if err != nil {
			return err
		}
		_, err = h.UndoMeasure(ctx, act, l.Number)
		return err
	},
	"change lot": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		l, err := h.lot(ctx, r, LotsHere)
		if err != nil {
			return err
		}
		_, err = h.ChangeLot(ctx, act, l.Number, l.Version, drive.LotChange{
			Donor: fmt.Sprintf("Donor %d", r.IntN(9)), Shelf: fmt.Sprint(r.IntN(9)),
			Fibre: l.Fibre, Weight: l.Weight, Print: l.Print, Turn: l.Turn, Colours: l.Colours,
		})
		return err
	},
	"untag": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		l, err := h.lot(ctx, r, LotsWaiting)
		if err != nil {
			return err
		}
		_, err = h.UntagLot(ctx, act, l.Number)
		return err
	},
	"book slivers": func(ctx context.Context, h *hall, _ *rand.Rand, act drive.Act) error {
		_, err := h.BookSlivers(ctx, act)
		return err
	},
	"set aside": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		l, err := h.lot(ctx, r, LotsFree)
		if err != nil {
			return err
		}
		_, err = h.SetAside(ctx, act, l.Number, "smells")
		return err
	},
	"set aside no longer": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		l, err := h.lot(ctx, r, LotsAside)
		if err != nil {
			return err
		}
		_, err = h.TakeBackAside(ctx, act, l.Number)
		return err
	},
	"print labels": func(ctx context.Context, h *hall, _ *rand.Rand, act drive.Act) error {
		_, err := h.PrintLabels(ctx, act, drive.LabelWish{Which: drive.LabelsMissing, Start: 1, Paper: aLabelPaper(1)})
		return err
	},
	"wash": washLot, "part cloth": partCloth, "put cloth back": putClothBack, "take cloth off": takeClothOff, "recount": recountPiece, "undo cloth": undoCloth,
	"begin a stocktake": beginStocktake, "count a lot": countALot, "forget a count": forgetACount, "post a stocktake": postStocktake, "give a stocktake up": giveStocktakeUp,
	"import": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		n := r.IntN(20)
		rows := []drive.Incoming[drive.LotIn]{cut(2, fmt.Sprintf("X%d", n), "Donor 1", 70*inch), cut(3, fmt.Sprintf("X%d", n+1), "Donor 2", 80*inch)}
		_, err := h.ImportFabric(ctx, act, rows, true)
		return err
	},
	"plan":   func(ctx context.Context, h *hall, _ *rand.Rand, act drive.Act) error { return h.makeOne(ctx, act) },
	"accept": acceptOne, "accept again": acceptOne,
	"drop": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		if r.IntN(3) > 0 {
			return errNothing
		}
		n, err := h.plan(ctx, r, drive.PlanReady)
		if err != nil {
			return err
		}
		_, err = h.DropPlan(ctx, act, n)
		return err
	},
	"withdraw": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		n, err := h.plan(ctx, r, drive.PlanAccepted)
		if err != nil {
			return err
		}
		_, err = h.WithdrawPlan(ctx, act, n)
		return err
	},
	"change plan": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		n, err := h.plan(ctx, r, drive.PlanAccepted)
		if err != nil {
			return err
		}
		number, err := h.RequestChange(ctx, act, n, false)
		if err != nil {
			return err
		}
		return h.workChange(ctx, number, 5)
	},
	"short": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		n, err := h.sheet(ctx, r, drive.SheetWaiting)
		if err != nil || r.IntN(2) == 0 {
			return err
		}
		_, err = h.SheetFound(ctx, act, n, goodOnly(length.Length(r.IntN(60))*inch))
		return err
	},
	"not short": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		n, err := h.sheet(ctx, r, drive.SheetShort)
		if err != nil {
			return err
		}
		_, err = h.UndoSheetShort(ctx, act, n)
		return err
	},
	"sign out": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		n, err := h.sheet(ctx, r, drive.SheetWaiting)
		if err != nil {
			return err
		}
		_, err = h.SignOutSheet(ctx, act, n, "Rosa")
		return err
	},
	"put back": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		n, err := h.sheet(ctx, r, drive.SheetOnTable)
		if err != nil || r.IntN(2) == 0 {
			return err
		}
		_, err = h.PutBackSheet(ctx, act, n)
		return err
	},
	"cut":       cutSheet,
	"cut again": cutSheet,
	"not cut": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		n, err := h.sheet(ctx, r, drive.SheetCut)
		if err != nil {
			return err
		}
		_, err = h.UndoSheetCut(ctx, act, n)
		return err
	},
	"own fabric": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		o := drive.OwnFabric{Kits: 1 + r.IntN(2), Cases: 1 + r.IntN(4), Size: 1}
		if r.IntN(2) == 0 {
			o.Asked = &h.lines[0].Number
		}
		if r.IntN(2) == 0 {
			o.Person = &h.people[r.IntN(len(h.people))]
		}
		_, err := h.MakeOwnFabricKits(ctx, act, o)
		return err
	},
	"ready": onKit(KitsInHouse, func(ctx context.Context, h *hall, _ *rand.Rand, act drive.Act, k drive.KitRef) error {
		_, err := h.MarkKitReady(ctx, act, []drive.KitRef{k})
		return err
	}),
	"not ready after all": onKit(KitsInHouse, func(ctx context.Context, h *hall, _ *rand.Rand, act drive.Act, k drive.KitRef) error {
		_, err := h.UndoKitReady(ctx, act, []drive.KitRef{k})
		return err
	}),
	"hand out": handOut, "hand out more": handOut,
	"undo hand-out": onKit(KitsOut, func(ctx context.Context, h *hall, _ *rand.Rand, act drive.Act, k drive.KitRef) error {
		_, err := h.UndoHandOut(ctx, act, []drive.KitRef{k})
		return err
	}),
	"give again": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		k, err := h.kit(ctx, r, []KitsWhere{KitsOut, KitsLost}[r.IntN(2)])
		if err != nil {
			return err
		}
		_, err = h.GiveAgain(ctx, act, k, drive.HandOut{Person: h.people[r.IntN(len(h.people))], Day: h.day(r)})
		return err
	},
	"extend": onKit(KitsOut, func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act, k drive.KitRef) error {
		due := h.day(r).AddDate(0, 0, 20)
		_, err := h.ExtendDue(ctx, act, []drive.KitRef{k}, &due)
		return err
	}),
	"take back": takeBack, "take back more": takeBack,
	"undo taking back": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		k, err := h.kit(ctx, r, []KitsWhere{KitsBack, KitsBack, KitsInHouse}[r.IntN(3)])
		if err != nil {
			return err
		}
		_, err = h.UndoTakeBack(ctx, act, k)
		return err
	},
	"split": onKit(KitsOut, func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act, k drive.KitRef) error {
		_, err := h.SplitKit(ctx, act, k, 1+r.IntN(2), int64(1+r.IntN(3)), nil)
		return err
	}),
	"lost": onKit(KitsOut, func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act, k drive.KitRef) error {
		if r.IntN(3) > 0 {
			return errNothing
		}
		_, err := h.KitLost(ctx, act, k, "on the bus", h.day(r))
		return err
	}),
	"found": onKit(KitsLost, func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act, k drive.KitRef) error {
		_, err := h.KitFound(ctx, act, k, r.IntN(4), max(0, r.IntN(5)-2), h.day(r))
		return err
	}),
	"take apart": onKit(KitsInHouse, func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act, k drive.KitRef) error {
		if r.IntN(4) > 0 {
			return errNothing
		}
		_, err := h.TakeKitApart(ctx, act, k, "faded", r.IntN(4) > 0)
		return err
	}),
	"make of loose panels": makeOfLoose, "make more of loose panels": makeOfLoose, "loose panels gone": looseGone, "loose panels back": looseBack, "count loose panels": countLoose,
	"cut once more": cutSheet, "hand out still more": handOut, "pack still more": pack, "check still more": check,
	"bring in": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		b := drive.BroughtIn{Size: 1, N: 1 + r.IntN(4)}
		if r.IntN(2) == 0 {
			b.Asked = h.lines[2*r.IntN(2)].Number
		}
		_, err := h.BringIn(ctx, act, b)
		return err
	},
	"check": check, "check more": check,
	"mended here": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		l, err := h.stack(ctx, r, drive.CaseToMend)
		if err != nil {
			return err
		}
		_, err = h.MendedHere(ctx, act, l.Stack, 1+r.IntN(l.N))
		return err
	},
	"send to mend": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		l, err := h.stack(ctx, r, drive.CaseToMend)
		if err != nil {
			return err
		}
		_, err = h.SendToMend(ctx, act, Mending{At: l.Stack, N: 1 + r.IntN(l.N), Person: h.people[r.IntN(len(h.people))]})
		return err
	},
	"promise": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		l, err := h.stack(ctx, r, drive.CaseSewn, drive.CaseGood, drive.CaseToMend)
		if err != nil {
			return err
		}
		_, err = h.Promise(ctx, act, l.Stack, 1+r.IntN(l.N), h.lines[2*r.IntN(2)].Number)
		return err
	},
	"undo a step": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		steps, err := h.CasesLately(ctx, "spring", 12)
		if err != nil {
			return err
		}
		step, err := pick(r, steps)
		if err != nil {
			return err
		}
		_, err = h.UndoCases(ctx, act, 0, step.ID)
		return err
	},
	"pack": pack, "pack more": pack, "launder": launder, "launder more": launder, "laundry done": laundryDone, "laundry done again": laundryDone,
	"undo laundry": undoLaundry,
	"unpack": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		boxes, err := h.BoxesWaiting(ctx, "spring")
		if err != nil {
			return err
		}
		box, err := pick(r, boxes)
		if err != nil || r.IntN(2) == 0 {
			return err
		}
		_, err = h.UnpackBox(ctx, act, box.Number)
		return err
	},
	"deliver": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		list, err := h.Deliveries(ctx, "spring", DeliveriesQuery{})
		if err != nil {
			return err
		}
		if d, err := pick(r, list); err == nil {
			switch d.State() {
			case drive.DeliveryMade:
				_, err = h.SendDelivery(ctx, act, d.Number, h.day(r), "the porter")
				return err
			case drive.DeliveryOnWay:
				if r.IntN(4) == 0 {
					_, err = h.UndoDelivery(ctx, act, d.Number)
					return err
				}
			}
		}
		boxes, err := h.BoxesWaiting(ctx, "spring")
		if err != nil {
			return err
		}
		box, err := pick(r, boxes)
		if err != nil {
			return err
		}
		sent := Sending{Recipient: box.Recipient, Boxes: []int64{box.Number}}
		if on := h.day(r); r.IntN(3) > 0 {
			sent.SentOn = &on
		}
		_, err = h.MakeDelivery(ctx, act, sent)
		return err
	},
	"confirm": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		d, err := h.delivery(ctx, r)
		if err != nil {
			return err
		}
		c := drive.Confirmation{By: "Sister Hale", How: drive.ByPhone, On: h.day(r)}
		for _, b := range d.Boxes {
			for _, l := range b.Lines {
				c.Arrived = append(c.Arrived, drive.Arrived{Box: b.Number, Size: l.Size, N: r.IntN(l.N + 3)})
			}
		}
		_, err = h.ConfirmDelivery(ctx, act, d.Number, c)
		return err
	},
	"settle": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		list, err := h.Deliveries(ctx, "spring", DeliveriesQuery{State: drive.DeliveryDiffers})
		if err != nil {
			return err
		}
		d, err := pick(r, list)
		if err != nil {
			return err
		}
		differs, err := pick(r, d.Differences())
		if err != nil {
			return err
		}
		ways := drive.SettleWays()
		_, err = h.SettleDelivery(ctx, act, d.Number, drive.Settlement{
			Box: differs.Box, Size: differs.Size, Way: ways[r.IntN(len(ways))], N: 1 + r.IntN(2), Reason: "nobody knows",
		})
		return err
	},
	"ask for more": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		a, err := h.Asked(ctx, "spring", h.lines[r.IntN(len(h.lines))].Number)
		if err != nil {
			return err
		}
		a.Wanted += r.IntN(9) - 4
		_, err = h.UpdateAsked(ctx, act, a)
		return err
	},
	"close or open": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		number, set := h.lines[r.IntN(len(h.lines))].Number, h.ReopenAsked
		if r.IntN(5) == 0 {
			set = h.CloseAsked
		}
		_, err := set(ctx, act, number)
		return err
	},
	// Locks whom kits go to as forgetting them does.
	"change a person": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		p, err := h.Person(ctx, "spring", h.people[r.IntN(len(h.people))])
		if err != nil {
			return err
		}
		p.Heads = 1 + r.IntN(4)
		_, err = h.UpdatePerson(ctx, act, p, nil)
		return err
	},
	"rename size": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		z, err := h.Size(ctx, "spring", 1)
		if err != nil {
			return err
		}
		z.Name = fmt.Sprintf("standard %d", r.IntN(9))
		_, err = h.UpdateSize(ctx, act, z)
		return err
	},
}
