-- Ground that an import made can be taken away again. What was recorded of it
-- stays in the log, and the revision of a block that went stays too, so that
-- everyone who held the block is told. Both therefore name ground that need not
-- be there any more; what plans say of vines goes with them, and looking through
-- all plans for every vine would take long.

-- +goose Up

CREATE TABLE event_new (
	cursor INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
	uuid BLOB NOT NULL,
	device TEXT NOT NULL,
	seq INTEGER NOT NULL,
	at INTEGER NOT NULL,
	happened INTEGER NOT NULL,
	received INTEGER NOT NULL,
	by_whom TEXT NOT NULL,
	season INTEGER NOT NULL,
	block_id INTEGER NOT NULL,
	row_id INTEGER,
	vines BLOB,
	kind TEXT NOT NULL,
	value TEXT NOT NULL
);
INSERT INTO event_new SELECT cursor, uuid, device, seq, at, happened, received, by_whom, season, block_id, row_id, vines, kind, value FROM event ORDER BY cursor;
DROP TABLE event;
ALTER TABLE event_new RENAME TO event;
CREATE UNIQUE INDEX event_uuid ON event (uuid);
CREATE INDEX event_block ON event (block_id);
CREATE INDEX event_device ON event (device);

CREATE TABLE block_revision_new (
	block_id INTEGER PRIMARY KEY NOT NULL,
	revision INTEGER NOT NULL DEFAULT 0,
	ground_rev INTEGER NOT NULL DEFAULT 0, -- revision at which the ground last changed
	plan_rev INTEGER NOT NULL DEFAULT 0    -- revision at which a plan last changed
);
INSERT INTO block_revision_new SELECT block_id, revision, ground_rev, plan_rev FROM block_revision;
DROP TABLE block_revision;
ALTER TABLE block_revision_new RENAME TO block_revision;

CREATE TABLE plan_entry_new (
	plan_id INTEGER NOT NULL REFERENCES plan (id),
	vine_id INTEGER NOT NULL,
	nodes INTEGER,
	canes INTEGER,
	spurs INTEGER,
	reason TEXT NOT NULL,
	detail TEXT,
	PRIMARY KEY (plan_id, vine_id)
) WITHOUT ROWID;
INSERT INTO plan_entry_new SELECT plan_id, vine_id, nodes, canes, spurs, reason, detail FROM plan_entry;
DROP TABLE plan_entry;
ALTER TABLE plan_entry_new RENAME TO plan_entry;
