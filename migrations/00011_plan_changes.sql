-- An accepted plan may be changed: another plan takes its place. That one keeps
-- what stood when it was asked for, and the problem with what it leaves as it is,
-- which is what its bound speaks of.
-- +goose Up
ALTER TABLE plans
    ADD COLUMN changes  bigint,
    ADD COLUMN standing jsonb,
    ADD COLUMN solved   jsonb,
    ADD CONSTRAINT plans_changes_fkey FOREIGN KEY (drive_id, changes) REFERENCES plans (drive_id, number),
    ADD CONSTRAINT plans_changes_earlier CHECK (changes < number),
    ADD CONSTRAINT plans_changes_standing CHECK ((changes IS NULL) = (standing IS NULL)),
    DROP CONSTRAINT plans_state_known,
    ADD CONSTRAINT plans_state_known CHECK (state IN ('waiting', 'running', 'ready', 'failed', 'accepted', 'dropped', 'replaced'));
CREATE INDEX plans_changes ON plans (drive_id, changes) WHERE changes IS NOT NULL;
GRANT UPDATE (solved) ON plans TO boltward_server;

-- A piece that came up short, or has a flaw: how much of it was found good, from the
-- squared end. Its cloth is no longer promised; the sheet waits for the
-- plan to be changed.
ALTER TABLE sheets
    ADD COLUMN short_at     timestamptz,
    ADD COLUMN short_length bigint,
    DROP CONSTRAINT sheets_state_known,
    ADD CONSTRAINT sheets_state_known CHECK (state IN ('waiting', 'on the table', 'cut', 'came up short', 'withdrawn'));

-- Sheets and kits that a changed plan leaves as they are go on under it; a sheet
-- that is laid out anew gets its next revision.
GRANT UPDATE (plan, used, short_at, short_length) ON sheets TO boltward_server;
GRANT UPDATE (plan) ON kits TO boltward_server;
GRANT DELETE ON panels, sheet_remnants TO boltward_server;

-- What a sheet was before a changed plan laid it out anew, so that an old print of
-- it can be told from the new one, and by which plan it was replaced.
CREATE TABLE sheet_revisions (
    drive_id    text        NOT NULL,
    sheet       bigint      NOT NULL,
    revision    integer     NOT NULL,
    plan        bigint      NOT NULL,
    used        bigint      NOT NULL,
    panels      jsonb       NOT NULL,
    remnants    jsonb       NOT NULL,
    replaced_by bigint      NOT NULL,
    replaced_at timestamptz NOT NULL,
    CONSTRAINT sheet_revisions_pkey PRIMARY KEY (drive_id, sheet, revision),
    CONSTRAINT sheet_revisions_sheet_fkey FOREIGN KEY (drive_id, sheet) REFERENCES sheets (drive_id, number),
    CONSTRAINT sheet_revisions_plan_fkey FOREIGN KEY (drive_id, replaced_by) REFERENCES plans (drive_id, number)
);
GRANT SELECT, INSERT ON sheet_revisions TO boltward_server;
