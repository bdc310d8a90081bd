package gpkg

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/paulmach/orb"

	"courson/geo/format"
)

// PlainFile writes feature tables into a GeoPackage of their own (OGC 12-128r17,
// version 1.3), for other programs: no log, no plans, nothing of this store but
// what a layer says. Titles and units of columns stand in gpkg_data_columns (the
// standard's schema extension, annex F.9).
type PlainFile struct {
	c     *conn
	made  string
	layer *format.Layer
	add   *sqlite3.Stmt
	bound box64
	blob  []byte
	n     int
}

// box64 gathers bounds.
type box64 struct {
	orb.Bound
	some bool
}

func (b *box64) extend(g orb.Geometry) {
	if !b.some {
		b.Bound, b.some = g.Bound(), true
		return
	}
	b.Bound = b.Union(g.Bound())
}

const plainTables = `PRAGMA application_id = 1196444487;
PRAGMA user_version = 10300;
CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL PRIMARY KEY, organization TEXT NOT NULL, organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
INSERT INTO gpkg_spatial_ref_sys VALUES
	('Undefined cartesian', -1, 'NONE', -1, 'undefined', NULL),
	('Undefined geographic', 0, 'NONE', 0, 'undefined', NULL),
	('WGS 84', 4326, 'EPSG', 4326, 'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4326"]]', 'longitude, latitude in degrees');
CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE, description TEXT DEFAULT '', last_change DATETIME NOT NULL, min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER, CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));
CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL, CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name), CONSTRAINT uk_gc_table_name UNIQUE (table_name), CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents (table_name), CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));
CREATE TABLE gpkg_extensions (table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT NOT NULL, scope TEXT NOT NULL, CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));
CREATE TABLE gpkg_data_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT, description TEXT, mime_type TEXT, constraint_name TEXT, CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name), CONSTRAINT gdc_tn UNIQUE (table_name, name));
CREATE TABLE gpkg_data_column_constraints (constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, value TEXT, min NUMERIC, min_is_inclusive BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN, description TEXT, CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value));
INSERT INTO gpkg_extensions VALUES
	('gpkg_data_columns', NULL, 'gpkg_schema', 'http://www.geopackage.org/spec130/#extension_schema', 'read-write'),
	('gpkg_data_column_constraints', NULL, 'gpkg_schema', 'http://www.geopackage.org/spec130/#extension_schema', 'read-write')`

// CreatePlain begins a file at path, which must be new or empty, with the table of
// a layer. made is the day of its last change. If it is not closed the file is of
// no use.
func CreatePlain(path string, l *format.Layer, made time.Time) (*PlainFile, error) {
	// Nobody reads it before it is whole, so nothing needs to be made safe.
	c, err := dial(path, create, "PRAGMA journal_mode = OFF", "PRAGMA synchronous = OFF", "PRAGMA locking_mode = EXCLUSIVE")
	if err != nil {
		return nil, fmt.Errorf("create a GeoPackage: %w", err)
	}
	f := &PlainFile{c: c, made: made.UTC().Format("2006-01-02T15:04:05.000Z"), layer: l}
	if err := f.begin(); err != nil {
		return nil, errors.Join(fmt.Errorf("create a GeoPackage: %w", err), c.Close())
	}
	return f, nil
}

func quoted(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }

