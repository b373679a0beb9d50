-- The recipient's rules as they were gone through when a box was closed: each was
-- ticked, or somebody said why the box goes as it is.
-- +goose Up
CREATE TABLE box_rules (
    drive_id text    NOT NULL,
    box      bigint  NOT NULL,
    line     integer NOT NULL,
    rule     text    NOT NULL,
    kept     boolean NOT NULL,
    why      text    NOT NULL DEFAULT '', -- where it was not kept
    CONSTRAINT box_rules_pkey PRIMARY KEY (drive_id, box, line),
    CONSTRAINT box_rules_box_fkey FOREIGN KEY (drive_id, box) REFERENCES boxes (drive_id, number),
    CONSTRAINT box_rules_kept_or_why CHECK (kept OR why <> '')
);
GRANT SELECT, INSERT, UPDATE (why) ON box_rules TO boltward_server;
