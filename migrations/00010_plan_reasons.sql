-- Why lines are short in a plan, found by planning again with what it leaves. It
-- is kept with the plan because that takes longer than opening a page should.
-- +goose Up
ALTER TABLE plans ADD COLUMN why jsonb;
GRANT UPDATE (why) ON plans TO boltward_server;
