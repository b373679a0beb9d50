package main

import (
	"context"
	"encoding/json"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

// shownLot is what --json gives of a lot in the list of the shelf: lengths in mm, areas in mm².
type shownLot struct {
	Lot      int64    `json:"lot"`
	Tag      *string  `json:"tag"`
	Kind     string   `json:"kind"`
	GivenBy  string   `json:"given_by"`
	CameIn   string   `json:"came_in"`
	Shelf    string   `json:"shelf"`
	Measured bool     `json:"measured"`
	SetAside string   `json:"set_aside"`
	Fibre    string   `json:"fibre"`
	Cloth    string   `json:"cloth"`
	Washed   bool     `json:"washed"`
	Print    string   `json:"print"`
	Colours  []string `json:"colours"`
	Themes   []string `json:"themes"`
	Pieces   *int     `json:"free_pieces"` // null while it is not measured, as the other four of what is free
	Width    *string  `json:"width"`       // of the largest free piece
	Length   *string  `json:"free_length"` // of the largest free piece
	Whole    *string  `json:"free_length_together"`
	Free     *string  `json:"free"`
	Promised string   `json:"promised"`
	Note     string   `json:"note"`
}

func shownLots(lines []workbook.ShelfLine) []shownLot {
	lots := make([]shownLot, len(lines))
	for i, l := range lines {
		lots[i] = shownLot{
			l.Number, l.Tag, l.Kind, l.DonorName, l.ReceivedOn.Format(time.DateOnly), l.Shelf, l.Measured(), l.SetAside, l.Fibre, l.Weight, l.Washed, l.Print,
			append([]string{}, l.Colours...), append([]string{}, l.Themes...), nil, nil, nil, nil, nil, squareMM(l.Promised), l.Note,
		}
		if l.Measured() {
			width, long, whole, free := inMM(l.Width), inMM(l.Length), inMM(l.Whole), squareMM(l.Free)
			lots[i].Pieces, lots[i].Width, lots[i].Length, lots[i].Whole, lots[i].Free = &l.Pieces, &width, &long, &whole, &free
		}
	}
	return lots
}

// listShelf writes the list of the shelf as CSV or JSON.
func listShelf(ctx context.Context, env Env, f fabricFlags) error {
	return withDrive(ctx, env, f.drive, func(store *postgres.Store, d drive.Drive) error {
		found, err := store.Lots(ctx, d.ID, f.query)
		if err != nil {
			return err
		}
		cloth, err := store.OnShelf(ctx, d.ID, f.query)
		if err != nil {
			return err
		}
		whole := map[int64]length.Length{}
		for _, c := range cloth {
			whole[c.Lot] += c.Length
		}
		lines := make([]workbook.ShelfLine, len(found.Lots))
		for i, l := range found.Lots {
			lines[i] = workbook.ShelfLine{
				Lot: l.Lot, DonorName: l.DonorName, Pieces: l.Pieces, Width: l.Width, Length: l.Length, Whole: whole[l.Number], Free: l.Free, Promised: l.Promised,
			}
		}
		if f.asJSON {
			return json.NewEncoder(env.Stdout).Encode(map[string]any{"lots": shownLots(lines)})
		}
		return workbook.WriteShelf(env.Stdout, d, "", lines)
	})
}
