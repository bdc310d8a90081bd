// Package foreign reads the tables of GeoPackage files (OGC 12-128r19) that
// other programs wrote: features with their geometry, and plain tables. Nothing
// of such a file is trusted: it is opened for reading only, its views and
// triggers may call nothing, and its geometries are read with bounds.
package foreign

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/google/uuid"
	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/ext/rtree"
	"github.com/ncruces/go-sqlite3/vfs/readervfs"

	"courson/geo/format"
	"courson/geo/format/shp"
	"courson/geo/frame"
)

// Table is one table of the file.
type Table struct {
	Name     string
	Geometry string // column of the places; "" none
	CRS      frame.CRS
	key      string // column that only counts the rows, "" none
	columns  []string
}

// Options of reading.
type Options struct {
	CRS string // system that a person states, for tables that name none
}

// ErrNoCRS is at the root of the problem of a table that does not say in which
// coordinate system it is.
var ErrNoCRS = errors.New("no coordinate system")

// File is an open GeoPackage. It serves one goroutine at a time.
type File struct {
	name   string
	conn   *sqlite3.Conn
	tables []Table
}

const (
	mostTables   = 200
	mostFeatures = 5_000_000
	heapBytes    = 256 << 20
)

// IsGeoPackage tells from the beginning of a file that it may be one.
func IsGeoPackage(head []byte) bool { return strings.HasPrefix(string(head), "SQLite format 3\x00") }

