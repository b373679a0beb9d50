package main

import (
	"net/url"
	"strconv"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/postgres"
	"boltward/internal/site"
)

// signInsHelp is part of the help of the commands that need to know how long sign-ins are kept.
const signInsHelp = `
  BOLTWARD_SIGN_INS_DAYS  how many days it stays known when people signed in, and by which browsers they are known (90; 7 to 400)`

// signInsKept reads for how long it stays known where people signed in.
func signInsKept(env Env) (time.Duration, error) {
	text := env.Getenv("BOLTWARD_SIGN_INS_DAYS")
	if text == "" {
		return postgres.SignInsKept, nil
	}
	const day = 24 * time.Hour
	n, err := strconv.ParseUint(text, 10, 16)
	least := uint64(postgres.SignInsKeptLeast / day)
	if err != nil || n < least || n > 400 {
		return 0, apperr.Invalid("BOLTWARD_SIGN_INS_DAYS", "It is a number of days from %d, as long as a session lives, to 400.", least)
	}
	return time.Duration(n) * day, nil
}

// idleHelp is part of the help of serve.
const idleHelp = `
  BOLTWARD_IDLE_MINUTES   after how many minutes without use somebody who signed in has to sign in again
                      (120; 5 to 10080; 0: never, but for the seven days after which everybody has to). What a page asks
                      by itself is no use; a tablet's pass stays open until its day is over`

// idleTimeout reads after how long without use a session is over, 0 for never.
func idleTimeout(env Env) (time.Duration, error) {
	text := env.Getenv("BOLTWARD_IDLE_MINUTES")
	if text == "" {
		return site.IdleUsual, nil
	}
	least, most := uint64(site.IdleLeast/time.Minute), uint64(site.IdleMost/time.Minute)
	n, err := strconv.ParseUint(text, 10, 32)
	if err != nil || n != 0 && (n < least || n > most) {
		return 0, apperr.Invalid("BOLTWARD_IDLE_MINUTES", "It is a number of minutes from %d to %d, as long as a session lives, or 0 for never.", least, most)
	}
	return time.Duration(n) * time.Minute, nil
}

// accountAddress gives the address of the page of one's own account.
func accountAddress(at *url.URL) string { return strings.TrimSuffix(at.String(), "/") + "/account" }
