-- Measuring counts the pieces of a lot anew. What was counted at the door stays beside it, so that it stands
-- again when the measuring is undone; of lots that were measured before, pieces_told is what measuring counted.
-- +goose Up
ALTER TABLE lots ADD COLUMN pieces_measured integer,
    ADD CONSTRAINT lots_pieces_measured_range CHECK (pieces_measured BETWEEN 1 AND 500);
