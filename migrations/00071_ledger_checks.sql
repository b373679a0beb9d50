-- When all balances were last held against their ledgers, and what differed: a job does it
-- every day, and organisers and whoever watches the program can see how it came out.
-- +goose Up
CREATE TABLE ledger_checks (
    id          bigint           GENERATED ALWAYS AS IDENTITY,
    at          timestamptz      NOT NULL,
    seconds     double precision NOT NULL,
    differences jsonb            NOT NULL, -- a list of {"drive", "what"}
    CONSTRAINT ledger_checks_pkey PRIMARY KEY (id),
    CONSTRAINT ledger_checks_list CHECK (jsonb_typeof(differences) = 'array')
);
GRANT SELECT, DELETE, INSERT (at, seconds, differences) ON ledger_checks TO boltward_server;
