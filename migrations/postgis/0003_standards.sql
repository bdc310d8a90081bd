-- What the owner of a block set: class limits, training system, rule of the load
-- and its limits … One JSON object a version; the newest of a block counts. Block
-- 0 stands for the estate: for every block that has none of its own.

-- +goose Up

CREATE TABLE standards (
    estate_id    bigint NOT NULL,
    standards_id bigint NOT NULL,
    block_id     bigint NOT NULL,
    made         timestamptz NOT NULL,
    by_whom      text NOT NULL,
    value        jsonb NOT NULL,
    PRIMARY KEY (estate_id, standards_id)
);
CREATE INDEX standards_for ON standards (estate_id, block_id, standards_id);
ALTER TABLE standards ALTER COLUMN estate_id SET STATISTICS 0;

-- What a kind of plan says of a vine beyond nodes, canes and spurs: a JSON object.
ALTER TABLE plan_entry ADD COLUMN detail json;
