-- Which cloth to ask donors for is found by planning again with what could come,
-- which takes seconds: it is background work, and what was found is kept with
-- the plan that it was found beside. That plan is also what a lot at intake is held
-- against while somebody waits. One row a drive; nothing is counted from it.
-- +goose Up
CREATE TABLE asks (
    drive_id text             NOT NULL,
    state    text             NOT NULL,
    problem  jsonb,
    plan     jsonb,
    wishes   jsonb,
    seconds  double precision NOT NULL DEFAULT 0,
    trouble  text             NOT NULL DEFAULT '',
    asked_at timestamptz      NOT NULL,
    made_at  timestamptz,
    CONSTRAINT asks_pkey PRIMARY KEY (drive_id),
    CONSTRAINT asks_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT asks_state_known CHECK (state IN ('waiting', 'running', 'ready', 'failed')),
    CONSTRAINT asks_whole CHECK ((made_at IS NULL) = (wishes IS NULL) AND (wishes IS NULL) = (problem IS NULL) AND (problem IS NULL) = (plan IS NULL))
);
GRANT SELECT, INSERT, UPDATE (state, problem, plan, wishes, seconds, trouble, asked_at, made_at) ON asks TO boltward_server;
