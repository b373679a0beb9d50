-- A form that was sent twice is known by its own key, not by the words of a browser, which anybody
-- may have: here stands a keyed fingerprint of it, by account. The row of another form is another's.
-- +goose Up
ALTER TABLE half_sign_ins
    ADD COLUMN form bytea, -- none where a program signed in, or before this column
    ADD CONSTRAINT half_sign_ins_form_whole CHECK (length(form) = 32);
ALTER TABLE sign_ins
    ADD COLUMN form bytea,
    ADD CONSTRAINT sign_ins_form_whole CHECK (length(form) = 32);
