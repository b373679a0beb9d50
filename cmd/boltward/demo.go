package main

import (
	"context"
	"fmt"

	"boltward/internal/apperr"
	"boltward/internal/postgres"
)

func demoCommand() command {
	return command{
		name:    "demo",
		summary: "load an invented drive into an empty database",
		example: `boltward demo
boltward demo --if-empty`,
		more: `The drive has four weeks behind it: fabric from four drop-off days, an accepted and cut plan, kits that are out,
late, lost and back, a mended return, pillowcases brought in without a kit, deliveries of which one arrived with a count that differs. It is loaded
by the same operations that people use, whole or not at all. Nobody in it exists.`,
		run: runDemo,
	}
}

func runDemo(ctx context.Context, env Env, args []string) error {
	fs := newFlags("demo")
	ifEmpty := fs.Bool("if-empty", false, "do nothing where a drive is there already")
	if err := fs.none(args); err != nil {
		return err
	}
	return withStore(ctx, env, func(store *postgres.Store) error {
		return loadDemo(ctx, env, store, *ifEmpty)
	})
}

func loadDemo(ctx context.Context, env Env, store *postgres.Store, ifEmpty bool) error {
	drives, err := store.Drives(ctx)
	if err != nil {
		return err
	}
	if len(drives) > 0 {
		if ifEmpty {
			return nil
		}
		return apperr.Conflict("There is a drive here already: %s. The demo drive goes into an empty database only.", drives[0].Name)
	}
	env.say("Loading the demo drive (a few seconds)…")
	tale := &story{ctx: ctx, today: env.Now()}
	if err := store.Whole(ctx, tale.now, tale.tell); err != nil {
		return fmt.Errorf("load the demo drive: %w", err)
	}
	env.say("The demo drive is there: Lantern Row pillowcase drive.")
	return nil
}
