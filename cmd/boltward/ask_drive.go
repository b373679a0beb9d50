package main

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning"
	"boltward/internal/postgres"
)

// driveAsks is what ask --json prints for a drive; lengths as they are written there.
type driveAsks struct {
	Wishes []driveWish  `json:"wishes"` // what one more piece brings, best first
	Short  []driveShort `json:"short"`  // by line, most pillowcases first
	Whole  driveWhole   `json:"whole"`  // all of that together
}

// driveWish is one kind of cloth, and what a piece of it brings.
type driveWish struct {
	Fabric  string           `json:"fabric"` // in words
	Fibre   string           `json:"fibre"`
	Kind    string           `json:"kind"` // weight of the cloth: quilting, flannel
	Washed  bool             `json:"washed"`
	Print   string           `json:"print"`
	Turn    string           `json:"turn"`
	Colours []string         `json:"colours"`
	Themes  []string         `json:"themes"`
	Length  string           `json:"length"`
	Width   string           `json:"width"`
	Gained  int              `json:"gained"`
	Weight  planning.Decimal `json:"weight"`
	Lines   []planning.Moved `json:"lines"`
}

// askOfDrive tells what to ask for in a drive as its shelf stands now. It keeps nothing.
func askOfDrive(ctx context.Context, env Env, id string, o planning.Options, asJSON bool) error {
	return withDrive(ctx, env, id, func(store *postgres.Store, d drive.Drive) error {
		work, err := store.AsksWork(ctx, id)
		if err != nil {
			return err
		}
		found, err := work.Input.FindAsks(ctx, work.Plan, d.Unit, o)
		if err != nil {
			return err
		}
		if ctx.Err() != nil {
			env.say(notAllTried)
		}
		short, err := drive.WholeNeed(found.Problem, found.Plan, work.Input.Wants)
		if err != nil {
			return err
		}
		if asJSON {
			list := []driveWish{}
			for _, w := range found.Wishes {
				c := w.For
				list = append(list, driveWish{
					c.Words(), c.Fibre, c.Weight, c.Washed, c.Print, c.Turn, drive.TidyWords(c.Colours), drive.TidyWords(c.Themes),
					length.Format(w.Length, d.Yardage()), length.Format(c.Width, d.Unit), w.Cases, w.Weight, w.Lines,
				})
			}
			return json.NewEncoder(env.Stdout).Encode(driveAsks{list, shortOf(short, d.Unit), wholeOf(short, d.Unit)})
		}
		names, err := lineNames(ctx, store, id)
		if err != nil {
			return err
		}
		var text strings.Builder
		switch {
		case len(found.Problem.Quotas) == 0:
			fmt.Fprintln(&text, "Everything asked for is in a plan or made: there is nothing to ask donors for.")
		case len(found.Wishes) == 0 && ctx.Err() != nil:
			fmt.Fprintln(&text, "It is not known yet what a little more of a kind of fabric would make.")
		case len(found.Wishes) == 0:
			fmt.Fprintln(&text, "A little more of no kind of fabric would make more pillowcases.")
		}
		for _, w := range found.Wishes {
			brings := fmt.Sprintf("%d more pillowcases", w.Cases)
			if w.Cases == 1 {
				brings = "1 more pillowcase"
			}
			if w.Cases == 0 {
				brings = "none more, but some that matter more"
			}
			fmt.Fprintf(&text, "%s of %s (%s): %s%s\n", length.Format(w.Length, d.Yardage()), w.For.Words(), w.For.Cloth(), brings, movedWords(w.Lines, names))
		}
		text.WriteString(wholeWords(short, names, d.Unit))
		_, err = fmt.Fprint(env.Stdout, text.String())
		return err
	})
}

// movedWords says which lines gain or give up: "; Ward 4, standard: 9, now 5".
func movedWords(lines []planning.Moved, names map[string]string) string {
	text := ""
	for _, l := range lines {
		text += fmt.Sprintf("; %s: %d, now %d", names[l.ID], l.To, l.From)
	}
	return text
}

