package postgis

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"courson/store"
)

// fail says what could not be done and puts the database's complaint into one
// of the store's families. Connection errors count as busy: trying again later
// is all that a caller can do. Nothing that pgx puts into its errors holds the
// password.
func fail(what string, err error) error {
	if err == nil {
		return nil
	}
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return fmt.Errorf("%s: %w", what, err)
	}
	for _, known := range []error{store.ErrNotFound, store.ErrConflict, store.ErrBusy, store.ErrReadOnly, store.ErrTooNew} {
		if errors.Is(err, known) {
			return fmt.Errorf("%s: %w", what, err)
		}
	}
	if errors.Is(err, pgx.ErrNoRows) {
		return fmt.Errorf("%s: %w", what, store.ErrNotFound)
	}
	switch hint, family := familyOf(err); {
	case family != nil:
		return fmt.Errorf("%s: %w: %s: %w", what, family, hint, err)
	case hint != "":
		return fmt.Errorf("%s: %s: %w", what, hint, err)
	}
	return fmt.Errorf("%s: %w", what, err)
}

// familyOf gives the family of a database error, nil where it is a fault, and what to
// tell people about it.
func familyOf(err error) (hint string, family error) {
	var pg *pgconn.PgError
	if !errors.As(err, &pg) {
		if lost(err) {
			return "the database cannot be reached", store.ErrBusy
		}
		return "", nil
	}
	switch {
	case pg.Code == "40001" || pg.Code == "40P01":
		return "another transaction was in the way", store.ErrBusy
	case pg.Code == "55P03":
		return "another transaction holds the lock for too long", store.ErrBusy
	case pg.Code == "53300":
		return "the database has no connection left", store.ErrBusy
	case strings.HasPrefix(pg.Code, "57P") || strings.HasPrefix(pg.Code, "08"):
		return "the database is stopping or starting", store.ErrBusy
	case pg.Code == "25006":
		return "the database is a standby or set to read only", store.ErrReadOnly
	case pg.Code == "42501":
		return "the database user lacks rights", store.ErrReadOnly
	case pg.Code == "3D000":
		return "there is no such database: make it with createdb", store.ErrNotFound
	case pg.Code == "28P01" || pg.Code == "28000":
		return "the database does not let this user in: look at user name, password and pg_hba.conf", nil
	case pg.Code == "53100":
		return "the database's disk is full; nothing was stored", nil
	case pg.Code == "23505":
		return pg.Detail, store.ErrConflict
	}
	return "", nil
}

// lost tells whether the connection broke or never came about.
func lost(err error) bool {
	var connect *pgconn.ConnectError
	var network net.Error
	return errors.As(err, &connect) || errors.As(err, &network) ||
		errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, net.ErrClosed) ||
		pgconn.SafeToRetry(err) // among them: the connection was closed before
}

// again tells whether the same transaction may succeed when tried anew at once.
func again(err error) bool {
	var pg *pgconn.PgError
	if !errors.As(err, &pg) {
		return false
	}
	return pg.Code == "40001" || pg.Code == "40P01" || pg.Code == "23505" && pg.ConstraintName == "event_once"
}
