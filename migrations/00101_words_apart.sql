-- A list of colours or themes is read in one way, whether it was typed on a page or brought in: "black and
-- white" is two. What pages kept as one goes apart, so that it still meets what is written from now on.
-- +goose Up
-- +goose StatementBegin
CREATE FUNCTION words_apart(list text[]) RETURNS text[] LANGUAGE sql IMMUTABLE AS $$
    SELECT coalesce(array_agg(word ORDER BY first), '{}') FROM (
        SELECT btrim(part) AS word, min(at) AS first
        FROM unnest(list) WITH ORDINALITY AS kept (words, n),
            LATERAL (SELECT part, n * 1000 + i AS at FROM regexp_split_to_table(words, '[/+&]| and ') WITH ORDINALITY AS parts (part, i)) AS apart
        WHERE btrim(part) <> '' GROUP BY 1) AS said
$$;
-- +goose StatementEnd
-- Colours of a lot are kept in order and in one spelling.
UPDATE lots SET
    colours = ARRAY(SELECT DISTINCT (CASE word WHEN 'gray' THEN 'grey' WHEN 'natural' THEN 'natural linen' WHEN 'linen' THEN 'natural linen' ELSE word END) COLLATE "C" AS word
        FROM unnest(words_apart(colours)) AS word ORDER BY 1),
    themes = words_apart(themes)
    WHERE concat_ws(';', array_to_string(colours, ';'), array_to_string(themes, ';')) ~ '[/+&]| and ';
-- A line that would then want what it is to avoid keeps the words that it wants, and avoids of what it avoided
-- the words that are none of these: cloth that was kept from it is kept from it still.
UPDATE asked SET themes_wanted = CASE WHEN words_apart(themes_wanted) && words_apart(themes_avoid) THEN themes_wanted ELSE words_apart(themes_wanted) END,
    themes_avoid = ARRAY(SELECT word FROM unnest(words_apart(themes_avoid)) WITH ORDINALITY AS apart (word, at) WHERE word <> ALL (themes_wanted) ORDER BY at)
    WHERE concat_ws(';', array_to_string(themes_wanted, ';'), array_to_string(themes_avoid, ';')) ~ '[/+&]| and ';
UPDATE standing_asks SET themes_wanted = CASE WHEN words_apart(themes_wanted) && words_apart(themes_avoid) THEN themes_wanted ELSE words_apart(themes_wanted) END,
    themes_avoid = ARRAY(SELECT word FROM unnest(words_apart(themes_avoid)) WITH ORDINALITY AS apart (word, at) WHERE word <> ALL (themes_wanted) ORDER BY at)
    WHERE concat_ws(';', array_to_string(themes_wanted, ';'), array_to_string(themes_avoid, ';')) ~ '[/+&]| and ';
DROP FUNCTION words_apart;
