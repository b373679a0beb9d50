package main

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

func fabricCommand() command {
	return command{
		name:    "fabric",
		summary: "look at a lot and book what happens to its cloth: washed, parted, given away, counted anew, undone",
		example: `boltward fabric list --drive spring --colour navy > shelf.csv
boltward fabric show 42 --drive spring
boltward fabric count 42/1 --drive spring --length "2 1/2 yd" --why "counted again"
boltward fabric part 42/1 --drive spring --flaw "30 to 33 in across"
boltward fabric part 42/1 --drive spring --border 27in
boltward fabric give 42/1 --drive spring --length 1yd --why "to the guild"
boltward fabric wash 42 --drive spring --size "1=41in x 102in" --size "2=41in x 98in"
boltward fabric undo 42 --drive spring --deed 7`,
		more: `What it does: list (the shelf as CSV, with --colour, --shelf, --search), show, wash, and for a piece (LOT/PIECE) count, part, give, discard, square, remnant; undo takes
one of them back by counter-entries. A bare length is in the unit the drive measures cloth in, yards or metres;
widths and flaws are in inches or centimetres.
--json gives {"lot", "deed", "pieces"}: the number that undo takes, and new pieces. For show it gives
{"lot", "pieces": [{"piece", "kind", "origin", "width", "free", …}], "history": [{"at", "piece", "what", "deed", "undone"}]},
and for list {"lots": [{"lot", "tag", "kind", "shelf", "free_pieces", "width", "free_length", "free", …}]},
in which what is free of a lot is null until it is measured; lengths and areas in mm and mm².`,
		run: runFabric,
	}
}

// fabricFlags are what the deeds take.
type fabricFlags struct {
	drive, length, width, why, flaw, border, both, strip string
	all, sure, asJSON                                    bool
	deed                                                 int64
	sizes                                                []string
	query                                                postgres.LotsQuery
}

// fabricDeeds names what a piece may have done to it.
func fabricDeeds() map[string]drive.DeedKind {
	return map[string]drive.DeedKind{
		"count": drive.DeedRecounted, "part": drive.DeedParted, "give": drive.DeedGivenAway, "discard": drive.DeedDiscarded,
		"square": drive.DeedSquared, "remnant": drive.DeedPutBack,
	}
}

func runFabric(ctx context.Context, env Env, args []string) error {
	fs := newFlags("fabric")
	var f fabricFlags
	fs.StringVar(&f.drive, "drive", "", "the drive (`ID`); boltward drives lists them")
	fs.StringVar(&f.length, "length", "", "how much, what lies there, or where it is cut across (`LENGTH`)")
	fs.StringVar(&f.width, "width", "", "count: the usable width, where it was booked wrongly; remnant: its width (`WIDTH`)")
	fs.StringVar(&f.why, "why", "", "the `REASON`, in a few words")
	fs.BoolVar(&f.all, "all", false, "give, discard, square: all that is free")
	fs.BoolVar(&f.sure, "sure", false, "count: far more than is booked does lie there")
	fs.StringVar(&f.flaw, "flaw", "", "part: where the `FLAWS` are, parted by semicolons")
	fs.StringVar(&f.border, "border", "", "part: how deep a border strip along one selvedge is (`DEPTH`)")
	fs.StringVar(&f.both, "borders", "", "part: the same along both selvedges (`DEPTH`)")
	fs.StringVar(&f.strip, "strip", "", "part: how wide a strip along the whole length is (`WIDTH`)")
	fs.Int64Var(&f.deed, "deed", 0, "undo: the `NUMBER` that show gives")
	fs.Func("size", "wash: `PIECE=WIDTH x LENGTH`, usable after the wash; once for each piece", func(s string) error {
		f.sizes = append(f.sizes, s)
		return nil
	})
	fs.StringVar(&f.query.Colour, "colour", "", "list: only lots of this `COLOUR`")
	fs.StringVar(&f.query.Shelf, "shelf", "", "list: only what lies on this `SHELF`")
	fs.StringVar(&f.query.Q, "search", "", "list: only lots that mention these `WORDS`")
	fs.BoolVar(&f.asJSON, "json", false, "as JSON")
	words, err := fs.parse(args)
	if err != nil {
		return err
	}
	if len(words) == 1 && words[0] == "list" && f.drive != "" {
		return listShelf(ctx, env, f)
	}
	if len(words) != 2 || f.drive == "" {
		return usage("say what to do, and with which lot or piece: boltward fabric show 42 --drive ID")
	}
	act := words[0]
	_, ofPiece := fabricDeeds()[act]
	if !ofPiece && !slices.Contains([]string{"show", "wash", "undo"}, act) {
		return usage("%q is nothing that can be done to fabric: list, show, wash, undo, %s", act, strings.Join(slices.Sorted(maps.Keys(fabricDeeds())), ", "))
	}
	lot, piece, err := lotAndPiece(words[1], ofPiece)
	if err != nil {
		return err
	}
	return withDrive(ctx, env, f.drive, func(store *postgres.Store, d drive.Drive) error {
		var done postgres.ClothHandled
		var err error
		switch act {
		case "show":
			return showLot(ctx, env, store, d, lot, f.asJSON)
		case "undo":
			done, err = store.UndoCloth(ctx, commandAct(env, d.ID), lot, f.deed)
		default:
			var h drive.Handling
			if h, err = f.handling(env, act, piece, d); err == nil {
				done, err = store.HandleCloth(ctx, commandAct(env, d.ID), lot, 0, h)
				err = answeredByFlag(err)
			}
		}
		if err != nil {
			return err
		}
		return tellHandled(env, lot, done, f.asJSON)
	})
}

