package localpg

import (
	"context"
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
)

const (
	adminLogin    = "postgres"
	adminDatabase = "postgres"
	ownerLogin    = "boltward_owner"
	serverLogin   = "boltward"
	serverGroup   = "boltward_server" // what the migrations grant to
	database      = "boltward"
)

// url names the socket first and the port second: a socket whose folder was
// swept away from the temporary files still leaves the other.
func (s *Server) url(login, password, database string) string {
	port := strconv.Itoa(s.server.port)
	q := url.Values{
		"host":    {s.server.sockets + ",127.0.0.1"},
		"port":    {port + "," + port},
		"sslmode": {"disable"},
	}
	u := url.URL{Scheme: "postgres", User: url.UserPassword(login, password), Path: "/" + database, RawQuery: q.Encode()}
	return u.String()
}

// answers says whether the Postgres at s.server is really the one of this
// folder: it knows our password and names the same process in its own lock file.
func (s *Server) answers(ctx context.Context) bool {
	ctx, cancel := context.WithTimeout(ctx, 3*time.Second)
	defer cancel()
	conn, err := pgx.Connect(ctx, s.AdminURL())
	if err != nil {
		return false
	}
	defer conn.Close(ctx)
	const lockFile = `SELECT pg_read_file('postmaster.pid')`
	var text string
	if err := conn.QueryRow(ctx, lockFile).Scan(&text); err != nil {
		return false
	}
	pid, _, _ := strings.Cut(text, "\n")
	return pid == strconv.Itoa(s.server.pid)
}

// ensureLogins makes the logins and the database that are not there yet, so
// that a first start cut short is finished by the next.
func ensureLogins(ctx context.Context, adminURL string, s secrets) error {
	conn, err := pgx.Connect(ctx, adminURL)
	if err != nil {
		return fmt.Errorf("connect: %w", err)
	}
	defer conn.Close(ctx)
	// None of these statements takes placeholders; the passwords are of letters
	// and digits only.
	for _, role := range []struct{ name, create string }{
		{serverGroup, `CREATE ROLE ` + serverGroup + ` NOLOGIN`},
		{ownerLogin, `CREATE ROLE ` + ownerLogin + ` LOGIN PASSWORD '` + s.Owner + `'`},
		{serverLogin, `CREATE ROLE ` + serverLogin + ` LOGIN PASSWORD '` + s.Server + `' IN ROLE ` + serverGroup},
	} {
		const find = `SELECT EXISTS (SELECT FROM pg_roles WHERE rolname = $1)`
		if err := ensure(ctx, conn, find, role.name, role.create); err != nil {
			return fmt.Errorf("role %s: %w", role.name, err)
		}
	}
	const find = `SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1)`
	const create = `CREATE DATABASE ` + database + ` OWNER ` + ownerLogin
	if err := ensure(ctx, conn, find, database, create); err != nil {
		return fmt.Errorf("database %s: %w", database, err)
	}
	return nil
}

func ensure(ctx context.Context, conn *pgx.Conn, find, name, create string) error {
	var exists bool
	if err := conn.QueryRow(ctx, find, name).Scan(&exists); err != nil || exists {
		return err
	}
	_, err := conn.Exec(ctx, create)
	return err
}
