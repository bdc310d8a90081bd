package gpkg

import (
	"context"
	"errors"
	"fmt"

	"github.com/ncruces/go-sqlite3"

	"courson/store"
)

// explain turns SQLite's errors into the store's, and says what to do.
func explain(ctx context.Context, path string, err error) error {
	if err == nil {
		return nil
	}
	var code sqlite3.ErrorCode
	if !errors.As(err, &code) {
		return err
	}
	switch code {
	case sqlite3.INTERRUPT:
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
	case sqlite3.BUSY, sqlite3.LOCKED:
		return fmt.Errorf("%s: another program is writing to it: %w (%w)", path, store.ErrBusy, err)
	case sqlite3.FULL:
		return fmt.Errorf("%s: the disk is full; nothing was stored; free some space and try again: %w", path, err)
	case sqlite3.READONLY, sqlite3.PERM, sqlite3.AUTH:
		return fmt.Errorf("%s: no right to write the file or its folder: %w (%w)", path, store.ErrReadOnly, err)
	case sqlite3.CANTOPEN:
		return fmt.Errorf("%s: the file or its folder cannot be opened: %w", path, err)
	case sqlite3.NOTADB:
		return fmt.Errorf("%s: not a GeoPackage (not even an SQLite file): %w", path, err)
	case sqlite3.CORRUPT:
		return fmt.Errorf("%s: the file is damaged; restore a copy: %w", path, err)
	}
	return fmt.Errorf("%s: %w", path, err)
}
