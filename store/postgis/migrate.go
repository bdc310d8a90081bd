package postgis

import (
	"context"
	"errors"
	"fmt"
	"io/fs"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"

	"courson/migrations"
	"courson/store"
)

// versionTable is where the database remembers which migrations it has.
const versionTable = "courson_migration"

// migrate brings the tables up to date. Several nodes may start at once: one
// does the work, the others wait for it. A database that is up to date needs no
// right to write.
func migrate(ctx context.Context, config *pgx.ConnConfig, opts Options) error {
	files, err := fs.Sub(migrations.PostGIS, "postgis")
	if err != nil {
		return err
	}
	db := stdlib.OpenDB(*config)
	defer db.Close()
	locker, err := lock.NewPostgresSessionLocker(lock.WithLockTimeout(1, 120))
	if err != nil {
		return err
	}
	provider, err := goose.NewProvider(goose.DialectPostgres, db, files,
		goose.WithTableName(versionTable), goose.WithSessionLocker(locker), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return err
	}
	sources := provider.ListSources()
	newest := sources[len(sources)-1].Version

	conn, err := pgx.ConnectConfig(ctx, config)
	if err != nil {
		return err
	}
	version, err := versionOf(ctx, conn)
	if closed := conn.Close(ctx); err == nil {
		err = closed
	}
	switch {
	case err != nil:
		return err
	case version == newest:
		return nil
	case version > newest:
		return fmt.Errorf("%w: its tables are of version %d, this program knows up to %d: use a newer courson", store.ErrTooNew, version, newest)
	case version == 0 && !opts.Create:
		return fmt.Errorf("%w: the database has no Courson tables yet", store.ErrNotFound)
	}
	results, err := provider.Up(ctx)
	if err != nil {
		return fmt.Errorf("bring the tables up to date: %w", err)
	}
	for _, r := range results {
		opts.Logger.InfoContext(ctx, "migrated", "version", r.Source.Version, "took", r.Duration)
	}
	return nil
}

// versionOf gives the newest migration that the database has, 0 for none.
func versionOf(ctx context.Context, conn *pgx.Conn) (int64, error) {
	var there bool
	if err := conn.QueryRow(ctx, `SELECT to_regclass($1) IS NOT NULL`, versionTable).Scan(&there); err != nil {
		return 0, err
	}
	if !there {
		return 0, nil
	}
	var version int64
	err := conn.QueryRow(ctx, `SELECT coalesce(max(version_id), 0) FROM courson_migration WHERE is_applied`).Scan(&version)
	if errors.Is(err, pgx.ErrNoRows) {
		return 0, nil
	}
	return version, err
}
