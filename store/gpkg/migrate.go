package gpkg

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"strconv"
	"strings"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/driver"
	"github.com/pressly/goose/v3"

	"courson/migrations"
	"courson/store"
)

const (
	// applicationID is "GPKG": the standard's mark in the file's head.
	applicationID = 0x47504B47
	// layoutTable keeps which migrations the file has seen.
	layoutTable = "courson_layout"
)

// layoutOf gives the version of a file's layout, 0 for a file that is still
// empty. It refuses what is not a store of this program.
func layoutOf(c *conn) (int64, error) {
	tables, err := c.number("SELECT count(*) FROM sqlite_schema")
	if err != nil || tables == 0 {
		return 0, err
	}
	id, err := c.number("PRAGMA application_id")
	if err != nil {
		return 0, err
	}
	ours, err := c.number("SELECT count(*) FROM sqlite_schema WHERE name = ?", layoutTable)
	if err != nil {
		return 0, err
	}
	switch {
	case ours == 0 && id == applicationID:
		return 0, errors.New("a GeoPackage, but not one that this program keeps an estate in: import from it instead")
	case ours == 0:
		return 0, errors.New("an SQLite file, but not a GeoPackage that this program keeps an estate in")
	}
	at, err := c.number("SELECT max(version_id) FROM " + layoutTable + " WHERE is_applied")
	if err == nil && at > latest() {
		err = fmt.Errorf("its layout is version %d, this program knows up to %d: use the newer program: %w", at, latest(), store.ErrTooNew)
	}
	return at, err
}

// latest is the newest version among the embedded migrations.
func latest() int64 {
	names, _ := fs.Glob(migrations.GPKG, "gpkg/*.sql")
	var newest int64
	for _, name := range names {
		digits, _, _ := strings.Cut(strings.TrimPrefix(name, "gpkg/"), "_")
		if n, err := strconv.ParseInt(digits, 10, 64); err == nil {
			newest = max(newest, n)
		}
	}
	return newest
}

// migrate brings the file's layout up to date. Every migration is one
// transaction. Where another process does the same at this moment, whoever loses
// a step goes on behind it.
func migrate(ctx context.Context, c *conn, path string, at int64, log *slog.Logger) error {
	if at == latest() {
		return nil
	}
	db, err := driver.Open(path, func(raw *sqlite3.Conn) error {
		if err := raw.Exec("PRAGMA busy_timeout = " + strconv.Itoa(busyMS)); err != nil {
			return err
		}
		return extend(raw)
	})
	if err != nil {
		return err
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	last := at
	for stuck := 0; ; stuck++ {
		if err = up(ctx, db, log); err == nil {
			return nil
		}
		now, e := layoutOf(c)
		switch {
		case e == nil && now == latest():
			return nil
		case e == nil && now > last: // another process did this step
			last, stuck = now, 0
		case ctx.Err() != nil || stuck == stuckMost:
			return fmt.Errorf("bring the layout from version %d to %d: %w", at, latest(), err)
		}
		time.Sleep(stuckWait)
	}
}

// Another process may be between two steps, or hold the file: so often, and after
// so long, a step is tried again before its fault counts as our own.
const (
	stuckMost = 20
	stuckWait = 25 * time.Millisecond
)

func up(ctx context.Context, db *sql.DB, log *slog.Logger) error {
	files, err := fs.Sub(migrations.GPKG, "gpkg")
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(goose.DialectSQLite3, db, files,
		goose.WithTableName(layoutTable), goose.WithDisableGlobalRegistry(true), goose.WithSlog(log))
	if err != nil {
		return err
	}
	_, err = p.Up(ctx)
	return err
}
