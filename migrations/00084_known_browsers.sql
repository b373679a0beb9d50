-- A sign-in at a browser that was known, and the first of an account, are told apart from those
-- of before, when nobody looked which browser it was: of these nothing is said. The last
-- sign-ins of one account are found without reading those of all.
-- +goose Up
ALTER TABLE sign_ins
    DROP CONSTRAINT sign_ins_told_known,
    ADD CONSTRAINT sign_ins_told_known CHECK (told IN ('known', 'first', 'on the page', 'queued', 'sending', 'sent', 'failed', 'perhaps sent'));
CREATE INDEX sign_ins_account_began ON sign_ins (account_id, began_at DESC);
