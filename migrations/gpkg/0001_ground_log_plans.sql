-- The embedded store: one GeoPackage file (OGC 12-128r17, version 1.3) that any
-- GIS opens. Features and attribute tables stand in gpkg_contents; what serves
-- the program alone (log, plans, labels, counters) stands beside them.

-- +goose Up

PRAGMA application_id = 1196444487; -- "GPKG"
PRAGMA user_version = 10300;

CREATE TABLE gpkg_spatial_ref_sys (
	srs_name TEXT NOT NULL,
	srs_id INTEGER PRIMARY KEY NOT NULL,
	organization TEXT NOT NULL,
	organization_coordsys_id INTEGER NOT NULL,
	definition TEXT NOT NULL,
	description TEXT
);

INSERT INTO gpkg_spatial_ref_sys VALUES
	('Undefined cartesian', -1, 'NONE', -1, 'undefined', NULL),
	('Undefined geographic', 0, 'NONE', 0, 'undefined', NULL),
	('WGS 84', 4326, 'EPSG', 4326, 'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4326"]]', 'longitude, latitude in degrees');

CREATE TABLE gpkg_contents (
	table_name TEXT PRIMARY KEY NOT NULL,
	data_type TEXT NOT NULL,
	identifier TEXT UNIQUE,
	description TEXT DEFAULT '',
	last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
	min_x DOUBLE,
	min_y DOUBLE,
	max_x DOUBLE,
	max_y DOUBLE,
	srs_id INTEGER,
	CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id)
);

CREATE TABLE gpkg_geometry_columns (
	table_name TEXT NOT NULL,
	column_name TEXT NOT NULL,
	geometry_type_name TEXT NOT NULL,
	srs_id INTEGER NOT NULL,
	z TINYINT NOT NULL,
	m TINYINT NOT NULL,
	CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
	CONSTRAINT uk_gc_table_name UNIQUE (table_name),
	CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents (table_name),
	CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id)
);

CREATE TABLE gpkg_extensions (
	table_name TEXT,
	column_name TEXT,
	extension_name TEXT NOT NULL,
	definition TEXT NOT NULL,
	scope TEXT NOT NULL,
	CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name)
);

-- One line: the whole property.
CREATE TABLE estate (
	id INTEGER PRIMARY KEY NOT NULL CHECK (id = 1),
	name TEXT NOT NULL,
	south BOOLEAN NOT NULL,
	zone TEXT NOT NULL,
	us_units BOOLEAN NOT NULL,
	score_scale TEXT NOT NULL
);

-- Counters: last_id is the last number given to a block, row or vine; they share
-- one series, so that a number alone says which thing is meant.
CREATE TABLE counter (
	name TEXT PRIMARY KEY NOT NULL,
	value INTEGER NOT NULL
);
INSERT INTO counter VALUES ('last_id', 0);

CREATE TABLE block (
	id INTEGER PRIMARY KEY NOT NULL,
	geom MULTIPOLYGON,
	code TEXT NOT NULL,
	name TEXT NOT NULL,
	variety TEXT NOT NULL,
	clone TEXT NOT NULL,
	rootstock TEXT NOT NULL,
	planted INTEGER NOT NULL,
	row_spacing_m DOUBLE NOT NULL,
	vine_spacing_m DOUBLE NOT NULL,
	system TEXT NOT NULL,
	numbering_end TEXT NOT NULL,
	extra TEXT
);

-- Apart from block, because it changes with every batch and outlines are long.
CREATE TABLE block_revision (
	block_id INTEGER PRIMARY KEY NOT NULL REFERENCES block (id),
	revision INTEGER NOT NULL DEFAULT 0,
	ground_rev INTEGER NOT NULL DEFAULT 0, -- revision at which the ground last changed
	plan_rev INTEGER NOT NULL DEFAULT 0    -- revision at which a plan last changed
);

CREATE TABLE vine_row (
	id INTEGER PRIMARY KEY NOT NULL,
	geom MULTILINESTRING,
	block_id INTEGER NOT NULL REFERENCES block (id),
	label TEXT NOT NULL,
	ord INTEGER NOT NULL,
	length_m DOUBLE NOT NULL,
	spacing_m DOUBLE NOT NULL,
	extra TEXT
);
CREATE INDEX vine_row_ord ON vine_row (block_id, ord);

