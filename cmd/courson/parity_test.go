package main

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/cmd/courson/demoestate"
	"courson/geo/tile"
	"courson/server"
	"courson/store"
	"courson/store/gpkg"
	"courson/store/postgis"
)

// The same ground and the same log in both stores give the same tiles and the
// same columns, byte for byte.
func TestStores_SameTiles(t *testing.T) {
	ctx := context.Background()
	embedded, err := gpkg.Open(ctx, filepath.Join(t.TempDir(), "same.gpkg"), gpkg.Options{Create: true})
	require.NoError(t, err)
	database, err := postgis.Open(ctx, postgisDatabase(t), postgis.Options{Create: true, Estate: demoestate.Name})
	require.NoError(t, err)
	a, b := serveEstate(t, embedded), serveEstate(t, database)

	paths := []string{"/api/legends"}
	blocks, err := embedded.Blocks(ctx)
	require.NoError(t, err)
	at := blocks[0].Outline[0][0][0]
	for season := demoestate.FirstSeason; season <= demoestate.CurrentSeason; season++ {
		paths = append(paths, fmt.Sprintf("/api/blocks?season=%d", season), fmt.Sprintf("/api/blocks/%d/stand/%d", blocks[0].ID, season))
		for z := uint8(10); z <= 19; z++ {
			tl, err := tile.At(at[0], at[1], z)
			require.NoError(t, err)
			paths = append(paths, fmt.Sprintf("/tiles/%d/%d/%d/%d.mvt", season, tl.Z, tl.X, tl.Y))
		}
	}
	// Both work their findings out in the background, one before the other.
	for _, path := range paths {
		require.EventuallyWithT(t, func(c *assert.CollectT) {
			one, two := get(t, a, path), get(t, b, path)
			assert.Equal(c, one.Code, two.Code, path)
			assert.True(c, bytes.Equal(one.Body.Bytes(), two.Body.Bytes()), path)
		}, time.Minute, 50*time.Millisecond)
	}
}

// serveEstate fills a store with a small invented estate and serves it.
func serveEstate(t *testing.T, st store.Store) http.Handler {
	t.Helper()
	t.Cleanup(func() { assert.NoError(t, st.Close()) })
	_, err := demoestate.Make(context.Background(), st, 1, 1200, nil)
	require.NoError(t, err)
	s, err := server.New(server.Config{Store: st})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return s.Handler()
}

func get(t *testing.T, h http.Handler, path string) *httptest.ResponseRecorder {
	t.Helper()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "http://localhost"+path, nil))
	return w
}