func (f *PlainFile) begin() error {
	if err := f.c.Exec("BEGIN;" + plainTables); err != nil {
		return err
	}
	l := f.layer
	columns, marks := []string{"fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL"}, []string{}
	names := []string{}
	for _, c := range l.Columns {
		kind := [...]string{format.Text: "TEXT", format.Whole: "INTEGER", format.Number: "DOUBLE"}[c.Kind]
		columns, names, marks = append(columns, quoted(c.Name)+" "+kind), append(names, quoted(c.Name)), append(marks, "?")
	}
	data, srs := "attributes", any(nil)
	kind := [...]string{format.NoShape: "", format.PointShape: "POINT", format.LineShape: "MULTILINESTRING", format.AreaShape: "MULTIPOLYGON"}[l.Shape]
	if kind != "" {
		data, srs = "features", wgs84
		columns, names, marks = append(columns, "geom "+kind), append(names, "geom"), append(marks, "?")
	}
	if err := f.c.Exec("CREATE TABLE " + quoted(l.Name) + " (" + strings.Join(columns, ", ") + ")"); err != nil {
		return err
	}
	if err := f.c.exec("INSERT INTO gpkg_contents VALUES (?, ?, ?, ?, ?, NULL, NULL, NULL, NULL, ?)", l.Name, data, l.Title, l.What, f.made, srs); err != nil {
		return err
	}
	if kind != "" {
		if err := f.c.exec("INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, ?, 0, 0)", l.Name, kind, wgs84); err != nil {
			return err
		}
	}
	for _, c := range l.Columns {
		if err := f.c.exec("INSERT INTO gpkg_data_columns VALUES (?, ?, ?, ?, ?, NULL, NULL)", l.Name, c.Name, c.Name, c.Title, c.Unit); err != nil {
			return err
		}
	}
	var err error
	f.add, _, err = f.c.Prepare("INSERT INTO " + quoted(l.Name) + " (" + strings.Join(names, ", ") + ") VALUES (" + strings.Join(marks, ", ") + ")")
	return err
}

// Write adds a thing.
func (f *PlainFile) Write(cells []format.Cell, g orb.Geometry) error {
	if err := f.layer.Check(cells, g); err != nil {
		return err
	}
	f.n++
	for i, c := range cells {
		if err := f.bind(i, c); err != nil {
			return fmt.Errorf("record %d, %s: %w", f.n, f.layer.Columns[i].Name, err)
		}
	}
	if f.layer.Shape != format.NoShape {
		if err := f.place(len(cells)+1, g); err != nil {
			return fmt.Errorf("record %d: %w", f.n, err)
		}
	}
	if err := f.add.Exec(); err != nil {
		return fmt.Errorf("record %d: %w", f.n, err)
	}
	return nil
}

func (f *PlainFile) bind(i int, c format.Cell) error {
	at := i + 1
	switch kind := f.layer.Columns[i].Kind; {
	case !c.Known, kind == format.Number && (math.IsNaN(c.Num) || math.IsInf(c.Num, 0)):
		return f.add.BindNull(at)
	case kind == format.Whole:
		return f.add.BindInt64(at, c.Whole)
	case kind == format.Number:
		return f.add.BindFloat(at, c.Num)
	}
	return f.add.BindText(at, c.Text)
}

// place binds the geometry; of lines and areas always as of several.
func (f *PlainFile) place(at int, g orb.Geometry) (err error) {
	switch v := g.(type) {
	case nil:
		return f.add.BindNull(at)
	case orb.Point:
		f.blob = appendPoint(f.blob[:0], v)
	case orb.LineString:
		g = orb.MultiLineString{v}
	case orb.Polygon:
		g = orb.MultiPolygon{v}
	}
	if _, ok := g.(orb.Point); !ok {
		if f.blob, err = shape(g); err != nil {
			return err
		}
	}
	if f.blob == nil {
		return f.add.BindNull(at)
	}
	f.bound.extend(g)
	return f.add.BindBlob(at, f.blob)
}

// Close makes the file whole.
func (f *PlainFile) Close() error {
	err := f.add.Close()
	if err == nil && f.bound.some {
		b := f.bound
		err = f.c.exec("UPDATE gpkg_contents SET min_x = ?, min_y = ?, max_x = ?, max_y = ?", b.Min[0], b.Min[1], b.Max[0], b.Max[1])
	}
	if err == nil {
		err = f.c.Exec("COMMIT")
	}
	if err := errors.Join(err, f.c.Close()); err != nil {
		return fmt.Errorf("end the GeoPackage: %w", err)
	}
	return nil
}
