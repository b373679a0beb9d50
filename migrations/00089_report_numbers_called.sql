-- The sequence of report numbers was set to the next one and not to the last, which Postgres tells as
-- if nobody had counted yet: a backup said so, and what was restored from it began at 1 again and
-- refused each report. It is set to the last number that was given, or that stands here.
-- +goose Up
SELECT setval('kit_reports_number_seq', last) FROM (SELECT greatest(CASE WHEN is_called THEN last_value ELSE last_value - 1 END,
    (SELECT coalesce(max(number), 0) FROM kit_reports)) AS last FROM kit_reports_number_seq) AS given WHERE last > 0;
