-- What needs somebody is asked for at every visit, so each question about it finds the
-- few rows that are open without reading the many that are done.
-- +goose Up
CREATE INDEX kits_out_due ON kits (drive_id, due) WHERE state = 'out';
CREATE INDEX case_balances_waiting ON case_balances (drive_id, state) WHERE n > 0 AND state IN ('sewn', 'good', 'to mend');
CREATE INDEX box_lines_open ON box_lines (drive_id, box) WHERE n > confirmed + missing + returned;
CREATE INDEX boxes_waiting ON boxes (drive_id, recipient) WHERE delivery IS NULL AND NOT emptied;
CREATE INDEX deliveries_here ON deliveries (drive_id) WHERE sent_on IS NULL AND undone_at IS NULL;
CREATE INDEX sheets_open ON sheets (drive_id, state) WHERE state IN ('waiting', 'on the table', 'came up short');
CREATE INDEX lots_unmeasured ON lots (drive_id, received_on) WHERE measured_at IS NULL AND set_aside = '';
CREATE INDEX reminders_astray ON reminders (drive_id, person) WHERE state IN ('failed', 'perhaps sent');
CREATE INDEX kit_entries_heard ON kit_entries (drive_id, holder, day) WHERE holder IS NOT NULL;
