-- A rule may speak of certain roles: two lots that never meet as body and cuff, as body and
-- accent, or as cuff and accent; a body that is always sewn with one cuff or accent, whatever
-- else would go with it.
-- +goose Up
ALTER TABLE lot_rules
    ADD COLUMN kind  text NOT NULL DEFAULT 'never',
    ADD COLUMN roles text NOT NULL DEFAULT 'body and trim';
UPDATE lot_rules SET kind = 'kept for', roles = '' WHERE recipient IS NOT NULL;
ALTER TABLE lot_rules
    DROP CONSTRAINT lot_rules_one_kind,
    ADD CONSTRAINT lot_rules_one_kind CHECK (CASE kind
        WHEN 'never' THEN recipient IS NULL AND other IS NOT NULL AND other <> lot AND roles IN ('body and trim', 'body and cuff', 'body and accent', 'cuff and accent')
        WHEN 'always' THEN recipient IS NULL AND other IS NOT NULL AND roles IN ('body and cuff', 'body and accent')
        WHEN 'kept for' THEN recipient IS NOT NULL AND other IS NULL AND roles = ''
        ELSE false END);
DROP INDEX lot_rules_never_once;
DROP INDEX lot_rules_pinned_once;
CREATE UNIQUE INDEX lot_rules_never_once ON lot_rules (drive_id, least(lot, other), greatest(lot, other), roles) WHERE ended_at IS NULL AND kind = 'never';
CREATE UNIQUE INDEX lot_rules_always_once ON lot_rules (drive_id, lot, roles) WHERE ended_at IS NULL AND kind = 'always';
CREATE UNIQUE INDEX lot_rules_pinned_once ON lot_rules (drive_id, lot) WHERE ended_at IS NULL AND kind = 'kept for';
