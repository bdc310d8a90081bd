package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"courson/store"
	"courson/store/gpkg"
	"courson/store/postgis"
)

// dataFlags say where the estate is kept.
type dataFlags struct {
	Data   string `required:"" placeholder:"FILE|postgres://…" help:"The estate's GeoPackage file, or the address of a PostGIS database." env:"COURSON_DATA"`
	Estate string `placeholder:"NAME" help:"Which estate of a PostGIS database; not needed where there is one." env:"COURSON_ESTATE"`
}

// isDatabase tells a database address from a file.
func isDatabase(data string) bool {
	return strings.HasPrefix(data, "postgres://") || strings.HasPrefix(data, "postgresql://")
}

// open opens the store. This is the only place that knows both kinds.
func (d dataFlags) open(ctx context.Context, p *program, create, readOnly bool) (store.Store, error) {
	if isDatabase(d.Data) {
		return postgis.Open(ctx, d.Data, postgis.Options{Estate: d.Estate, Create: create, Now: p.now, Logger: p.log})
	}
	if strings.Contains(d.Data, "://") {
		return nil, fmt.Errorf("--data %s: neither a file nor a postgres:// address: %w", d.Data, errUsage)
	}
	if !create {
		if _, err := os.Stat(d.Data); errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("%s: there is no such file; make one with: courson import --data %s FILE…", d.Data, d.Data)
		}
	}
	return gpkg.Open(ctx, d.Data, gpkg.Options{Create: create, ReadOnly: readOnly, Now: p.now, Logger: p.log})
}

// closeStore closes a store at the end of a command and keeps the first error.
func closeStore(st store.Store, err *error) {
	if e := st.Close(); e != nil && *err == nil {
		*err = e
	}
}
