package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"golang.org/x/term"

	"boltward/internal/apperr"
)

// passphrase gives BOLTWARD_PASSPHRASE, else asks at the terminal without showing what is
// typed; twice where a slip of the finger would close a backup for good.
func (e Env) passphrase(ctx context.Context, twice bool) (string, error) {
	if text := e.Getenv("BOLTWARD_PASSPHRASE"); text != "" {
		return text, nil
	}
	in, ok := e.Stdin.(*os.File)
	if !ok || !term.IsTerminal(int(in.Fd())) {
		return "", apperr.Invalid("BOLTWARD_PASSPHRASE", "There is no terminal to ask for the passphrase at: set it here.")
	}
	text, err := askHidden(ctx, in, e.Stderr, "Passphrase: ")
	if err != nil || !twice {
		return text, err
	}
	again, err := askHidden(ctx, in, e.Stderr, "The same once more: ")
	if err == nil && again != text {
		err = apperr.Invalid("", "The two passphrases differ: nothing was done.")
	}
	return text, err
}

// askHidden reads a line. Where ctx ends first the terminal shows again what is typed.
func askHidden(ctx context.Context, in *os.File, out io.Writer, question string) (string, error) {
	before, err := term.GetState(int(in.Fd()))
	if err != nil {
		return "", fmt.Errorf("ask for the passphrase: %w", err)
	}
	fmt.Fprint(out, question)
	type answer struct {
		text []byte
		err  error
	}
	typed := make(chan answer, 1)
	go func() {
		text, err := term.ReadPassword(int(in.Fd()))
		typed <- answer{text, err}
	}()
	select {
	case <-ctx.Done():
		fmt.Fprintln(out)
		return "", errors.Join(ctx.Err(), term.Restore(int(in.Fd()), before))
	case a := <-typed:
		fmt.Fprintln(out)
		if errors.Is(a.err, io.EOF) {
			return "", apperr.Invalid("", "No passphrase was typed.")
		}
		return string(a.text), a.err
	}
}
