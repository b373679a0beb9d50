package main

import (
	"net/url"
	"strconv"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/postgres"
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

// accountAddress gives the address of the page of one's own account.
func accountAddress(at *url.URL) string { return strings.TrimSuffix(at.String(), "/") + "/account" }
