-- Blocks are split and joined: rows and vines then stand in another block or row
-- than the records name that were made before. Where a vine stood, and until when,
-- says what was meant by a row or a block at that time.

-- +goose Up
CREATE TABLE vine_stay (
    estate_id bigint NOT NULL,
    vine_id   bigint NOT NULL,
    until     timestamptz NOT NULL,
    row_id    bigint NOT NULL,
    block_id  bigint NOT NULL,
    PRIMARY KEY (estate_id, vine_id, until)
);
CREATE INDEX vine_stay_row ON vine_stay (estate_id, row_id);
CREATE INDEX vine_stay_block ON vine_stay (estate_id, block_id);
ALTER TABLE vine_stay ALTER COLUMN estate_id SET STATISTICS 0;
