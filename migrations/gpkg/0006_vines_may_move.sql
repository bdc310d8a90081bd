-- Blocks are split and joined: rows and vines then stand in another block or row
-- than the records name that were made before. Where a vine stood, and until when,
-- says what was meant by a row or a block at that time.

-- +goose Up

CREATE TABLE vine_stay (
	vine_id INTEGER NOT NULL,
	until INTEGER NOT NULL, -- microseconds since 1970
	row_id INTEGER NOT NULL,
	block_id INTEGER NOT NULL,
	PRIMARY KEY (vine_id, until)
) WITHOUT ROWID;
CREATE INDEX vine_stay_row ON vine_stay (row_id);
CREATE INDEX vine_stay_block ON vine_stay (block_id);
