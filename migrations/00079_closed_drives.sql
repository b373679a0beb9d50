-- An organiser says that a drive is over: nothing more is asked for or handed out until it is
-- opened again. What is out still comes back, and what is here is still delivered.
-- +goose Up
ALTER TABLE drives ADD COLUMN closed_at timestamptz;
