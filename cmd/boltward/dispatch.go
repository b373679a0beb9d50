package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"boltward/internal/apperr"
)

// Exit codes.
const (
	exitDone   = 0
	exitFailed = 1
	exitBad    = 2
)

// usageError is a command line that cannot be taken.
type usageError struct{ text string }

func (e *usageError) Error() string { return e.text }

func usage(format string, args ...any) error {
	return &usageError{fmt.Sprintf(format, args...)}
}

// dispatch runs the command that env.Args names and gives the exit code.
func dispatch(ctx context.Context, env Env, list []command) int {
	if len(env.Args) == 0 {
		for _, c := range list {
			if c.name == "serve" {
				return finish(env, c, asStopped(ctx, c.run(ctx, env, nil)))
			}
		}
		printCommands(env.Stdout, list)
		return exitDone
	}
	name, rest := env.Args[0], env.Args[1:]
	if name == "help" || name == "-h" || name == "--help" {
		if len(rest) == 0 {
			printCommands(env.Stdout, list)
			return exitDone
		}
		name, rest = rest[0], []string{"--help"}
	}
	for _, c := range list {
		if c.name == name {
			if asksForObjects(rest) {
				objects := &messages{out: env.Stderr}
				defer objects.end()
				env.Stderr = objects
			}
			return finish(env, c, asStopped(ctx, c.run(ctx, env, rest)))
		}
	}
	fmt.Fprintf(env.Stderr, "boltward: there is no command %q; boltward help lists them\n", name)
	return exitBad
}

// asStopped says in words that a command was stopped by Ctrl-C, beside what else went wrong.
func asStopped(ctx context.Context, err error) error {
	if ctx.Err() == nil || !errors.Is(err, context.Canceled) || apperr.As(err) != nil {
		return err
	}
	if joined, several := err.(interface{ Unwrap() []error }); several {
		var all []error
		for _, one := range joined.Unwrap() {
			all = append(all, asStopped(ctx, one))
		}
		return errors.Join(all...)
	}
	return errors.New("stopped before it was done")
}

// finish says on standard error how a command ended and chooses the exit code.
func finish(env Env, c command, err error) int {
	var help *helpWanted
	var bad *usageError
	objects, asObjects := env.Stderr.(*messages)
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &help):
		printHelp(env.Stdout, c, help)
		return exitDone
	case asObjects:
		objects.failed(err)
		if errors.As(err, &bad) || apperr.Is(err, apperr.KindInvalid) {
			return exitBad
		}
		return exitFailed
	case errors.As(err, &bad):
		fmt.Fprintf(env.Stderr, "boltward %s: %v\n", c.name, err)
		fmt.Fprintf(env.Stderr, "boltward help %s shows an example\n", c.name)
		return exitBad
	case apperr.Is(err, apperr.KindInvalid):
		printFaults(env.Stderr, c, apperr.As(err))
		return exitBad
	}
	fmt.Fprintf(env.Stderr, "boltward %s: %v\n", c.name, err)
	return exitFailed
}

// printFaults gives each fault a line of its own, by its field or path.
func printFaults(w io.Writer, c command, e *apperr.Error) {
	if e.Text != "" {
		fmt.Fprintf(w, "boltward %s: %s\n", c.name, e.Text)
	}
	for _, f := range e.Fields {
		if f.Name == "" {
			fmt.Fprintf(w, "boltward %s: %s\n", c.name, f.Why)
			continue
		}
		fmt.Fprintf(w, "boltward %s: %s: %s\n", c.name, f.Name, f.Why)
	}
}

func printCommands(w io.Writer, list []command) {
	fmt.Fprint(w, "boltward runs a sewing drive, from donated fabric to pillowcases counted on a ward.\n\nCommands:\n")
	for _, c := range list {
		fmt.Fprintf(w, "  %-9s %s\n", c.name, c.summary)
	}
	fmt.Fprint(w, "\nboltward help COMMAND shows an example and the flags.\n")
}

func printHelp(w io.Writer, c command, help *helpWanted) {
	fmt.Fprintf(w, "boltward %s: %s\n\nExample:\n", c.name, c.summary)
	for line := range strings.Lines(strings.TrimSpace(c.example) + "\n") {
		fmt.Fprintf(w, "  %s", line)
	}
	help.printFlags(w)
	if c.more != "" {
		fmt.Fprintf(w, "\n%s\n", strings.TrimSpace(c.more))
	}
}