func lineNames(ctx context.Context, store *postgres.Store, id string) (map[string]string, error) {
	lines, err := store.AskedLines(ctx, id)
	names := map[string]string{}
	for _, l := range lines {
		names[drive.NumberID(l.Number)] = l.RecipientName + ", " + strings.Join(l.SizeNames, " or ")
	}
	return names, err
}

// driveYield is what yield is asked about a drive: a lot that lies there, or cloth that comes.
type driveYield struct {
	drive                                           string
	lot                                             int64
	size, fibre, kind, print, turn, colours, themes string
	washed, trim, json                              bool
}

// driveYielded is what yield --json prints for a drive.
type driveYielded struct {
	Alone     []aloneOf        `json:"alone"`
	Completes int              `json:"completes"`
	Lines     []planning.Moved `json:"lines"`
	Waits     string           `json:"waits"` // what it waits for first; empty for nothing
}

type aloneOf struct {
	Size   string `json:"size"`
	Cases  int    `json:"cases"`
	Bodies bool   `json:"bodies"` // bodies only: it may not be trim
}

func (y driveYield) run(ctx context.Context, env Env) error {
	return withDrive(ctx, env, y.drive, func(store *postgres.Store, d drive.Drive) error {
		cloth, err := y.cloth(ctx, store, d)
		if err != nil {
			return err
		}
		sizes, err := cutSizes(ctx, store, y.drive)
		if err != nil {
			return err
		}
		alone, err := drive.MakesAlone(ctx, cloth, sizes)
		if err != nil {
			return err
		}
		brings, err := store.LotBrings(ctx, y.drive, cloth)
		if err != nil {
			return err
		}
		if y.json {
			out := driveYielded{Alone: []aloneOf{}, Completes: brings.Cases, Lines: append([]planning.Moved{}, brings.Lines...), Waits: string(brings.After)}
			for _, a := range alone {
				out.Alone = append(out.Alone, aloneOf{a.Size, a.Cases, a.Bodies})
			}
			return json.NewEncoder(env.Stdout).Encode(out)
		}
		names, err := lineNames(ctx, store, y.drive)
		if err != nil {
			return err
		}
		var text strings.Builder
		for _, a := range alone {
			if what := "pillowcases"; a.Cases > 0 {
				if a.Bodies {
					what = "bodies"
				}
				fmt.Fprintf(&text, "alone: %d %s of %s\n", a.Cases, what, a.Size)
			}
		}
		if brings.After != "" {
			fmt.Fprintf(&text, "It waits: %s. The rest is for when that is over.\n", brings.After)
		}
		fmt.Fprintf(&text, "With what is on the shelf: %d more pillowcases%s\n", brings.Cases, movedWords(brings.Lines, names))
		_, err = fmt.Fprint(env.Stdout, text.String())
		return err
	})
}

// cloth gives the lot as it lies there, or what was described.
func (y driveYield) cloth(ctx context.Context, store *postgres.Store, d drive.Drive) ([]drive.Cloth, error) {
	if y.lot > 0 {
		lot, err := store.Lot(ctx, y.drive, y.lot)
		if err != nil {
			return nil, err
		}
		return lot.Cloths(lot.Pieces), nil
	}
	long, wide, err := length.ParseRect(y.size, d.Unit, length.Down)
	if err != nil || long <= 0 || wide <= 0 {
		return nil, apperr.Invalid("--size", "%q is no length x width above 0, such as 54x42", y.size)
	}
	return []drive.Cloth{{
		ID: drive.ClothID(0, 1), Pieces: 1, Width: wide, Length: long, Fibre: y.fibre, Weight: y.kind, Washed: y.washed, Print: y.print,
		Turn: y.turn, TrimOK: y.trim, Colours: drive.Words(y.colours), Themes: drive.Words(y.themes),
	}}, nil
}

func cutSizes(ctx context.Context, store *postgres.Store, id string) ([]drive.PlanSize, error) {
	all, err := store.Sizes(ctx, id)
	if err != nil {
		return nil, err
	}
	return drive.CutSizes(all)
}
