package postgis

import (
	"context"

	"github.com/jackc/pgx/v5"

	"courson/store"
)

// What tests ask the database to explain.
const (
	SQLVines       = vinesOfBlock
	SQLStatesAll   = statesAll
	SQLStatesAfter = statesAfter
	SQLEventsAbout = eventsAbout
)

// QuerierOf lets a test look at the database through a transaction.
func QuerierOf(t store.Tx) interface {
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
} {
	return t.(*tx).pg
}