// lotAndPiece reads 42 or 42/1.
func lotAndPiece(text string, ofPiece bool) (lot int64, piece int, err error) {
	number, rest, slash := strings.Cut(text, "/")
	lot, err = strconv.ParseInt(number, 10, 64)
	if err == nil && slash {
		piece, err = strconv.Atoi(rest)
	}
	switch {
	case err != nil || lot < 1 || slash && piece < 1:
		return 0, 0, usage("%q is no lot or piece: write 42 or 42/1", text)
	case slash != ofPiece && ofPiece:
		return 0, 0, usage("say which piece of lot %d, like %d/1; boltward fabric show lists them", lot, lot)
	case slash != ofPiece:
		return 0, 0, usage("this is done to a whole lot: write %d, not %s", lot, text)
	}
	return lot, piece, nil
}

// handling reads the flags of a deed, with what is wrong by flag, and says what of a
// flaw it took for granted.
func (f fabricFlags) handling(env Env, act string, piece int, d drive.Drive) (drive.Handling, error) {
	var bad []apperr.Field
	read := func(flag, text string, unit length.Unit) length.Length {
		if text == "" {
			return 0
		}
		l, err := length.Parse(text, unit, length.Down)
		if err != nil {
			bad = append(bad, apperr.Field{Name: flag, Why: err.Error()})
		}
		return l
	}
	h := drive.Handling{Kind: fabricDeeds()[act], Piece: piece, All: f.all, Sure: f.sure, Reason: f.why, Length: read("--length", f.length, d.Yardage()), Width: read("--width", f.width, d.Unit)}
	switch act {
	case "wash":
		h.Kind = drive.DeedWashed
		for _, text := range f.sizes {
			s, err := washedSize(text, d)
			if err != nil {
				bad = append(bad, apperr.Field{Name: "--size", Why: err.Error()})
			}
			h.Sizes = append(h.Sizes, s)
		}
	case "part":
		flaws, notes, err := workbook.ParseFlaws(f.flaw, d.Unit)
		if err != nil {
			bad = append(bad, apperr.Field{Name: "--flaw", Why: err.Error()})
		}
		h.Flaws = flaws
		for _, n := range notes {
			env.say(n)
		}
		if h.Depth = read("--border", f.border, d.Unit); h.Depth > 0 {
			h.Border = drive.BorderOne
		}
		if both := read("--borders", f.both, d.Unit); both > 0 {
			h.Border, h.Depth = drive.BorderBoth, both
		}
		h.Width = read("--strip", f.strip, d.Unit)
	case "count":
		if f.length == "" {
			bad = append(bad, apperr.Field{Name: "--length", Why: "Give the length that lies there; 0 where nothing does."})
		}
	}
	return h, apperr.InvalidFields(bad)
}

// answeredByFlag words the question whether far more cloth lies there for the command line, where
// nothing can be ticked.
func answeredByFlag(err error) error {
	if apperr.Fields(err)["sure"] == "" {
		return err
	}
	fields := slices.Clone(apperr.As(err).Fields)
	for i, f := range fields {
		if f.Name == "sure" {
			fields[i] = apperr.Field{Name: "--sure", Why: "Add it where the tape says so, or mend --length."}
		}
	}
	return apperr.InvalidFields(fields)
}

