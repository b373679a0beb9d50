-- A person may stop a plan that is being worked out and keep the best so far.
-- The worker, which may run on another machine, reads that here.
-- +goose Up
ALTER TABLE plans ADD COLUMN stopping boolean NOT NULL DEFAULT false;
GRANT UPDATE (stopping) ON plans TO boltward_server;

-- Withdrawing and printing take all sheets and kits of one plan.
CREATE INDEX sheets_plan ON sheets (drive_id, plan);
CREATE INDEX kits_plan ON kits (drive_id, plan) WHERE plan IS NOT NULL;
