// Package migrations holds the SQL that lays out both stores, version by
// version. A released file is never changed: a change is a new file.
package migrations

import "embed"

// GPKG holds the files of store/gpkg under gpkg/.
//
//go:embed gpkg/*.sql
var GPKG embed.FS

// PostGIS holds the files of store/postgis under postgis/.
//
//go:embed postgis/*.sql
var PostGIS embed.FS
