-- What is searched for is found whatever its case and whichever apostrophe was typed: phones type the curly
-- one by themselves. Postgres puts this into each statement that calls it.
-- +goose Up
CREATE FUNCTION holds(text, text) RETURNS boolean LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$
    SELECT strpos(translate(lower($1), '’', ''''), translate(lower($2), '’', '''')) > 0
$$;
