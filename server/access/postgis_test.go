package access

import (
	"context"
	"net/url"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// ownDatabase makes a database for one test and drops it at its end.
func ownDatabase(t *testing.T, server string) string {
	t.Helper()
	name := "courson_access_" + strings.ReplaceAll(uuid.NewString(), "-", "")[:16]
	do := func(sql string) {
		conn, err := pgx.Connect(context.Background(), server)
		require.NoError(t, err)
		defer conn.Close(context.Background())
		_, err = conn.Exec(context.Background(), sql)
		require.NoError(t, err)
	}
	do("CREATE DATABASE " + name)
	t.Cleanup(func() { do("DROP DATABASE " + name + " WITH (FORCE)") })
	u, err := url.Parse(server)
	require.NoError(t, err)
	u.Path = "/" + name
	return u.String()
}