// washedSize reads 1=41in x 102in.
func washedSize(text string, d drive.Drive) (drive.WashedSize, error) {
	number, size, found := strings.Cut(text, "=")
	piece, err := strconv.Atoi(strings.TrimSpace(number))
	if !found || err != nil {
		return drive.WashedSize{}, fmt.Errorf("%q does not say which piece: write 1=41in x 102in", text)
	}
	width, long, err := length.ParseRect(size, d.Unit, length.Down)
	return drive.WashedSize{Piece: piece, Width: width, Length: long}, err
}

func tellHandled(env Env, lot int64, done postgres.ClothHandled, asJSON bool) error {
	if asJSON {
		pieces := done.Pieces
		if pieces == nil {
			pieces = []int{}
		}
		return json.NewEncoder(env.Stdout).Encode(map[string]any{"lot": lot, "deed": done.Deed, "pieces": pieces})
	}
	text := fmt.Sprintf("Booked of lot %d as %d.", lot, done.Deed)
	for i, p := range done.Pieces {
		if i == 0 {
			text += " New:"
		}
		text += " " + drive.ClothID(lot, p)
	}
	_, err := fmt.Fprintln(env.Stdout, text)
	return err
}

// shownPiece and shownEntry are what --json gives of a lot.
type shownPiece struct {
	Piece    int    `json:"piece"`
	Kind     string `json:"kind"`
	Origin   *int   `json:"origin"`
	Width    string `json:"width"`
	Length   string `json:"free_length"`
	Received string `json:"received"`
	Free     string `json:"free"`
	Promised string `json:"promised"`
	Cut      string `json:"cut"`
	Out      string `json:"out"`
	Parted   string `json:"parted"`
}

type shownEntry struct {
	At     string `json:"at"`
	Piece  int    `json:"piece"`
	What   string `json:"what"`
	Deed   *int64 `json:"deed"`
	Undone bool   `json:"undone"`
}

func showLot(ctx context.Context, env Env, store *postgres.Store, d drive.Drive, number int64, asJSON bool) error {
	stock, err := store.LotStock(ctx, d.ID, number)
	if err != nil {
		return err
	}
	if asJSON {
		pieces, history := []shownPiece{}, []shownEntry{}
		for _, p := range stock.Pieces {
			pieces = append(pieces, shownPiece{
				p.Piece, string(p.Kind), p.Origin, inMM(p.Width), inMM(p.FreeLength),
				squareMM(p.Received), squareMM(p.Free), squareMM(p.Promised), squareMM(p.Cut), squareMM(p.Out), squareMM(p.Parted),
			})
		}
		for _, e := range stock.Entries {
			history = append(history, shownEntry{e.At.UTC().Format("2006-01-02T15:04:05Z"), e.Piece, e.Words(d), e.Deed, e.Undone})
		}
		return json.NewEncoder(env.Stdout).Encode(map[string]any{"lot": number, "pieces": pieces, "history": history})
	}
	w := tabwriter.NewWriter(env.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "piece\tkind\tfrom\tfree\tpromised\tcut\tgone\tparted")
	for _, p := range stock.Pieces {
		from := ""
		if p.Origin != nil {
			from = drive.ClothID(p.Lot, *p.Origin)
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s × %s\t%s\t%s\t%s\t%s\n", p.Name(), p.Kind, from, drive.OnTape(p.Width, d.Unit), drive.OnTape(p.FreeLength, d.Yardage()),
			p.Promised.Format(d.Unit), p.Cut.Format(d.Unit), p.Out.Format(d.Unit), p.Parted.Format(d.Unit))
	}
	fmt.Fprintln(w, "\nwhen\tdeed\tpiece\twhat")
	for _, e := range stock.Entries {
		deed, undone := "", ""
		if e.Deed != nil {
			deed = strconv.FormatInt(*e.Deed, 10)
		}
		if e.Undone {
			undone = " (undone since)"
		}
		fmt.Fprintf(w, "%s\t%s\t%d\t%s%s\n", e.At.In(d.Location()).Format("2 Jan 2006 15:04"), deed, e.Piece, e.Words(d), undone)
	}
	return w.Flush()
}

func inMM(l length.Length) string {
	text, _ := length.Decimal(l, length.MM)
	return text
}

// squareMM writes an area exactly: one square millimetre is 1600² square units.
func squareMM(a length.Area) string {
	const one = 1600 * 1600
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%d.%012d", a/one, a%one*1_000_000_000_000/one), "0"), ".")
}
