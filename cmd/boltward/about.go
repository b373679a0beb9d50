package main

import (
	"context"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

func aboutCommand() command {
	return command{
		name:    "about",
		summary: "write all that is kept about one person, for them to have",
		example: `boltward about --drive spring --person 12
boltward about --drive spring --donor 7 --json
boltward about --email rosa@example.org`,
		more: `--person is somebody who sews, --donor a donor, --email somebody who signs in, in every drive.
It is text to read; --json gives {"who", "drive", "made_at", "parts": [{"name", "rows": [{name: value}]}]}, all values text.
Passwords, sessions and links are no part of it.`,
		run: runAbout,
	}
}

func runAbout(ctx context.Context, env Env, args []string) error {
	fs := newFlags("about")
	driveID := fs.String("drive", "", "the drive (`ID`); boltward drives lists them")
	person := fs.Int64("person", 0, "the number of somebody who sews (`N`)")
	donor := fs.Int64("donor", 0, "the number of a donor (`N`)")
	email := fs.String("email", "", "the address somebody signs in with (`ADDRESS`)")
	asJSON := fs.Bool("json", false, "for another program")
	if err := fs.none(args); err != nil {
		return err
	}
	named := 0
	for _, is := range []bool{*person != 0, *donor != 0, *email != ""} {
		if is {
			named++
		}
	}
	switch {
	case named != 1:
		return usage("say about whom: one of --person, --donor and --email")
	case *email == "" && *driveID == "":
		return usage("about needs --drive; boltward drives lists them")
	}
	return withStore(ctx, env, func(store *postgres.Store) error {
		var about drive.About
		var err error
		switch {
		case *person != 0:
			about, err = store.AboutPerson(ctx, *driveID, *person)
		case *donor != 0:
			about, err = store.AboutDonor(ctx, *driveID, *donor)
		default:
			var id int64
			if id, err = store.AccountOf(ctx, *email); err == nil {
				about, err = store.AboutAccount(ctx, id)
			}
		}
		if err != nil {
			return err
		}
		if *asJSON {
			return about.WriteJSON(env.Stdout)
		}
		return about.WriteText(env.Stdout)
	})
}
