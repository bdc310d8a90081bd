-- Papers: what is neither ground nor record nor plan of vines: crews, orders,
-- users … Each has a kind and a key; the newest version of a key counts, and an
-- empty object takes it away.

-- +goose Up

CREATE TABLE paper (
	id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
	kind TEXT NOT NULL,
	key TEXT NOT NULL,
	season INTEGER NOT NULL, -- 0: of no season
	block_id INTEGER NOT NULL, -- 0: of no block
	made INTEGER NOT NULL, -- microseconds since 1970
	by_whom TEXT NOT NULL,
	value TEXT NOT NULL
);
CREATE INDEX paper_key ON paper (kind, key);
