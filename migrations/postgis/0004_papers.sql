-- Papers: what is neither ground nor record nor plan of vines: crews, orders,
-- users … Each has a kind and a key; the newest version of a key counts, and an
-- empty object takes it away.

-- +goose Up

CREATE TABLE paper (
    estate_id bigint NOT NULL,
    paper_id  bigint NOT NULL,
    kind      text NOT NULL,
    key       text NOT NULL,
    season    integer NOT NULL,  -- 0: of no season
    block_id  bigint NOT NULL,   -- 0: of no block
    made      timestamptz NOT NULL,
    by_whom   text NOT NULL,
    value     jsonb NOT NULL,
    PRIMARY KEY (estate_id, paper_id)
);
CREATE INDEX paper_key ON paper (estate_id, kind, key, paper_id);
ALTER TABLE paper ALTER COLUMN estate_id SET STATISTICS 0;
