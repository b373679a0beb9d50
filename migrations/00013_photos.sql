-- One photo a lot, shrunk. It is kept under its own fingerprint before the form
-- that brought it is taken, so that a form that comes back does not lose it; one
-- that no lot has after a day goes.
-- +goose Up
CREATE TABLE photos (
    drive_id  text        NOT NULL,
    hash      text        NOT NULL,
    full_jpg  bytea       NOT NULL,
    small_jpg bytea       NOT NULL,
    width     integer     NOT NULL,
    height    integer     NOT NULL,
    kept_at   timestamptz NOT NULL,
    CONSTRAINT photos_pkey PRIMARY KEY (drive_id, hash),
    CONSTRAINT photos_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT photos_hash_form CHECK (hash ~ '^[0-9a-f]{64}$'),
    CONSTRAINT photos_size CHECK (length(full_jpg) BETWEEN 1 AND 8388608 AND length(small_jpg) BETWEEN 1 AND 1048576)
);
CREATE INDEX photos_kept_at ON photos (kept_at);

ALTER TABLE lots
    ADD COLUMN photo text,
    ADD CONSTRAINT lots_photo_fkey FOREIGN KEY (drive_id, photo) REFERENCES photos (drive_id, hash);
CREATE INDEX lots_photo ON lots (drive_id, photo) WHERE photo IS NOT NULL;

GRANT SELECT, INSERT, UPDATE (kept_at), DELETE ON photos TO boltward_server;