CREATE TABLE vine (
	id INTEGER PRIMARY KEY NOT NULL,
	geom POINT,
	block_id INTEGER NOT NULL REFERENCES block (id),
	row_id INTEGER NOT NULL REFERENCES vine_row (id),
	number INTEGER NOT NULL,
	chainage_m DOUBLE NOT NULL,
	part INTEGER NOT NULL,
	planted INTEGER NOT NULL,
	tag TEXT,
	tag_key TEXT -- the tag in folded letter case, for the search
);
CREATE INDEX vine_number ON vine (row_id, number);
CREATE INDEX vine_tag ON vine (tag_key) WHERE tag_key IS NOT NULL;

-- What a block, row or vine was called before. A vine's old number is kept as
-- its whole address (block/row/number).
CREATE TABLE old_label (
	id INTEGER PRIMARY KEY NOT NULL,
	of_id INTEGER NOT NULL,
	what TEXT NOT NULL, -- code, label, address or tag
	label TEXT NOT NULL,
	label_key TEXT NOT NULL,
	until INTEGER NOT NULL -- microseconds since 1970
);
CREATE INDEX old_label_of ON old_label (of_id);
CREATE INDEX old_label_key ON old_label (label_key);

-- The log. Rows are only ever added. Times are microseconds since 1970, vines
-- the ids as differences in variable-length form (zigzag varint).
CREATE TABLE event (
	cursor INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
	uuid BLOB NOT NULL,
	device TEXT NOT NULL,
	seq INTEGER NOT NULL,
	at INTEGER NOT NULL,
	happened INTEGER NOT NULL,
	received INTEGER NOT NULL,
	by_whom TEXT NOT NULL,
	season INTEGER NOT NULL,
	block_id INTEGER NOT NULL REFERENCES block (id),
	row_id INTEGER REFERENCES vine_row (id),
	vines BLOB,
	kind TEXT NOT NULL,
	value TEXT NOT NULL
);
CREATE UNIQUE INDEX event_uuid ON event (uuid);
CREATE INDEX event_block ON event (block_id);
CREATE INDEX event_device ON event (device);

-- Where to look for the events about a thing: under the vine where few vines
-- are named, else under every row that they stand in; whole rows under the row,
-- whole blocks under the block.
CREATE TABLE event_about (
	about INTEGER NOT NULL,
	cursor INTEGER NOT NULL,
	PRIMARY KEY (about, cursor)
) WITHOUT ROWID;

CREATE TABLE season (
	season INTEGER PRIMARY KEY NOT NULL
);

-- What the log says of one vine in one season; a copy that can be made anew.
-- id = vine_id * 512 + (season - 1850).
CREATE TABLE vine_state (
	id INTEGER PRIMARY KEY NOT NULL,
	vine_id INTEGER NOT NULL,
	season INTEGER NOT NULL,
	block_id INTEGER NOT NULL,
	changed INTEGER NOT NULL,
	condition TEXT NOT NULL,
	cause TEXT,
	seen_at DATETIME,
	look_again DATETIME,
	planted INTEGER,
	progress TEXT NOT NULL, -- of pruning
	pruned_at DATETIME,
	pruned_by TEXT,
	nodes_left INTEGER,
	canes_left INTEGER,
	spurs_left INTEGER,
	weight_g DOUBLE,
	weight_at DATETIME,
	cane_count DOUBLE,
	cane_count_at DATETIME,
	score DOUBLE,
	score_scale TEXT,
	score_at DATETIME,
	yield_g DOUBLE,
	yield_at DATETIME,
	notes INTEGER NOT NULL,
	clashes INTEGER NOT NULL,
	detail TEXT, -- JSON: what has no column
	micros TEXT  -- microseconds that the times above, in their order, have beyond the millisecond; NULL where none has
);
CREATE INDEX vine_state_changed ON vine_state (block_id, changed);

