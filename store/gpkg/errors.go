package gpkg

import (
	"context"
	"errors"
	"fmt"

	"github.com/ncruces/go-sqlite3"

	"courson/store"
)

// explain turns SQLite's errors into the store's, says of which file they are
// and what to do. Other errors stay as they are.
func explain(ctx context.Context, path string, err error) error {
	plain := explainCode(ctx, err)
	if plain == nil {
		return err
	}
	return fmt.Errorf("%s: %w", path, plain)
}

// explainCode gives nil for what is no error of SQLite.
func explainCode(ctx context.Context, err error) error {
	var code sqlite3.ErrorCode
	if err == nil || !errors.As(err, &code) {
		return nil
	}
	switch code {
	case sqlite3.INTERRUPT:
		if ctx.Err() != nil {
			return ctx.Err()
		}
	case sqlite3.BUSY, sqlite3.LOCKED:
		return fmt.Errorf("another program is writing to it: %w (%w)", store.ErrBusy, err)
	case sqlite3.FULL:
		return fmt.Errorf("the disk is full; nothing was stored; free some space and try again: %w", err)
	case sqlite3.READONLY, sqlite3.PERM, sqlite3.AUTH:
		return fmt.Errorf("no right to write the file or its folder: %w (%w)", store.ErrReadOnly, err)
	case sqlite3.CANTOPEN:
		return fmt.Errorf("the file or its folder cannot be opened: %w", err)
	case sqlite3.NOTADB:
		return fmt.Errorf("not a GeoPackage (not even an SQLite file): %w", err)
	case sqlite3.CORRUPT:
		return fmt.Errorf("the file is damaged; restore a copy: %w", err)
	}
	return err
}

// isBusy tells that another process holds a lock on the file.
func isBusy(err error) bool {
	var code sqlite3.ErrorCode
	return errors.As(err, &code) && (code == sqlite3.BUSY || code == sqlite3.LOCKED)
}
