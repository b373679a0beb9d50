-- When the rest of a drive will be done is played through some hundred times. Where many people sew
-- that takes long, and whoever opens a page would wait for it: a job does it, and what it found is kept.
-- found is null where it is done so quickly that pages do it themselves; trail is the newest entry of
-- the drive's trail that it knew of.
-- +goose Up
CREATE TABLE forecasts (
    drive_id text             NOT NULL,
    made_at  timestamptz      NOT NULL,
    today    date             NOT NULL,
    seconds  double precision NOT NULL,
    form     integer          NOT NULL,
    trail    bigint           NOT NULL,
    found    jsonb,
    CONSTRAINT forecasts_pkey PRIMARY KEY (drive_id),
    CONSTRAINT forecasts_drive_fkey FOREIGN KEY (drive_id) REFERENCES drives (id),
    CONSTRAINT forecasts_seconds_positive CHECK (seconds >= 0)
);
GRANT SELECT, INSERT, UPDATE (made_at, today, seconds, form, trail, found) ON forecasts TO boltward_server;
