-- Who sews, as a kit desk needs it: what they read, whether they begin, what is
-- declared of their home where a recipient asks for it, and when they agreed that
-- how to reach them is kept. Whom volunteers may ask stands on every card.
-- +goose Up
ALTER TABLE drives ADD COLUMN ask text NOT NULL DEFAULT '';

ALTER TABLE people ADD COLUMN beginner boolean NOT NULL DEFAULT false,
    ADD COLUMN language text NOT NULL DEFAULT '',
    ADD COLUMN smoke text NOT NULL DEFAULT '',
    ADD COLUMN pets text NOT NULL DEFAULT '',
    ADD COLUMN agreed_on date,
    ADD CONSTRAINT people_smoke_known CHECK (smoke IN ('', 'no', 'yes')),
    ADD CONSTRAINT people_pets_known CHECK (pets IN ('', 'no', 'yes'));

ALTER TABLE recipients ADD COLUMN homes text[] NOT NULL DEFAULT '{}',
    ADD CONSTRAINT recipients_homes_known CHECK (homes <@ ARRAY['no smoke', 'no pets']);
