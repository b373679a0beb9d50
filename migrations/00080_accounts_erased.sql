-- Somebody who signs in may be erased, as those who sew and donors may: the number stays, so
-- that the trail and the ledgers say who did what, and nothing else of them does.
-- +goose Up
ALTER TABLE accounts
    ADD COLUMN erased_at timestamptz,
    ALTER COLUMN email DROP NOT NULL, -- nobody signs in with none
    DROP CONSTRAINT accounts_initials_short,
    ADD CONSTRAINT accounts_initials_short CHECK (length(initials) <= 6 AND (initials = '') = (erased_at IS NOT NULL)),
    ADD CONSTRAINT accounts_email_said CHECK ((email IS NULL) = (erased_at IS NOT NULL)),
    ADD CONSTRAINT accounts_erased_whole CHECK (erased_at IS NULL OR (password = '' AND NOT opens));

-- The trail only grows, so nothing that could have to go may stand in it: initials follow
-- from who it was, an account or a helper at a pass, and are looked up there.
ALTER TABLE audit DROP COLUMN initials;