CREATE TABLE plan (
	id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
	kind TEXT NOT NULL,
	season INTEGER NOT NULL,
	block_id INTEGER NOT NULL REFERENCES block (id),
	made INTEGER NOT NULL,
	by_whom TEXT NOT NULL,
	source TEXT NOT NULL,
	inputs TEXT
);
CREATE INDEX plan_for ON plan (kind, season, block_id);

CREATE TABLE plan_entry (
	plan_id INTEGER NOT NULL REFERENCES plan (id),
	vine_id INTEGER NOT NULL REFERENCES vine (id),
	nodes INTEGER,
	canes INTEGER,
	spurs INTEGER,
	reason TEXT NOT NULL,
	PRIMARY KEY (plan_id, vine_id)
) WITHOUT ROWID;

-- Every vine as it stands in the latest season on record, for any GIS. Plain
-- columns only: an expression would have no type that the standard knows.
CREATE VIEW vines_now AS
SELECT v.id AS id, v.geom AS geom,
	b.code AS block, r.label AS row_label, v.number AS number, v.tag AS tag,
	b.variety AS variety, b.clone AS clone, b.rootstock AS rootstock, b.planted AS block_planted,
	s.season AS season, s.condition AS condition, s.cause AS cause,
	s.seen_at AS seen_at, s.look_again AS look_again, s.planted AS planted,
	s.progress AS progress, s.pruned_at AS pruned_at, s.pruned_by AS pruned_by,
	s.nodes_left AS nodes_left, s.canes_left AS canes_left, s.spurs_left AS spurs_left,
	s.weight_g AS weight_g, s.cane_count AS cane_count, s.score AS score, s.score_scale AS score_scale,
	s.yield_g AS yield_g, s.notes AS notes, s.clashes AS clashes
FROM vine v
JOIN vine_row r ON r.id = v.row_id
JOIN block b ON b.id = v.block_id
LEFT JOIN vine_state s ON s.id = (
	SELECT max(x.id) FROM vine_state x WHERE x.id BETWEEN v.id * 512 AND v.id * 512 + 511);

INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) VALUES
	('block', 'features', 'blocks', 'Blocks of the estate', 4326),
	('vine_row', 'features', 'rows', 'Rows, drawn from their numbering end', 4326),
	('vine', 'features', 'vines', 'Vine positions', 4326),
	('vines_now', 'features', 'vines now', 'Vines with block, row and the state of the latest season on record', 4326),
	('vine_state', 'attributes', 'vine states', 'What the log says of a vine in a season', NULL),
	('estate', 'attributes', 'estate', 'The estate', NULL);

INSERT INTO gpkg_geometry_columns VALUES
	('block', 'geom', 'MULTIPOLYGON', 4326, 0, 0),
	('vine_row', 'geom', 'MULTILINESTRING', 4326, 0, 0),
	('vine', 'geom', 'POINT', 4326, 0, 0),
	('vines_now', 'geom', 'POINT', 4326, 0, 0);

INSERT INTO gpkg_extensions VALUES
	('block', 'geom', 'gpkg_rtree_index', 'http://www.geopackage.org/spec121/#extension_rtree', 'write-only'),
	('vine_row', 'geom', 'gpkg_rtree_index', 'http://www.geopackage.org/spec121/#extension_rtree', 'write-only'),
	('vine', 'geom', 'gpkg_rtree_index', 'http://www.geopackage.org/spec121/#extension_rtree', 'write-only');

CREATE VIRTUAL TABLE rtree_block_geom USING rtree(id, minx, maxx, miny, maxy);

-- +goose StatementBegin
CREATE TRIGGER rtree_block_geom_insert AFTER INSERT ON block
	WHEN (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN
	INSERT OR REPLACE INTO rtree_block_geom VALUES (NEW.id, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom));
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rtree_block_geom_update1 AFTER UPDATE OF geom ON block
	WHEN OLD.id = NEW.id AND (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN
	INSERT OR REPLACE INTO rtree_block_geom VALUES (NEW.id, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom));
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rtree_block_geom_update2 AFTER UPDATE OF geom ON block
	WHEN OLD.id = NEW.id AND (NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))
