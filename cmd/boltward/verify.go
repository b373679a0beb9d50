package main

import (
	"context"

	"boltward/internal/apperr"
	"boltward/internal/backup"
)

func verifyCommand() command {
	return command{
		name:    "verify",
		summary: "read a whole backup and say whether it is good; needs no database",
		example: `boltward verify drive-2026-03-14.boltward
boltward verify drive.boltward --identity /media/stick/boltward-key.txt`,
		more: `It asks for the passphrase (or takes BOLTWARD_PASSPHRASE); a backup made for a public key needs --identity. Everything is
decrypted, and every count and checksum held against what is there. It exits with 0 for a good backup, with 1 for one that is
damaged or cut short, and with 2 where the file is no backup, or is not opened by what was given.
--json gives {"file", "bytes", "sha256", "rows": number by table}.`,
		run: runVerify,
	}
}

func runVerify(ctx context.Context, env Env, args []string) error {
	fs := newFlags("verify")
	identity := fs.String("identity", "", "the `FILE` with the private key")
	asJSON := fs.Bool("json", false, "say as JSON what is in it")
	words, err := fs.parse(args)
	if err != nil {
		return err
	}
	if len(words) != 1 {
		return usage("name the file to read, and nothing else")
	}
	by, err := env.opener(ctx, words[0], *identity)
	if err != nil {
		return err
	}
	found, err := backup.Verify(ctx, words[0], by)
	if err != nil {
		return err
	}
	return told(env, words[0], found, *asJSON, "is good")
}

// opener gives what the file wants to be opened by.
func (e Env) opener(ctx context.Context, file, identity string) (backup.Opener, error) {
	byPassphrase, err := backup.For(file)
	switch {
	case err != nil:
		return backup.Opener{}, err
	case byPassphrase && identity != "":
		return backup.Opener{}, apperr.Invalid("--identity", "%s was made with a passphrase, not for a key: leave --identity out.", file)
	case byPassphrase:
		text, err := e.passphrase(ctx, false)
		if err != nil {
			return backup.Opener{}, err
		}
		return backup.WithPassphrase(text)
	case identity == "":
		return backup.Opener{}, apperr.Invalid("--identity", "%s was made for a public key: name the file with the private key.", file)
	}
	return backup.WithIdentities(identity)
}
