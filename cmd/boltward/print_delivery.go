package main

import (
	"bytes"
	"context"
	"strings"

	"boltward/internal/paper"
)

func deliveryNotePrinting() printing {
	return printing{
		name: "delivery-note", links: true,
		help: `the note that goes with a delivery: its boxes by size and theme, to count and sign.
--delivery names it. Where its recipient has a personal link, its code is printed too.`,
		flags: func(fs flagSet) func(context.Context, printJob) error {
			number := fs.Int("delivery", 0, "the delivery (`N`)")
			size := fs.String("size", "", "the paper: a4 or letter; empty: as usual where the drive is")
			return func(ctx context.Context, j printJob) error {
				if *number < 1 {
					return usage("print delivery-note needs --delivery with its number")
				}
				sheet, err := paperSize(j.drive, *size)
				if err != nil {
					return err
				}
				printed, err := j.store.DeliveryNote(ctx, j.drive.ID, int64(*number))
				if err != nil {
					return err
				}
				own := ""
				if printed.Link != "" {
					key, err := installationKey(j.env)
					if err != nil {
						return err
					}
					own = strings.TrimSuffix(j.base, "/") + key.ReceiverPath(printed.Link)
				}
				return j.write(func(b *bytes.Buffer) error {
					return paper.DeliveryNote(b, j.drive, j.base, own, sheet, printed.Note, j.env.Now())
				}, "The note of delivery %d, %d pillowcases for %s, is in %s.", *number, printed.Note.Cases(), printed.Note.Recipient.Name, j.out)
			}
		},
	}
}
