-- +goose Up
-- The server's logins are members of boltward_server, which Migrate makes before this file
-- runs: a role belongs to the whole cluster, and several databases may share one.
-- Each later file grants that role what the server needs on its own tables and no more, so
-- that a table nobody thought about is closed to it rather than open.
REVOKE ALL ON SCHEMA public FROM PUBLIC;
GRANT USAGE ON SCHEMA public TO boltward_server;

-- The server compares what was migrated with what it knows before it answers anybody.
GRANT SELECT ON goose_db_version TO boltward_server;
