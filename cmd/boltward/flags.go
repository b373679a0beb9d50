package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"strings"
)

// flagSet is the standard library's, read so that flags may stand before or after
// what has no flag: plan problem.json --out plan.json.
type flagSet struct{ *flag.FlagSet }

// newFlags begins the flags of a command. Describe each flag's value by a word in
// backquotes in its usage, as package flag has it.
func newFlags(name string) flagSet {
	fs := flag.NewFlagSet(name, flag.ContinueOnError)
	fs.SetOutput(io.Discard)
	return flagSet{fs}
}

// parse reads args and gives what has no flag, in order; everything after -- is
// that. It returns a usage error, or what makes dispatch print the help.
func (fs flagSet) parse(args []string) ([]string, error) {
	var plain []string
	for {
		if err := fs.Parse(args); err != nil {
			if errors.Is(err, flag.ErrHelp) {
				return nil, &helpWanted{fs}
			}
			return nil, usage("%s", strings.Replace(err.Error(), "flag provided but not defined: -", "there is no flag --", 1))
		}
		rest := fs.Args()
		if read := len(args) - len(rest); read > 0 && args[read-1] == "--" {
			return append(plain, rest...), nil
		}
		if len(rest) == 0 {
			return plain, nil
		}
		plain, args = append(plain, rest[0]), rest[1:]
	}
}

// none refuses arguments that no flag goes before.
func (fs flagSet) none(args []string) error {
	plain, err := fs.parse(args)
	if err == nil && len(plain) > 0 {
		return usage("%q is out of place: every value has its flag", plain[0])
	}
	return err
}

// given says which flags were on the command line.
func (fs flagSet) given() map[string]bool {
	set := map[string]bool{}
	fs.Visit(func(f *flag.Flag) { set[f.Name] = true })
	return set
}

// helpWanted is returned by a command that was asked for help.
type helpWanted struct{ fs flagSet }

func (*helpWanted) Error() string { return "help was asked for" }

func (h *helpWanted) printFlags(w io.Writer) {
	first := true
	h.fs.VisitAll(func(f *flag.Flag) {
		if first {
			fmt.Fprint(w, "\nFlags:\n")
			first = false
		}
		value, text := flag.UnquoteUsage(f)
		if value != "" {
			value = " " + value
		}
		if f.DefValue != "" && f.DefValue != "false" && f.DefValue != "0" {
			text += " (default " + f.DefValue + ")"
		}
		fmt.Fprintf(w, "  %-24s %s\n", "--"+f.Name+value, text)
	})
}