// Open opens the file and lists its tables; nothing of r may change meanwhile.
// Errors are *format.Problem or faults.
func Open(r io.ReaderAt, size int64, o Options) (*File, error) {
	f := &File{name: uuid.NewString()}
	readervfs.Create(f.name, sized{r, size})
	if err := f.open(o); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

type sized struct {
	io.ReaderAt
	size int64
}

func (s sized) Size() (int64, error) { return s.size, nil }

func (f *File) open(o Options) (err error) {
	f.conn, err = sqlite3.OpenFlags("file:"+f.name+"?vfs=reader", sqlite3.OPEN_READONLY|sqlite3.OPEN_URI)
	if err != nil {
		return damaged(err)
	}
	if err := rtree.Register(f.conn); err != nil {
		return fmt.Errorf("register the R*Tree module: %w", err)
	}
	for _, sql := range []string{"PRAGMA trusted_schema = OFF", "PRAGMA query_only = ON", fmt.Sprintf("PRAGMA hard_heap_limit = %d", heapBytes), "PRAGMA cache_size = -16384"} {
		if err := f.conn.Exec(sql); err != nil {
			return damaged(err)
		}
	}
	return f.list(o)
}

// Close closes the file.
func (f *File) Close() (err error) {
	if f.conn != nil {
		err = f.conn.Close()
	}
	readervfs.Delete(f.name)
	return err
}

// Tables lists the tables, those with places first, in the order of the file.
func (f *File) Tables() []Table { return f.tables }

func damaged(err error) error {
	return &format.Problem{Feature: format.None, What: "not a GeoPackage, or a damaged one", Found: err.Error(), Wanted: "a GeoPackage that a GIS opens, closed there before it is copied"}
}

func (f *File) list(o Options) error {
	for _, q := range []string{
		`SELECT c.table_name, g.column_name, g.srs_id FROM gpkg_contents c JOIN gpkg_geometry_columns g ON g.table_name = c.table_name WHERE c.data_type = 'features' ORDER BY c.rowid`,
		`SELECT table_name, '', 0 FROM gpkg_contents WHERE data_type = 'attributes' ORDER BY rowid`,
	} {
		if err := f.each(q, func(s *sqlite3.Stmt) error {
			if len(f.tables) >= mostTables {
				return &format.Problem{Feature: format.None, What: "too many tables", Wanted: fmt.Sprintf("at most %d", mostTables), Cause: format.ErrTooLarge}
			}
			f.tables = append(f.tables, Table{Name: s.ColumnText(0), Geometry: s.ColumnText(1), CRS: frame.CRS{Code: s.ColumnInt(2)}})
			return nil
		}); err != nil {
			return err
		}
	}
	for i := range f.tables {
		t := &f.tables[i]
		if err := f.describe(t); err != nil {
			return err
		}
		if t.Geometry == "" {
			continue
		}
		var err error
		if t.CRS, err = f.system(*t, t.CRS.Code, o.CRS); err != nil {
			return err
		}
	}
	return nil
}

// each runs a query; what SQLite says is wrong is a fault of the file.
func (f *File) each(query string, row func(*sqlite3.Stmt) error) error {
	s, _, err := f.conn.Prepare(query)
	if err != nil {
		return damaged(err)
	}
	defer s.Close()
	for s.Step() {
		if err := row(s); err != nil {
			return err
		}
	}
	if err := s.Err(); err != nil {
		if errors.Is(err, sqlite3.INTERRUPT) {
			return context.Canceled
		}
		return damaged(err)
	}
	return nil
}

// describe lists the columns of a table.
func (f *File) describe(t *Table) error {
	return f.each("SELECT name, type, pk FROM pragma_table_info("+text(t.Name)+")", func(s *sqlite3.Stmt) error {
		name := s.ColumnText(0)
		switch {
		case strings.EqualFold(name, t.Geometry) && t.Geometry != "":
		case s.ColumnInt(2) == 1 && counts(name):
			t.key = name
		default:
			t.columns = append(t.columns, name)
		}
		return nil
	})
}

// counts tells whether a key of this name only counts the rows of its table.
func counts(name string) bool {
	switch strings.ToLower(name) {
	case "fid", "ogc_fid", "gid", "objectid", "id":
		return true
	}
	return false
}

// system finds the coordinate system of a table.
func (f *File) system(t Table, id int, stated string) (frame.CRS, error) {
	fail := func(what, found, wanted string, cause error) (frame.CRS, error) {
		return frame.CRS{}, &format.Problem{Feature: format.None, Field: t.Name + ", coordinate system", What: what, Found: found, Wanted: wanted, Cause: cause}
	}
	var said frame.CRS
	if stated != "" {
		var err error
		if said, err = frame.ParseCRS(stated); err != nil {
			return fail(err.Error(), format.Quote(stated), "a supported EPSG code", errors.Join(ErrNoCRS, err))
		}
	}
	if id <= 0 {
		if stated == "" {
			return fail("nothing says in which coordinate system the numbers are", "", "the EPSG code stated", ErrNoCRS)
		}
		return said, nil
	}
	organization, code, definition := "", 0, ""
	err := f.each(fmt.Sprintf("SELECT organization, organization_coordsys_id, definition FROM gpkg_spatial_ref_sys WHERE srs_id = %d", id), func(s *sqlite3.Stmt) error {
		organization, code, definition = s.ColumnText(0), s.ColumnInt(1), s.ColumnText(2)
		return nil
	})
	if err != nil {
		return frame.CRS{}, err
	}
	c, err := frame.EPSG(plane(code))
	if err != nil || !strings.EqualFold(organization, "EPSG") {
		known := err
		if c, err = shp.ParsePRJ(definition); err != nil {
			if known != nil {
				err = known
			}
			return fail("the coordinate system cannot be used: "+err.Error(), fmt.Sprintf("%s:%d", organization, code), "a file in longitude and latitude", errors.Join(ErrNoCRS, err))
		}
	}
	if stated != "" && said.Code != c.Code {
		return fail("the table is in another coordinate system than was stated", fmt.Sprintf("%s (EPSG:%d)", c.Name, c.Code), fmt.Sprintf("EPSG:%d, or nothing stated", said.Code), nil)
	}
	return c, nil
}

// plane gives the system without heights of one with heights, as GIS programs name
// it for shapes that have some.
func plane(code int) int {
	switch code {
	case 4979: // WGS 84
		return 4326
	case 4937: // ETRS89
		return 4258
	}
	return code
}

func text(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }

func name(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }

// Each gives the rows of a table, one after the other. Heights are left out;
// notes says what else was. An error of fn ends it; errors are *format.Problem,
// that of the context, or that of fn.
func (f *File) Each(ctx context.Context, t Table, notes *format.Notices, fn func(format.Feature) error) error {
	before := f.conn.SetInterrupt(ctx)
	defer f.conn.SetInterrupt(before)
	list := make([]string, 0, len(t.columns)+1)
	for _, c := range t.columns {
		list = append(list, name(c))
	}
	if t.Geometry != "" {
		list = append(list, name(t.Geometry))
	}
	if len(list) == 0 {
		return nil
	}
	i := 0
	err := f.each("SELECT "+strings.Join(list, ", ")+" FROM "+name(t.Name), func(s *sqlite3.Stmt) error {
		if i >= mostFeatures {
			return &format.Problem{Feature: format.None, What: "too many features", Wanted: fmt.Sprintf("at most %d", mostFeatures), Cause: format.ErrTooLarge}
		}
		feature, err := t.row(s, i, notes)
		if err != nil {
			return err
		}
		i++
		return fn(feature)
	})
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}

func (t Table) row(s *sqlite3.Stmt, i int, notes *format.Notices) (format.Feature, error) {
	var f format.Feature
	f.Fields = make([]format.Field, len(t.columns))
	for k, c := range t.columns {
		f.Fields[k].Name = c
		switch s.ColumnType(k) {
		case sqlite3.INTEGER:
			f.Fields[k].Value = s.ColumnInt64(k)
		case sqlite3.FLOAT:
			f.Fields[k].Value = s.ColumnFloat(k)
		case sqlite3.TEXT:
			f.Fields[k].Value = s.ColumnText(k)
		case sqlite3.BLOB:
			notes.Add("", c, i, 0, "bytes that are no text; left out")
		}
	}
	if t.Geometry == "" || s.ColumnType(len(t.columns)) == sqlite3.NULL {
		return f, nil
	}
	g, heights, err := readBlob(s.ColumnRawBlob(len(t.columns)), t.CRS)
	if err != nil {
		return f, &format.Problem{Feature: i, Field: t.Geometry, What: "the geometry cannot be read", Found: err.Error(), Wanted: "geometries as GeoPackage has them"}
	}
	if heights {
		notes.Add("", t.Geometry, i, 0, "heights and measures are left out")
	}
	f.Geometry = g
	return f, nil
}
