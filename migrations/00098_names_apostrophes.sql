-- Who is known by name is one, whichever apostrophe a phone or a spreadsheet typed: names are kept
-- with the straight one. Where both stand here already they stay two, since both may have history.
-- +goose Up
UPDATE donors d SET name = replace(d.name, '’', '''') WHERE d.name LIKE '%’%'
    AND NOT EXISTS (SELECT FROM donors o WHERE o.drive_id = d.drive_id AND o.number <> d.number AND replace(lower(o.name), '’', '''') = replace(lower(d.name), '’', ''''));
UPDATE people d SET name = replace(d.name, '’', '''') WHERE d.name LIKE '%’%'
    AND NOT EXISTS (SELECT FROM people o WHERE o.drive_id = d.drive_id AND o.number <> d.number AND replace(lower(o.name), '’', '''') = replace(lower(d.name), '’', ''''));
UPDATE recipients d SET name = replace(d.name, '’', '''') WHERE d.name LIKE '%’%'
    AND NOT EXISTS (SELECT FROM recipients o WHERE o.drive_id = d.drive_id AND o.number <> d.number AND replace(lower(o.name), '’', '''') = replace(lower(d.name), '’', ''''));
