-- What people typed of a delivery can be emptied once it is not needed any more: who said
-- what arrived, their notes, and why counts were settled. The counts stay.
-- +goose Up
GRANT UPDATE (said_by, note) ON delivery_answers TO boltward_server;
GRANT UPDATE (reason) ON delivery_settled TO boltward_server;
