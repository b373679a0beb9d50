package main

import (
	"net/url"
	"strings"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/mail"
)

// mailServer reads where mail is handed over. Messages hold links, which need the
// address that people open; a key of its own would make links that open nothing.
func mailServer(env Env) (mail.Server, error) {
	server, err := mail.ParseServer(env.Getenv("SMTP_URL"))
	if err != nil || !server.Set() {
		return server, err
	}
	if env.Getenv("BOLTWARD_URL") == "" {
		return server, apperr.Invalid("SMTP_URL", "Messages hold links: set BOLTWARD_URL too, the address that people open.")
	}
	return server, nil
}

// personalAddress gives the address that the personal link of an id opens; empty
// where there is no link.
func personalAddress(at *url.URL, key account.Key) func(id string) string {
	return func(id string) string {
		if id == "" {
			return ""
		}
		return strings.TrimSuffix(at.String(), "/") + key.PersonalPath(id)
	}
}