BEGIN
	DELETE FROM rtree_block_geom WHERE id = OLD.id;
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rtree_block_geom_update3 AFTER UPDATE ON block
	WHEN OLD.id != NEW.id AND (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN
	DELETE FROM rtree_block_geom WHERE id = OLD.id;
	INSERT OR REPLACE INTO rtree_block_geom VALUES (NEW.id, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom));
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rtree_block_geom_update4 AFTER UPDATE ON block
	WHEN OLD.id != NEW.id AND (NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))
BEGIN
	DELETE FROM rtree_block_geom WHERE id IN (OLD.id, NEW.id);
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rtree_block_geom_delete AFTER DELETE ON block
	WHEN OLD.geom NOT NULL
BEGIN
	DELETE FROM rtree_block_geom WHERE id = OLD.id;
END;
-- +goose StatementEnd

CREATE VIRTUAL TABLE rtree_vine_row_geom USING rtree(id, minx, maxx, miny, maxy);

-- +goose StatementBegin
CREATE TRIGGER rtree_vine_row_geom_insert AFTER INSERT ON vine_row
	WHEN (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN
	INSERT OR REPLACE INTO rtree_vine_row_geom VALUES (NEW.id, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom));
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rtree_vine_row_geom_update1 AFTER UPDATE OF geom ON vine_row
	WHEN OLD.id = NEW.id AND (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN
	INSERT OR REPLACE INTO rtree_vine_row_geom VALUES (NEW.id, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom));
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rtree_vine_row_geom_update2 AFTER UPDATE OF geom ON vine_row
	WHEN OLD.id = NEW.id AND (NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))
BEGIN
	DELETE FROM rtree_vine_row_geom WHERE id = OLD.id;
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rtree_vine_row_geom_update3 AFTER UPDATE ON vine_row
	WHEN OLD.id != NEW.id AND (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN
	DELETE FROM rtree_vine_row_geom WHERE id = OLD.id;
	INSERT OR REPLACE INTO rtree_vine_row_geom VALUES (NEW.id, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom));
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rtree_vine_row_geom_update4 AFTER UPDATE ON vine_row
	WHEN OLD.id != NEW.id AND (NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))
BEGIN
	DELETE FROM rtree_vine_row_geom WHERE id IN (OLD.id, NEW.id);
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rtree_vine_row_geom_delete AFTER DELETE ON vine_row
	WHEN OLD.geom NOT NULL
BEGIN
	DELETE FROM rtree_vine_row_geom WHERE id = OLD.id;
END;
-- +goose StatementEnd

CREATE VIRTUAL TABLE rtree_vine_geom USING rtree(id, minx, maxx, miny, maxy);

-- +goose StatementBegin
CREATE TRIGGER rtree_vine_geom_insert AFTER INSERT ON vine
	WHEN (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN
	INSERT OR REPLACE INTO rtree_vine_geom VALUES (NEW.id, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom));
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rtree_vine_geom_update1 AFTER UPDATE OF geom ON vine
	WHEN OLD.id = NEW.id AND (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN
	INSERT OR REPLACE INTO rtree_vine_geom VALUES (NEW.id, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom));
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rtree_vine_geom_update2 AFTER UPDATE OF geom ON vine
	WHEN OLD.id = NEW.id AND (NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))
BEGIN
	DELETE FROM rtree_vine_geom WHERE id = OLD.id;
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rtree_vine_geom_update3 AFTER UPDATE ON vine
	WHEN OLD.id != NEW.id AND (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN
	DELETE FROM rtree_vine_geom WHERE id = OLD.id;
	INSERT OR REPLACE INTO rtree_vine_geom VALUES (NEW.id, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom));
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rtree_vine_geom_update4 AFTER UPDATE ON vine
	WHEN OLD.id != NEW.id AND (NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))
BEGIN
	DELETE FROM rtree_vine_geom WHERE id IN (OLD.id, NEW.id);
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rtree_vine_geom_delete AFTER DELETE ON vine
	WHEN OLD.geom NOT NULL
BEGIN
	DELETE FROM rtree_vine_geom WHERE id = OLD.id;
END;
-- +goose StatementEnd
