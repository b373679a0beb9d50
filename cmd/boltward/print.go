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
		summary: "write what is printed as PDF: cut sheets and what goes with them, labels and cards of kits, labels for fabric",
		example: `boltward print cut-sheets --drive spring --out sheets.pdf
boltward print pull-list --drive spring --plan 4 --out pull.pdf
boltward print kit-labels --drive spring --out kit-labels.pdf
boltward print kit-cards --drive spring --plan 4 --size a4 --out cards.pdf
boltward print fabric-labels --drive spring --new --paper "Blue box" --start 5 --out labels.pdf
boltward print fabric-labels --drive spring --lots 42,45-52 --out labels.pdf
boltward print delivery-note --drive spring --delivery 3 --out note.pdf`,
		more: printingsHelp(),
		run:  runPrint,
	}
}

// printing is one kind of thing that print writes.
type printing struct {
	name, help string
	links      bool // personal links are on it, which the key signs
	// flags adds its own flags to those that all share and gives what prints once they are read.
	flags func(flagSet) func(context.Context, printJob) error
}

// printings lists what can be printed.
func printings() []printing {
	return []printing{
		cutSheetsPrinting(),
		pullListPrinting(),
		bundleSlipsPrinting(),
		sortByKitPrinting(),
		largeTagsPrinting(),
		kitLabelsPrinting(),
		kitCardsPrinting(),
		fabricLabelsPrinting(),
		deliveryNotePrinting(),
	}
}

// printJob is one thing to print, with what every kind needs.
type printJob struct {
	env   Env
	store *postgres.Store
	drive drive.Drive
	base  string // that every code begins with
	out   string // the file
}

// write keeps what draw draws, whole or not at all, and says so in a sentence that
// begins with what it is.
func (j printJob) write(draw func(*bytes.Buffer) error, format string, args ...any) error {
	var pdf bytes.Buffer
	if err := draw(&pdf); err != nil {
		return err
	}
	if err := writeWhole(j.out, pdf.Bytes()); err != nil {
		return err
	}
	j.env.say(fmt.Sprintf(format, args...))
	return nil
}

func printingsHelp() string {
	var b strings.Builder
	for _, p := range printings() {
		fmt.Fprintf(&b, "%s: %s\n", p.name, p.help)
	}
	b.WriteString("boltward print NAME --help lists the flags of one of them. Codes begin with BOLTWARD_URL.")
	return b.String()
}

// printingNamed gives the first of args that names something to print; none where
// there is none.
func printingNamed(args []string) (printing, bool) {
	for _, a := range args {
		for _, p := range printings() {
			if p.name == a {
				return p, true
			}
		}
	}
	return printing{}, false
}

func runPrint(ctx context.Context, env Env, args []string) error {
	fs := newFlags("print")
	driveID := fs.String("drive", "", "the drive (`ID`); boltward drives lists them")
	out := fs.String("out", "", "the PDF to write (`FILE.pdf`)")
	what, named := printingNamed(args)
	var print func(context.Context, printJob) error
	if named {
		print = what.flags(fs)
	}
	words, err := fs.parse(args)
	var help *helpWanted
	switch {
	case errors.As(err, &help):
		return err
	case !named || len(words) > 1 || len(words) == 1 && words[0] != what.name:
		return usage("say what to print: %s", printingNames())
	case err != nil:
		return err
	case len(words) == 0:
		return usage("say what to print: %s", printingNames())
	case *driveID == "":
		return usage("print needs --drive; boltward drives lists them")
	case filepath.Ext(*out) != ".pdf":
		return usage("print needs --out with a name that ends in .pdf")
	}
	job := printJob{env: env, out: *out}
	if job.base, err = codesBegin(env); err != nil {
		return err
	}
	if what.links {
		if err := checkKey(env); err != nil {
			return err
		}
	}
	return withDrive(ctx, env, *driveID, func(store *postgres.Store, d drive.Drive) error {
		job.store, job.drive = store, d
		return print(ctx, job)
	})
}

func printingNames() string {
	var names []string
	for _, p := range printings() {
		names = append(names, p.name)
	}
	return strings.Join(names, ", ")
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

// paperSize reads the name of a size of paper; none is the usual one where the
// drive is.
func paperSize(d drive.Drive, name string) (paper.Sheet, error) {
	switch strings.ToLower(name) {
	case "":
		return paper.UsualSheet(d), nil
	case "a4":
		return paper.A4, nil
	case "letter":
		return paper.Letter, nil
	}
	return paper.Sheet{}, usage("--size is a4 or letter")
}
