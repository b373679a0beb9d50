package main

import (
	"cmp"
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"net"
	"net/url"
	"strconv"
	"strings"
	"text/tabwriter"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

func userCommand() command {
	return command{
		name:    "user",
		summary: "people who sign in: add one, list them, make a link, give a role, reset a second step, erase",
		example: `boltward user add --name "Rosa Lind" --email rosa@example.org --drive spring --role desk
boltward user list
boltward user link --email rosa@example.org
boltward user role --email rosa@example.org --drive spring --role organiser
boltward user role --email rosa@example.org --drive spring --role none
boltward user second-step --email rosa@example.org --off
boltward user erase --email rosa@example.org`,
		more: `Roles: organiser, desk, cutting, packing, reader; none takes the role away.
add and link print a link by which that person chooses a password; it works once, for three days. A second step is asked
all the same.
second-step --off is for somebody who has lost both the phone that makes the codes and the recovery codes. It turns the
second step off, ends every session of theirs and stands in the trail; the password stays. No page does this, so that no
organiser can take over another's account: make sure, not by e-mail alone, that it is they who ask.
erase forgets who somebody is: name, address, initials, password, second step and roles go for good. What they did keeps
a number in the trail and the books. The only organiser of a drive stays until another is made.
list --json gives an array of {"name", "email", "password": chosen or not, "second_step": on or not, "opens": may start drives, "roles": [{"drive", "role"}]}.`,
		run: runUser,
	}
}

// userFlags are what the words after user share.
type userFlags struct {
	flagSet
	name, email, drive, role *string
	opens, json, off         *bool
	serve                    serveConfig // by which the link is addressed that add and link print
}

func newUserFlags() userFlags {
	fs := newFlags("user")
	return userFlags{
		flagSet: fs,
		name:    fs.String("name", "", "what people call them (`NAME`)"),
		email:   fs.String("email", "", "the address they sign in with (`ADDRESS`)"),
		drive:   fs.String("drive", "", "the drive of the role (`ID`)"),
		role:    fs.String("role", "", "what they are there (`ROLE`)"),
		opens:   fs.Bool("opens", false, "add: they may start drives of their own"),
		json:    fs.Bool("json", false, "list: as JSON"),
		off:     fs.Bool("off", false, "second-step: turn it off"),
	}
}

func runUser(ctx context.Context, env Env, args []string) error {
	flags := newUserFlags()
	words, err := flags.parse(args)
	if err != nil {
		return err
	}
	works := map[string]func(context.Context, Env, *postgres.Store, userFlags) error{
		"add": addUser, "list": listUsers, "link": linkUser, "role": giveRole, "second-step": resetSecondStep, "erase": eraseUser,
	}
	if len(words) != 1 || works[words[0]] == nil {
		return usage("say one of add, list, link, role, second-step, erase")
	}
	if err := flags.check(words[0]); err != nil {
		return err
	}
	if words[0] == "add" || words[0] == "link" { // they print a link
		if flags.serve, err = readServeConfig(env); err != nil {
			return err
		}
	}
	return withStore(ctx, env, func(store *postgres.Store) error {
		return works[words[0]](ctx, env, store, flags)
	})
}

// check refuses a command line before anything is started.
func (f userFlags) check(word string) error {
	switch {
	case word != "list" && *f.email == "":
		return usage("%s needs --email", word)
	case word == "add" && *f.name == "":
		return usage("add needs --name")
	case word == "add" && (*f.drive == "") != (*f.role == ""):
		return usage("--drive and --role go together")
	case word == "role" && (*f.drive == "" || *f.role == ""):
		return usage("role needs --drive and --role")
	case word == "second-step" && !*f.off:
		return usage("second-step needs --off; people turn it on themselves, on the page of their account")
	}
	if *f.role == "" || (*f.role == "none" && word == "role") {
		return nil
	}
	_, err := account.ParseRole(*f.role)
	return err
}

func addUser(ctx context.Context, env Env, store *postgres.Store, f userFlags) error {
	key, err := installationKey(env)
	if err != nil {
		return err
	}
	if *f.drive != "" {
		if _, err := store.Drive(ctx, *f.drive); err != nil {
			return err
		}
	}
	p, err := store.AddAccount(ctx, commandAct(env, ""), *f.name, *f.email, *f.opens)
	if err != nil {
		return err
	}
	if *f.drive != "" {
		if err := store.SetRole(ctx, commandAct(env, *f.drive), p.Email, account.Role(*f.role)); err != nil {
			return err
		}
	}
	return printLink(ctx, env, store, f.serve, key, p.Email)
}

func linkUser(ctx context.Context, env Env, store *postgres.Store, f userFlags) error {
	key, err := installationKey(env)
	if err != nil {
		return err
	}
	return printLink(ctx, env, store, f.serve, key, *f.email)
}

func printLink(ctx context.Context, env Env, store *postgres.Store, cfg serveConfig, key account.Key, email string) error {
	id, err := store.AccountLink(ctx, commandAct(env, ""), email)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(env.Stdout, "%s/sign-in/link/%s\n", usualURL(env, cfg), key.Sign(id))
	return err
}

func giveRole(ctx context.Context, env Env, store *postgres.Store, f userFlags) error {
	role := account.Role(*f.role)
	if role == "none" {
		role = ""
	}
	if err := store.SetRole(ctx, commandAct(env, *f.drive), *f.email, role); err != nil {
		return err
	}
	env.say(fmt.Sprintf("%s is %s in %s now.", *f.email, cmp.Or(string(role), "nobody"), *f.drive))
	return nil
}

func resetSecondStep(ctx context.Context, env Env, store *postgres.Store, f userFlags) error {
	if err := store.ResetSecondStep(ctx, commandAct(env, ""), *f.email); err != nil {
		return err
	}
	env.say(fmt.Sprintf("%s signs in with the password alone now, and is signed out everywhere.", *f.email))
	return nil
}

func eraseUser(ctx context.Context, env Env, store *postgres.Store, f userFlags) error {
	id, err := store.AccountOf(ctx, *f.email)
	if err != nil {
		return err
	}
	if err := store.EraseAccount(ctx, commandAct(env, ""), id); err != nil {
		return err
	}
	env.say(fmt.Sprintf("Account %d is erased. What it did keeps that number.", id))
	return nil
}

func listUsers(ctx context.Context, env Env, store *postgres.Store, f userFlags) error {
	lines, err := store.Accounts(ctx)
	if err != nil {
		return err
	}
	if *f.json {
		return printUsersJSON(env, lines)
	}
	if len(lines) == 0 {
		env.say("Nobody signs in yet. boltward serve shows a link for the first organiser.")
		return nil
	}
	w := tabwriter.NewWriter(env.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "name\te-mail\tpassword\tsecond step\troles")
	for _, l := range lines {
		roles := make([]string, len(l.Roles))
		for i, r := range l.Roles {
			roles[i] = fmt.Sprintf("%s: %s", r.DriveID, r.Role)
		}
		password := "not chosen yet"
		if l.HasPassword {
			password = "chosen"
		}
		second := "off"
		if l.Second {
			second = "on"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", l.Name, l.Email, password, second, strings.Join(roles, ", "))
	}
	return w.Flush()
}

func printUsersJSON(env Env, lines []postgres.AccountLine) error {
	type role struct {
		Drive string       `json:"drive"`
		Role  account.Role `json:"role"`
	}
	type user struct {
		Name     string `json:"name"`
		Email    string `json:"email"`
		Password bool   `json:"password"`
		Second   bool   `json:"second_step"`
		Opens    bool   `json:"opens"`
		Roles    []role `json:"roles"`
	}
	users := make([]user, len(lines))
	for i, l := range lines {
		users[i] = user{l.Name, l.Email, l.HasPassword, l.Second, l.Opens, []role{}}
		for _, r := range l.Roles {
			users[i].Roles = append(users[i].Roles, role{r.DriveID, r.Role})
		}
	}
	out := json.NewEncoder(env.Stdout)
	out.SetIndent("", "  ")
	return out.Encode(users)
}

// commandAct is a wish of the command line, in a drive or outside them.
func commandAct(env Env, driveID string) drive.Act {
	return drive.Act{Drive: driveID, Key: rand.Text(), At: env.Now(), Request: "command line"}
}

// usualURL is the address of links made while no page is being served.
func usualURL(env Env, cfg serveConfig) *url.URL {
	port, err := strconv.Atoi(cmp.Or(env.Getenv("PORT"), "8080"))
	if err != nil || port == 0 {
		port = 8080
	}
	return publicURL(cfg, &net.TCPAddr{IP: net.ParseIP(cmp.Or(env.Getenv("HOST"), "127.0.0.1")), Port: port})
}
