-- What holders said they had finished stands on the page of a kit, where something else was counted; the
-- statement names this condition.
-- +goose Up
CREATE INDEX kit_reports_counted ON kit_reports (drive_id, kit) WHERE ended = 'moved' AND kind = 'finished';
