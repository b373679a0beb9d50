-- Who cannot finish a kit needs no longer for it, and the other way round: what was said last counts. Of what
-- stood together before that was so, the earlier ends.
-- +goose Up
UPDATE kit_reports r SET ended_at = now(), ended = 'replaced' FROM kit_reports later
    WHERE r.ended_at IS NULL AND later.ended_at IS NULL AND later.drive_id = r.drive_id AND later.kit = r.kit AND later.part = r.part
        AND r.kind IN ('longer', 'cannot') AND later.kind IN ('longer', 'cannot') AND later.number > r.number;
