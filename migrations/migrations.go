// Package migrations holds the SQL that makes and changes the database, and
// runs it: forward only, first ours by goose, then those of River, the queue of
// background work, in the schema "river".
//
// Two database roles share the work. The owner owns every table and is the only
// one who migrates. The server's login is a member of the group role
// boltward_server (ServerRole) and has only what the SQL files grant to that
// group, so it can neither alter a table nor change a ledger. A Postgres of
// one's own is prepared once, by its superuser:
//
//	CREATE ROLE boltward_server NOLOGIN;
//	CREATE ROLE boltward_owner LOGIN PASSWORD '…';
//	CREATE ROLE boltward LOGIN PASSWORD '…' IN ROLE boltward_server;
//	CREATE DATABASE boltward OWNER boltward_owner;
//
// Then "boltward migrate" runs with boltward_owner in DATABASE_URL, and every
// other command with boltward in it. An owner that has CREATEROLE makes
// boltward_server itself.
//
// Migrate is safe to run from several processes at once and to repeat. Known
// reads only and works as the server's login.
package migrations

import "embed"

//go:embed *.sql
var files embed.FS

// ServerRole is the group role to which the SQL files grant what the server
// may do. It cannot log in; the server's logins are members of it.
const ServerRole = "boltward_server"
