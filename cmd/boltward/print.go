package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/paper"
	"boltward/internal/postgres"
)

func printCommand() command {
	return command{
		name:    "print",
		summary: "write labels for fabric as PDF",
		example: `boltward print fabric-labels --drive spring --out labels.pdf
boltward print fabric-labels --drive spring --new --paper "Blue box" --start 5 --out labels.pdf
boltward print fabric-labels --drive spring --lots 42,45-52 --out labels.pdf`,
		more: `Without --lots and --new there is a label for everything on the shelf. --paper names a sheet or roll as the Labels page
does, the drive's own or a ready one; the first ready one is usual. --new notes what it prints, so that it is not
printed twice; the others note nothing. Codes begin with BOLTWARD_URL.`,
		run: runPrint,
	}
}

func runPrint(ctx context.Context, env Env, args []string) (err error) {
	fs := newFlags("print")
	driveID := fs.String("drive", "", "the drive (`ID`); boltward drives lists them")
	out := fs.String("out", "", "the PDF to write (`FILE.pdf`)")
	on := fs.String("paper", "", "the sheet or roll to print on (`NAME`)")
	start := fs.Int("start", 1, "the first label of the first sheet that is still there (`N`)")
	lots := fs.String("lots", "", "only these lots (`NUMBERS` such as 42,45-52,42/3)")
	only := fs.Bool("new", false, "only what has no label yet, and note that it is printed")
	each := fs.Bool("each", false, "a label for each piece of a lot")
	words, err := fs.parse(args)
	if err != nil {
		return err
	}
	switch {
	case len(words) != 1 || words[0] != "fabric-labels":
		return usage("say what to print: fabric-labels")
	case *driveID == "":
		return usage("print needs --drive; boltward drives lists them")
	case filepath.Ext(*out) != ".pdf":
		return usage("print needs --out with a name that ends in .pdf")
	case *only && *lots != "":
		return usage("--new and --lots do not go together: --lots names what is printed")
	}
	base, err := codesBegin(env)
	if err != nil {
		return err
	}
	wish := drive.LabelWish{Which: drive.LabelsShelf, Each: *each, Start: *start}
	switch {
	case *only:
		wish.Which = drive.LabelsMissing
	case *lots != "":
		wish.Which = drive.LabelsNamed
		if wish.Named, err = drive.ParseLabelNames(*lots); err != nil {
			return err
		}
	}
	db, err := openDatabase(ctx, env)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	return printLabels(ctx, env, postgres.New(db.pool, env.Now), *driveID, *on, *out, base, wish)
}

// codesBegin gives the start of every code: BOLTWARD_URL, else the address that
// serve listens at where nothing else is said.
func codesBegin(env Env) (string, error) {
	text := env.Getenv("BOLTWARD_URL")
	if text == "" {
		env.say("BOLTWARD_URL is not set: the codes open http://localhost:8080, on this computer alone.")
		return "http://localhost:8080", nil
	}
	u, err := publicAddress(text)
	if err != nil {
		return "", err
	}
	return u.String(), nil
}

// publicAddress reads BOLTWARD_URL.
func publicAddress(text string) (*url.URL, error) {
	u, err := url.Parse(text)
	if err != nil || (u.Scheme != "http" && u.Scheme != "https") || u.Host == "" || strings.Trim(u.Path, "/") != "" || u.RawQuery != "" || u.User != nil {
		return nil, apperr.Invalid("BOLTWARD_URL", "It is the start of every address, such as https://drive.example.org, without a path.")
	}
	return &url.URL{Scheme: u.Scheme, Host: u.Host}, nil
}

func printLabels(ctx context.Context, env Env, store *postgres.Store, driveID, on, out, base string, wish drive.LabelWish) error {
	d, err := store.Drive(ctx, driveID)
	if err != nil {
		return err
	}
	if wish.Paper, err = paperNamed(ctx, store, d, on); err != nil {
		return err
	}
	items, err := store.Labels(ctx, driveID, wish)
	if err != nil {
		return err
	}
	if wish.Which != drive.LabelsMissing {
		return writeLabels(env, d, base, out, wish, items)
	}
	printed, err := store.PrintLabels(ctx, commandAct(env, driveID), wish)
	if err != nil {
		return err
	}
	// Between looking and noting somebody may have tagged more.
	if _, items, err = store.LabelPrint(ctx, driveID, printed); err == nil {
		err = writeLabels(env, d, base, out, wish, items)
	}
	if err != nil {
		_, undone := store.UndoLabelPrint(context.WithoutCancel(ctx), commandAct(env, driveID), printed)
		return errors.Join(err, undone)
	}
	return nil
}

func writeLabels(env Env, d drive.Drive, base, out string, wish drive.LabelWish, items []postgres.LabelItem) error {
	labels := make([]paper.Label, len(items))
	for i, item := range items {
		labels[i] = paper.LotLabel(d, base, item.Lot, item.Pieces, item.Piece).Of(item.Copy, item.Copies)
	}
	var pdf bytes.Buffer
	if err := paper.Labels(&pdf, d.Name+": labels", wish.Paper, wish.Start, labels, env.Now()); err != nil {
		return err
	}
	if err := writeWhole(out, pdf.Bytes()); err != nil {
		return err
	}
	env.say(fmt.Sprintf("%d labels for %s on %s are in %s. Print them at actual size, and tie or pin them on: never stick one to cloth.", len(labels), d.Name, wish.Paper.Name, out))
	return nil
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
