// Command boltward runs a charity sewing drive: donated fabric in, pillowcases
// counted on a ward out. Results go to standard output, progress and errors to
// standard error; it exits with 0 when done, 1 when it failed and 2 when what it
// was given cannot be taken.
package main

import (
	"context"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"
)

// Env is what a command may use of the world around it, so that tests can run
// commands as people do.
type Env struct {
	Args   []string // without the program's name
	Stdin  io.Reader
	Stdout io.Writer
	Stderr io.Writer
	Getenv func(string) string
	Now    func() time.Time
	// GiveWay asks the system to let other processes go before this one; nil where a test's
	// process would give way.
	GiveWay func() error
}

// command is one word after boltward. run gets what follows the word; it reads it
// with a flagSet, so that --help works, and returns a usage or an apperr error for
// what a person may mend.
type command struct {
	name    string
	summary string // one line
	example string // one or more lines to copy
	more    string // for --help: what a program reading --json finds, and the like
	run     func(ctx context.Context, env Env, args []string) error
}

// commands lists the whole program, in the order of the help. Told nothing, boltward
// does serve.
func commands() []command {
	return []command{
		serveCommand(),
		workCommand(),
		demoCommand(),
		migrateCommand(),
		drivesCommand(),
		userCommand(),
		sizeCommand(),
		planCommand(),
		replanCommand(),
		askCommand(),
		yieldCommand(),
		fabricCommand(),
		stocktakeCommand(),
		suppliesCommand(),
		importCommand(),
		exportCommand(),
		aboutCommand(),
		printCommand(),
		backupCommand(),
		verifyCommand(),
		restoreCommand(),
		erasedCommand(),
		checkCommand(),
	}
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// A second Ctrl-C ends the program at once.
	context.AfterFunc(ctx, stop)
	env := Env{Args: os.Args[1:], Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr, Getenv: os.Getenv, Now: time.Now, GiveWay: giveWay}
	code := dispatch(ctx, env, commands())
	stop()
	os.Exit(code)
}
