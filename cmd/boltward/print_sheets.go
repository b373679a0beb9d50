package main

import (
	"bytes"
	"context"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/paper"
)

func cutSheetsPrinting() printing {
	return printing{
		name:  "cut-sheets",
		help:  "the cut sheets of a plan in the order of the shelves, each on paper of its own; the newest accepted plan, where --plan names none.",
		flags: sheetsFlags(printJob.cutSheets),
	}
}

// sheetsFlags adds the flags of everything that is printed of a plan's sheets.
func sheetsFlags(draw func(printJob, paper.Sheet, []drive.CutSheet) error) func(flagSet) func(context.Context, printJob) error {
	return func(fs flagSet) func(context.Context, printJob) error {
		plan := fs.Int64("plan", 0, "the accepted plan (`N`); the newest where none is named")
		toCut := fs.Bool("to-cut", false, "only sheets that are still to cut")
		size := fs.String("size", "", "the paper: a4 or letter (`SIZE`)")
		return func(ctx context.Context, j printJob) error {
			on, err := paperSize(j.drive, *size)
			if err != nil {
				return err
			}
			number, err := j.store.PlanToCut(ctx, j.drive.ID, *plan)
			if err != nil {
				return err
			}
			found, err := j.store.SheetsToPrint(ctx, j.drive.ID, number, !*toCut)
			if err != nil {
				return err
			}
			if len(found) == 0 {
				return apperr.Conflict("No sheet of plan %d is still to cut.", number)
			}
			sheets := make([]drive.CutSheet, len(found))
			for i, s := range found {
				sheets[i] = s.CutSheet(j.drive.Unit)
			}
			return draw(j, on, sheets)
		}
	}
}

func (j printJob) cutSheets(on paper.Sheet, sheets []drive.CutSheet) error {
	return j.write(func(b *bytes.Buffer) error {
		return paper.CutSheets(b, j.drive, j.base, on, sheets, j.env.Now())
	}, "%d cut sheets of plan %d are in %s.", len(sheets), sheets[0].Plan, j.out)
}

func pullListPrinting() printing {
	return printing{
		name: "pull-list", help: "what to fetch from the shelves for a plan's cut sheets, to tick off.",
		flags: sheetsFlags(func(j printJob, on paper.Sheet, sheets []drive.CutSheet) error {
			return j.write(func(b *bytes.Buffer) error { return paper.PullList(b, j.drive, on, sheets, j.env.Now()) },
				"The pull list for %d cut sheets is in %s.", len(sheets), j.out)
		}),
	}
}

func bundleSlipsPrinting() printing {
	return printing{
		name: "bundle-slips", help: "a slip to pin to each bundle of a plan's cut sheets; its code opens the kit.",
		flags: sheetsFlags(func(j printJob, on paper.Sheet, sheets []drive.CutSheet) error {
			return j.write(func(b *bytes.Buffer) error {
				return paper.BundleSlips(b, j.drive, j.base, on, sheets, j.env.Now())
			}, "%d bundle slips are in %s.", len(drive.Bundles(sheets)), j.out)
		}),
	}
}

func sortByKitPrinting() printing {
	return printing{
		name: "sort-by-kit", help: "the page by which bundles are sorted into kits.",
		flags: sheetsFlags(func(j printJob, on paper.Sheet, sheets []drive.CutSheet) error {
			return j.write(func(b *bytes.Buffer) error { return paper.SortByKit(b, j.drive, on, sheets, j.env.Now()) },
				"%d kits with their bundles are in %s.", len(drive.BundlesByKit(sheets)), j.out)
		}),
	}
}

func largeTagsPrinting() printing {
	return printing{
		name: "large-tags", help: "tags to read across a room: a place on the table for each kit, a label for each remnant.",
		flags: sheetsFlags(func(j printJob, on paper.Sheet, sheets []drive.CutSheet) error {
			return j.write(func(b *bytes.Buffer) error {
				return paper.LargeTags(b, j.drive, j.base, on, sheets, j.env.Now())
			}, "Large tags for %d cut sheets are in %s.", len(sheets), j.out)
		}),
	}
}
