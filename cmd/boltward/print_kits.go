package main

import (
	"bytes"
	"context"
	"strings"

	"boltward/internal/drive"
	"boltward/internal/paper"
)

func kitLabelsPrinting() printing {
	return printing{
		name: "kit-labels",
		help: `a label for the bag of each kit of a plan, the newest accepted one where --plan names none.
--paper names a sheet or roll as the Labels page does, the drive's own or a ready one; the first ready one is usual.`,
		flags: func(fs flagSet) func(context.Context, printJob) error {
			plan := planFlag(fs)
			on := fs.String("paper", "", "the sheet or roll to print on (`NAME`)")
			start := fs.Int("start", 1, "the first label of the first sheet that is still there (`N`)")
			return func(ctx context.Context, j printJob) error { return j.kitLabels(ctx, *plan, *on, *start) }
		},
	}
}

func kitCardsPrinting() printing {
	return printing{
		name: "kit-cards", links: true, help: `the card of each kit of a plan, to print on both sides; the newest accepted plan, where --plan names none.
The card of a kit that is out carries the code of the page of whoever has it, where they have a link: give it to nobody else.`,
		flags: func(fs flagSet) func(context.Context, printJob) error {
			plan := planFlag(fs)
			size := fs.String("size", "", "the paper: a4 or letter (`SIZE`)")
			return func(ctx context.Context, j printJob) error { return j.kitCards(ctx, *plan, *size) }
		},
	}
}

func planFlag(fs flagSet) *int64 {
	return fs.Int64("plan", 0, "the accepted plan (`N`); the newest where none is named")
}

// kitsOf gives the kits of the plan that is meant, and its number.
func (j printJob) kitsOf(ctx context.Context, plan int64) ([]drive.KitToSew, int64, error) {
	plan, err := j.store.PlanToCut(ctx, j.drive.ID, plan)
	if err != nil {
		return nil, 0, err
	}
	refs, err := j.store.KitsOfPlan(ctx, j.drive.ID, plan)
	if err != nil {
		return nil, 0, err
	}
	kits, err := j.store.KitsToSew(ctx, j.drive, refs)
	return kits, plan, err
}

func (j printJob) kitLabels(ctx context.Context, plan int64, paperName string, start int) error {
	on, err := paperNamed(ctx, j.store, j.drive, paperName)
	if err != nil {
		return err
	}
	kits, plan, err := j.kitsOf(ctx, plan)
	if err != nil {
		return err
	}
	labels := make([]paper.KitLabel, len(kits))
	for i, k := range kits {
		if labels[i], err = paper.NewKitLabel(j.drive, j.base, "en", k); err != nil {
			return err
		}
	}
	return j.write(func(b *bytes.Buffer) error {
		return paper.KitLabels(b, j.drive.Name+": labels of kits", on, start, labels, j.env.Now())
	}, "%d labels for the kits of plan %d on %s are in %s. Print them at actual size.", len(labels), plan, on.Name, j.out)
}

func (j printJob) kitCards(ctx context.Context, plan int64, size string) error {
	sheet, err := paperSize(j.drive, size)
	if err != nil {
		return err
	}
	kits, plan, err := j.kitsOf(ctx, plan)
	if err != nil {
		return err
	}
	own, err := j.pagesOfHolders(ctx, kits)
	if err != nil {
		return err
	}
	cards := make([]paper.KitCard, len(kits))
	for i, k := range kits {
		if cards[i], err = paper.NewKitCard(j.drive, j.base, "en", k, own[orNobody(k.Holder)]); err != nil {
			return err
		}
	}
	return j.write(func(b *bytes.Buffer) error {
		return paper.KitCards(b, j.drive.Name+": kit cards", sheet, cards, j.env.Now())
	}, "%d cards for the kits of plan %d are in %s: print both sides of the paper.", len(cards), plan, j.out)
}

// pagesOfHolders gives the address of the own page of whoever has one of these kits, by their number.
func (j printJob) pagesOfHolders(ctx context.Context, kits []drive.KitToSew) (map[int64]string, error) {
	ids, err := j.store.PersonLinks(ctx, j.drive.ID, drive.HoldersOf(kits))
	if err != nil || len(ids) == 0 {
		return nil, err
	}
	key, err := installationKey(j.env)
	if err != nil {
		return nil, err
	}
	pages := map[int64]string{}
	for who, id := range ids {
		pages[who] = strings.TrimSuffix(j.base, "/") + key.PersonalPath(id)
	}
	return pages, nil
}

func orNobody(who *int64) int64 {
	if who == nil {
		return 0
	}
	return *who
}
