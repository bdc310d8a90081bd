-- Compact copies of what is read most: the vines of a block, and their states
-- in a season, each as one blob. They only save time: a copy counts as long as
-- it shows the block's revision and no other program has edited the tables it
-- was made from; else the tables themselves are read and the copy is made anew.

-- +goose Up

CREATE TABLE block_copy (
	block_id INTEGER NOT NULL,
	season INTEGER NOT NULL, -- 0: the vines; else their states in that season
	revision INTEGER NOT NULL, -- of the ground (vines) or of the block (states)
	edits INTEGER NOT NULL, -- the counter of that name
	vines INTEGER NOT NULL, -- how many the copy tells of
	data BLOB NOT NULL,
	PRIMARY KEY (block_id, season)
);

-- The program raises revisions and sets triggers aside while it writes. Other
-- programs do neither: these triggers count their edits, which end all copies.
INSERT INTO counter VALUES ('edits', 0);

-- +goose StatementBegin
CREATE TRIGGER edit_vine_row_insert AFTER INSERT ON vine_row
BEGIN
	UPDATE counter SET value = value + 1 WHERE name = 'edits';
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER edit_vine_row_update AFTER UPDATE ON vine_row
BEGIN
	UPDATE counter SET value = value + 1 WHERE name = 'edits';
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER edit_vine_row_delete AFTER DELETE ON vine_row
BEGIN
	UPDATE counter SET value = value + 1 WHERE name = 'edits';
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER edit_vine_insert AFTER INSERT ON vine
BEGIN
	UPDATE counter SET value = value + 1 WHERE name = 'edits';
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER edit_vine_update AFTER UPDATE ON vine
BEGIN
	UPDATE counter SET value = value + 1 WHERE name = 'edits';
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER edit_vine_delete AFTER DELETE ON vine
BEGIN
	UPDATE counter SET value = value + 1 WHERE name = 'edits';
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER edit_vine_state_insert AFTER INSERT ON vine_state
BEGIN
	UPDATE counter SET value = value + 1 WHERE name = 'edits';
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER edit_vine_state_update AFTER UPDATE ON vine_state
BEGIN
	UPDATE counter SET value = value + 1 WHERE name = 'edits';
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER edit_vine_state_delete AFTER DELETE ON vine_state
BEGIN
	UPDATE counter SET value = value + 1 WHERE name = 'edits';
END;
-- +goose StatementEnd
