-- Personal links: the page that somebody who sews, or a recipient, opens without
-- signing in; and what those who sew say there of their kits. It moves nothing by
-- itself: a kit is where the whereabouts ledger says.
-- +goose Up
ALTER TABLE links
    ADD COLUMN drive_id  text,
    ADD COLUMN person    bigint,
    ADD COLUMN recipient bigint,
    DROP CONSTRAINT links_purpose_known,
    ADD CONSTRAINT links_purpose_known CHECK (purpose IN ('first', 'account', 'person', 'recipient')),
    ADD CONSTRAINT links_person_named CHECK ((purpose = 'person') = (person IS NOT NULL)),
    ADD CONSTRAINT links_recipient_named CHECK ((purpose = 'recipient') = (recipient IS NOT NULL)),
    ADD CONSTRAINT links_drive_named CHECK ((purpose IN ('person', 'recipient')) = (drive_id IS NOT NULL)),
    ADD CONSTRAINT links_person_fkey FOREIGN KEY (drive_id, person) REFERENCES people (drive_id, number),
    ADD CONSTRAINT links_recipient_fkey FOREIGN KEY (drive_id, recipient) REFERENCES recipients (drive_id, number);
-- One good link each, so that what is printed twice is the same.
CREATE UNIQUE INDEX links_person_once ON links (drive_id, person) WHERE person IS NOT NULL AND revoked_at IS NULL;
CREATE UNIQUE INDEX links_recipient_once ON links (drive_id, recipient) WHERE recipient IS NOT NULL AND revoked_at IS NULL;

-- Whose personal link did it, as "person 12": then who is 0.
ALTER TABLE audit ADD COLUMN link text NOT NULL DEFAULT '';
GRANT INSERT (link) ON audit TO boltward_server;

-- What a holder says of a kit. One of each kind stands for a kit at a time.
CREATE TABLE kit_reports (
    drive_id text        NOT NULL,
    number   bigint      NOT NULL,
    kit      bigint      NOT NULL,
    part     integer     NOT NULL,
    person   bigint      NOT NULL,
    kind     text        NOT NULL,
    cases    integer, -- finished so far
    until    date,    -- the day that is asked for
    note     text        NOT NULL DEFAULT '',
    at       timestamptz NOT NULL,
    request  text        NOT NULL DEFAULT '',
    ended_at timestamptz,
    ended    text        NOT NULL DEFAULT '',
    CONSTRAINT kit_reports_pkey PRIMARY KEY (drive_id, number),
    CONSTRAINT kit_reports_kit_fkey FOREIGN KEY (drive_id, kit, part) REFERENCES kits (drive_id, number, part),
    CONSTRAINT kit_reports_person_fkey FOREIGN KEY (drive_id, person) REFERENCES people (drive_id, number),
    CONSTRAINT kit_reports_kind_known CHECK (kind IN ('finished', 'longer', 'cannot')),
    CONSTRAINT kit_reports_cases CHECK (CASE WHEN kind = 'finished' THEN cases BETWEEN 1 AND 500 ELSE cases IS NULL END),
    CONSTRAINT kit_reports_until CHECK ((kind = 'longer') = (until IS NOT NULL)),
    CONSTRAINT kit_reports_note_short CHECK (length(note) <= 500),
    CONSTRAINT kit_reports_ended_how CHECK (ended IN ('', 'replaced', 'taken back', 'moved', 'answered') AND (ended = '') = (ended_at IS NULL))
);
CREATE UNIQUE INDEX kit_reports_standing ON kit_reports (drive_id, kit, part, kind) WHERE ended_at IS NULL;
CREATE INDEX kit_reports_person ON kit_reports (drive_id, person);

-- A kit that changes hands or size leaves what was said of it behind; another day
-- answers the wish for one.
-- +goose StatementBegin
CREATE FUNCTION kit_reports_end() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
    UPDATE kit_reports r SET ended_at = now(), ended = 'moved'
    WHERE r.drive_id = NEW.drive_id AND r.kit = NEW.number AND r.part = NEW.part AND r.ended_at IS NULL
        AND (r.kind = 'longer' OR NEW.state <> OLD.state OR NEW.holder IS DISTINCT FROM OLD.holder OR NEW.cases <> OLD.cases);
    RETURN NULL;
END $$;
-- +goose StatementEnd
REVOKE EXECUTE ON FUNCTION kit_reports_end FROM PUBLIC;
CREATE TRIGGER kits_end_reports AFTER UPDATE ON kits FOR EACH ROW
    WHEN (OLD.state = 'out' AND (NEW.state, NEW.holder, NEW.cases, NEW.due) IS DISTINCT FROM (OLD.state, OLD.holder, OLD.cases, OLD.due))
    EXECUTE FUNCTION kit_reports_end();

GRANT SELECT, INSERT, UPDATE (ended_at, ended) ON kit_reports TO boltward_server;
