package postgres

import (
	"context"
	"math/rand/v2"

	"boltward/internal/drive"
)

// onKit is a deed to one of the kits that are somewhere.
func onKit(where KitsWhere, do func(context.Context, *hall, *rand.Rand, drive.Act, drive.KitRef) error) deed {
	return func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		k, err := h.kit(ctx, r, where)
		if err != nil {
			return err
		}
		return do(ctx, h, r, act, k)
	}
}

func acceptOne(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	n, err := h.plan(ctx, r, drive.PlanReady)
	if err != nil {
		return err
	}
	_, err = h.AcceptPlan(ctx, act, n)
	return err
}

func cutSheet(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	n, err := h.sheet(ctx, r, "")
	if err != nil {
		return err
	}
	_, err = h.MarkSheetCut(ctx, act, n)
	return err
}

func handOut(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	o := drive.HandOut{Person: h.people[r.IntN(len(h.people))], Day: h.day(r)}
	for range 1 + r.IntN(3) {
		k, err := h.kit(ctx, r, KitsInHouse)
		if err != nil {
			return err
		}
		o.Kits = append(o.Kits, k)
	}
	_, err := h.HandOut(ctx, act, o)
	return err
}

func takeBack(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	k, err := h.kit(ctx, r, KitsOut)
	if err != nil {
		return err
	}
	_, err = h.TakeBack(ctx, act, k, drive.KitReturn{Sewn: r.IntN(5), RestUnsewn: r.IntN(4) == 0}, h.day(r))
	return err
}

func check(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	l, err := h.stack(ctx, r, drive.CaseSewn)
	if err != nil {
		return err
	}
	c := drive.Checked{Pins: true, Note: "seam"}
	c.Failed = []drive.Failed{{To: drive.CaseToMend}, {To: drive.CaseNotUsable}}
	mend, not := &c.Failed[0].N, &c.Failed[1].N
	for range 1 + r.IntN(l.N) {
		*[]*int{&c.Good, &c.Good, mend, mend, not}[r.IntN(5)]++
	}
	_, err = h.CheckCases(ctx, act, l.Stack, c)
	return err
}

func pack(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	p := PackedBox{Recipient: h.lines[2*r.IntN(2)].Recipient, PackedBy: "AB", CheckedBy: "CD"}
	for _, i := range r.Perm(len(h.lines)) {
		if a := h.lines[i]; a.Recipient == p.Recipient {
			p.Cases = append(p.Cases, drive.Pack{Asked: a.Number, Size: a.Sizes[0], N: r.IntN(4)})
		}
	}
	_, err := h.PackBox(ctx, act, p)
	return err
}

// launder puts some of everything that lies here into the wash.
func launder(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	here, err := h.Washables(ctx, "spring")
	if err != nil {
		return err
	}
	w := Washing{By: "EN", Day: h.day(r)}
	for _, l := range here {
		if l.Free() > 0 && r.IntN(2) == 0 {
			w.Lines = append(w.Lines, drive.LaundryLine{Asked: l.Asked, Size: l.Size, Kit: l.Kit, Part: l.Part, N: 1 + r.IntN(l.Free())})
		}
	}
	_, err = h.StartBatch(ctx, act, w)
	return err
}

func laundryDone(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	return onBatch(ctx, h, r, func(b drive.Batch) error { _, err := h.FinishBatch(ctx, act, b.Number, "EN", b.StartedOn); return err })
}

func undoLaundry(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	return onBatch(ctx, h, r, func(b drive.Batch) error { _, err := h.UndoBatch(ctx, act, b.Number); return err })
}

// onBatch does something to one of the last batches of laundry.
func onBatch(ctx context.Context, h *hall, r *rand.Rand, do func(drive.Batch) error) error {
	list, err := h.Batches(ctx, "spring", 4)
	if err != nil {
		return err
	}
	b, err := pick(r, list)
	if err != nil {
		return err
	}
	return do(b)
}

func makeOfLoose(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	list, err := h.LoosePanels(ctx, "spring")
	if err != nil {
		return err
	}
	p, err := pick(r, list)
	if err != nil {
		return err
	}
	w := drive.LooseKit{Size: p.Size, Cases: 1 + r.IntN(2), Lots: map[string]int64{}}
	for _, i := range r.Perm(len(list)) {
		if l := list[i]; l.Size == p.Size && l.N > 0 {
			w.Lots[l.Role] = l.Lot
		}
	}
	if r.IntN(2) == 0 {
		w.Asked = &h.lines[2*r.IntN(2)].Number
	}
	_, err = h.MakeLooseKit(ctx, act, w)
	return err
}

func looseGone(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	return onLoose(ctx, h, r, func(p LoosePanels) error {
		if r.IntN(3) > 0 {
			return errNothing
		}
		_, err := h.LoosePanelsGone(ctx, act, p.Kit)
		return err
	})
}

func countLoose(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	return onLoose(ctx, h, r, func(p LoosePanels) error {
		_, err := h.LoosePanelsLie(ctx, act, p.Kit, p.Sheet, p.Role, r.IntN(p.Cut+1))
		return err
	})
}

// onLoose does something with the loose panels of one kit.
func onLoose(ctx context.Context, h *hall, r *rand.Rand, do func(LoosePanels) error) error {
	list, err := h.LoosePanels(ctx, "spring")
	if err != nil {
		return err
	}
	p, err := pick(r, list)
	if err != nil {
		return err
	}
	return do(p)
}

func looseBack(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
	list, _, err := h.LeftOut(ctx, "spring", 9, 0)
	if err != nil {
		return err
	}
	p, err := pick(r, list)
	if err != nil {
		return err
	}
	_, err = h.LoosePanelsBack(ctx, act, p.Kit)
	return err
}
