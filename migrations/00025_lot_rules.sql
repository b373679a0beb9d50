-- What people decided by eye: two lots that never meet in one pillowcase, a print that
-- goes to one recipient alone. Plans made later keep to them until they are ended.
-- +goose Up
CREATE TABLE lot_rules (
    drive_id  text        NOT NULL,
    number    bigint      NOT NULL,
    lot       bigint      NOT NULL,
    other     bigint,
    recipient bigint,
    made_at   timestamptz NOT NULL,
    made_by   bigint      NOT NULL,
    ended_at  timestamptz,
    CONSTRAINT lot_rules_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT lot_rules_lot_fkey FOREIGN KEY (drive_id, lot) REFERENCES lots (drive_id, number),
    CONSTRAINT lot_rules_other_fkey FOREIGN KEY (drive_id, other) REFERENCES lots (drive_id, number),
    CONSTRAINT lot_rules_recipient_fkey FOREIGN KEY (drive_id, recipient) REFERENCES recipients (drive_id, number),
    CONSTRAINT lot_rules_one_kind CHECK ((other IS NULL) <> (recipient IS NULL) AND other <> lot)
);
CREATE UNIQUE INDEX lot_rules_never_once ON lot_rules (drive_id, least(lot, other), greatest(lot, other)) WHERE ended_at IS NULL AND other IS NOT NULL;
CREATE UNIQUE INDEX lot_rules_pinned_once ON lot_rules (drive_id, lot) WHERE ended_at IS NULL AND recipient IS NOT NULL;
GRANT SELECT, INSERT, UPDATE (ended_at) ON lot_rules TO boltward_server;
