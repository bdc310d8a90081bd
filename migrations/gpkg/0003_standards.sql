-- What the owner of a block set: class limits, training system, rule of the load
-- and its limits … One JSON object a version; the newest of a block counts. Block
-- 0 stands for the estate: for every block that has none of its own.

-- +goose Up

CREATE TABLE standards (
	id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
	block_id INTEGER NOT NULL,
	made INTEGER NOT NULL, -- microseconds since 1970
	by_whom TEXT NOT NULL,
	value TEXT NOT NULL
);
CREATE INDEX standards_for ON standards (block_id);

-- What a kind of plan says of a vine beyond nodes, canes and spurs: a JSON object.
ALTER TABLE plan_entry ADD COLUMN detail TEXT;
