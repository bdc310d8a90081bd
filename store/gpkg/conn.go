package gpkg

import (
	"context"
	"fmt"
	"net/url"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/ext/rtree"
)

// Every connection has its own copy of SQLite's memory, so their number and
// page caches are kept small.
const (
	readers       = 4
	readerCacheKB = 16 << 10
	writerCacheKB = 32 << 10
	busyMS        = 5000 // how long to wait for another process's lock
	walLimitBytes = 64 << 20
)

// conn is one connection with its prepared statements. It serves one goroutine
// at a time.
type conn struct {
	*sqlite3.Conn
	stmts map[string]*sqlite3.Stmt
}

// access says how a connection opens the file.
type access int

const (
	readWrite access = iota
	create
	readOnly
	immutable // read-only, and nobody else writes either: works without rights to the folder
)

// dial opens a connection and sets it up: busy timeout first, then the R*Tree
// module and the five functions that the standard's triggers call.
func dial(path string, how access, setup ...string) (*conn, error) {
	flags := sqlite3.OPEN_READWRITE
	switch how {
	case create:
		flags |= sqlite3.OPEN_CREATE
	case readOnly:
		flags = sqlite3.OPEN_READONLY
	case immutable:
		flags = sqlite3.OPEN_READONLY | sqlite3.OPEN_URI
		path = asURI(path) + "?immutable=1"
	}
	raw, err := sqlite3.OpenFlags(path, flags)
	if err != nil {
		return nil, err
	}
	c := &conn{Conn: raw, stmts: make(map[string]*sqlite3.Stmt)}
	if err := c.setUp(setup); err != nil {
		c.Close()
		return nil, err
	}
	return c, nil
}

func (c *conn) setUp(setup []string) error {
	if err := c.Exec("PRAGMA busy_timeout = " + strconv.Itoa(busyMS)); err != nil {
		return err
	}
	if err := extend(c.Conn); err != nil {
		return err
	}
	// A file may come from anywhere: views and triggers in it may call nothing
	// but what is marked as harmless.
	for _, sql := range append([]string{"PRAGMA trusted_schema = OFF", "PRAGMA foreign_keys = ON"}, setup...) {
		if err := c.Exec(sql); err != nil {
			return err
		}
	}
	return nil
}

// extend gives a connection what GeoPackage files need beyond plain SQLite.
func extend(raw *sqlite3.Conn) error {
	if err := rtree.Register(raw); err != nil {
		return fmt.Errorf("register the R*Tree module: %w", err)
	}
	return registerGeometry(raw)
}

// writerSetup makes a commit last: in WAL mode with synchronous FULL the log is
// flushed to the disk at every commit, so that an acknowledged event outlives
// the process, the machine and its power. NORMAL would keep the file whole but
// could lose the last commits when the power fails.
func writerSetup() []string {
	return []string{
		"PRAGMA journal_mode = WAL",
		"PRAGMA synchronous = FULL",
		"PRAGMA cache_size = -" + strconv.Itoa(writerCacheKB),
		"PRAGMA journal_size_limit = " + strconv.Itoa(walLimitBytes),
		"PRAGMA temp_store = MEMORY",
	}
}

func readerSetup() []string {
	return []string{
		"PRAGMA query_only = ON",
		"PRAGMA cache_size = -" + strconv.Itoa(readerCacheKB),
		"PRAGMA temp_store = MEMORY",
	}
}

func asURI(path string) string {
	p := filepath.ToSlash(path)
	if !strings.HasPrefix(p, "/") {
		p = "/" + p
	}
	return (&url.URL{Scheme: "file", Path: p}).String()
}

// prepare gives the statement for a text, prepared once per connection. The
// second result closes or resets it. A text that is running already (a read
// inside a read) gets a statement of its own.
func (c *conn) prepare(sql string) (*sqlite3.Stmt, func() error, error) {
	s := c.stmts[sql]
	if s != nil && !s.Busy() {
		return s, s.Reset, nil
	}
	fresh, _, err := c.Prepare(sql)
	if err != nil {
		return nil, nil, err
	}
	if s != nil {
		return fresh, fresh.Close, nil
	}
	c.stmts[sql] = fresh
	return fresh, fresh.Reset, nil
}

// exec runs one statement.
func (c *conn) exec(sql string, args ...any) error {
	return c.each(sql, nil, args...)
}

// each runs one statement and hands over its rows. The row is only good until
// row returns.
func (c *conn) each(sql string, row func(*sqlite3.Stmt) error, args ...any) (err error) {
	s, done, err := c.prepare(sql)
	if err != nil {
		return err
	}
	defer func() {
		if e := done(); err == nil {
			err = e
		}
	}()
	if err := bind(s, args); err != nil {
		return err
	}
	for s.Step() {
		if row == nil {
			continue
		}
		if err := row(s); err != nil {
			return err
		}
	}
	return s.Err()
}

// one runs a statement that gives at most one row and tells whether it did.
func (c *conn) one(sql string, row func(*sqlite3.Stmt) error, args ...any) (found bool, err error) {
	err = c.each(sql, func(s *sqlite3.Stmt) error {
		found = true
		return row(s)
	}, args...)
	return found, err
}

// number runs a statement that gives one whole number; 0 where it gives none.
func (c *conn) number(sql string, args ...any) (n int64, err error) {
	_, err = c.one(sql, func(s *sqlite3.Stmt) error {
		n = s.ColumnInt64(0)
		return nil
	}, args...)
	return n, err
}

// bind fills in a statement's parameters from the first on.
func bind(s *sqlite3.Stmt, args []any) error {
	for i, arg := range args {
		if err := bindOne(s, i+1, arg); err != nil {
			return err
		}
	}
	return nil
}

func bindOne(s *sqlite3.Stmt, at int, arg any) error {
	switch v := arg.(type) {
	case nil:
		return s.BindNull(at)
	case int:
		return s.BindInt64(at, int64(v))
	case int64:
		return s.BindInt64(at, v)
	case float64:
		return s.BindFloat(at, v)
	case bool:
		return s.BindBool(at, v)
	case string:
		return s.BindText(at, v)
	case []byte:
		if v == nil {
			return s.BindNull(at)
		}
		return s.BindBlob(at, v)
	}
	return fmt.Errorf("no way to bind a %T", arg)
}

// portions cuts a list into pieces of few sizes, large ones first, so that few
// statements are prepared for many lines at once.
func portions[T any](all []T, sizes [3]int, do func([]T) error) error {
	for _, size := range sizes {
		for len(all) >= size {
			if err := do(all[:size]); err != nil {
				return err
			}
			all = all[size:]
		}
	}
	return nil
}

// during lets ctx interrupt whatever the connection does until the returned
// function is called.
func (c *conn) during(ctx context.Context) func() {
	old := c.SetInterrupt(ctx)
	return func() { c.SetInterrupt(old) }
}

// Close frees statements and connection.
func (c *conn) Close() error {
	for _, s := range c.stmts {
		s.Close()
	}
	return c.Conn.Close()
}
