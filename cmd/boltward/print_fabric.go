package main

import (
	"bytes"
	"context"
	"errors"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/paper"
	"boltward/internal/postgres"
)

func fabricLabelsPrinting() printing {
	return printing{
		name: "fabric-labels",
		help: `a label for everything on the shelf; with --lots for those, with --new for what has none yet.
--paper names a sheet or roll as the Labels page does, the drive's own or a ready one; the first ready one is usual.
--new notes what it prints, so that it is not printed twice; the others note nothing.`,
		flags: func(fs flagSet) func(context.Context, printJob) error {
			on := fs.String("paper", "", "the sheet or roll to print on (`NAME`)")
			start := fs.Int("start", 1, "the first label of the first sheet that is still there (`N`)")
			lots := fs.String("lots", "", "only these lots (`NUMBERS` such as 42,45-52,42/3)")
			only := fs.Bool("new", false, "only what has no label yet, and note that it is printed")
			each := fs.Bool("each", false, "a label for each piece of a lot")
			return func(ctx context.Context, j printJob) (err error) {
				wish := drive.LabelWish{Which: drive.LabelsShelf, Each: *each, Start: *start}
				switch {
				case *only && *lots != "":
					return usage("--new and --lots do not go together: --lots names what is printed")
				case *only:
					wish.Which = drive.LabelsMissing
				case *lots != "":
					wish.Which = drive.LabelsNamed
					if wish.Named, err = drive.ParseLabelNames(*lots); err != nil {
						return err
					}
				}
				if wish.Paper, err = paperNamed(ctx, j.store, j.drive, *on); err != nil {
					return err
				}
				return j.fabricLabels(ctx, wish)
			}
		},
	}
}

func (j printJob) fabricLabels(ctx context.Context, wish drive.LabelWish) error {
	items, err := j.store.Labels(ctx, j.drive.ID, wish)
	if err != nil {
		return err
	}
	if wish.Which != drive.LabelsMissing {
		return j.writeLabels(wish, items)
	}
	printed, err := j.store.PrintLabels(ctx, commandAct(j.env, j.drive.ID), wish)
	if err != nil {
		return err
	}
	// Between looking and noting somebody may have tagged more.
	if _, items, err = j.store.LabelPrint(ctx, j.drive.ID, printed); err == nil {
		err = j.writeLabels(wish, items)
	}
	if err != nil {
		_, undone := j.store.UndoLabelPrint(context.WithoutCancel(ctx), commandAct(j.env, j.drive.ID), printed)
		return errors.Join(err, undone)
	}
	return nil
}

func (j printJob) writeLabels(wish drive.LabelWish, items []postgres.LabelItem) error {
	labels := make([]paper.Label, len(items))
	for i, item := range items {
		labels[i] = paper.LotLabel(j.drive, j.base, item.Lot, item.Pieces, item.Piece).Of(item.Copy, item.Copies)
	}
	return j.write(func(b *bytes.Buffer) error {
		return paper.Labels(b, j.drive.Name+": labels", wish.Paper, wish.Start, labels, j.env.Now())
	}, "%d labels for %s on %s are in %s. Print them at actual size, and tie or pin them on: never stick one to cloth.", len(labels), j.drive.Name, wish.Paper.Name, j.out)
}

// paperNamed gives a sheet or roll by its name, the first ready one for none.
func paperNamed(ctx context.Context, store *postgres.Store, d drive.Drive, name string) (drive.LabelPaper, error) {
	ready := drive.ReadyLabelPapers(d.Unit)
	if name == "" {
		return ready[0], nil
	}
	own, err := store.LabelPapers(ctx, d.ID)
	if err != nil {
		return drive.LabelPaper{}, err
	}
	var names []string
	for _, p := range append(own, ready...) {
		if strings.EqualFold(p.Name, name) {
			return p, nil
		}
		names = append(names, p.Name)
	}
	return drive.LabelPaper{}, apperr.Invalid("--paper", "There is no paper %q; there are: %s.", name, strings.Join(names, "; "))
}
