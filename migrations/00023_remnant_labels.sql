-- A remnant has the number of the piece it is to become from the day its sheet is laid
-- out: whoever cuts it can label it at the table. Numbers once given stay given.
-- +goose Up
ALTER TABLE sheet_remnants ADD COLUMN label integer;

UPDATE sheet_remnants r SET label = coalesce(r.new_piece, n.label) FROM (
    SELECT r.drive_id, r.sheet, r.remnant,
        (SELECT max(p.piece) FROM pieces p WHERE p.drive_id = s.drive_id AND p.lot = s.lot)
            + row_number() OVER (PARTITION BY s.drive_id, s.lot ORDER BY r.sheet, r.remnant) AS label
    FROM sheet_remnants r JOIN sheets s ON s.drive_id = r.drive_id AND s.number = r.sheet) n
WHERE n.drive_id = r.drive_id AND n.sheet = r.sheet AND n.remnant = r.remnant;

ALTER TABLE sheet_remnants
    ALTER COLUMN label SET NOT NULL,
    ADD CONSTRAINT sheet_remnants_label CHECK (label > 0),
    ADD CONSTRAINT sheet_remnants_labelled CHECK (new_piece = label);
