package server

import (
	"fmt"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/store"
	"courson/store/gpkg"
)

// BenchmarkOGC measures pages of 10,000 vines out of 100,000 from warm stands,
// compressed, as a client gets them.
func BenchmarkOGC(b *testing.B) {
	const blocks = 10
	path := filepath.Join(b.TempDir(), "ten.gpkg")
	st, err := gpkg.Open(b.Context(), path, gpkg.Options{Create: true})
	require.NoError(b, err)
	f := frame.New(benchAt)
	planted := make([]store.Block, blocks)
	require.NoError(b, st.Update(b.Context(), func(tx store.Tx) error {
		if err := tx.SaveEstate(store.Estate{ID: 1, Name: "Weitried", ScoreScale: "1-5"}); err != nil {
			return err
		}
		for k := range planted {
			var err error
			if planted[k], err = plantBig(tx, f, k); err != nil {
				return err
			}
		}
		return nil
	}))
	for k, blk := range planted {
		recordBig(b, st, blk, k)
	}
	require.NoError(b, st.Close())
	s, end := benchServer(b, path)
	defer end()
	require.NoError(b, s.Warm(b.Context()))
	for name, query := range map[string]string{
		"page":      "limit=10000",
		"last page": "limit=10000&after=" + fmt.Sprintf("%d.%d", planted[8].ID, lastVine(b, s, planted[8])),
		"bbox":      "limit=10000&bbox=8.1,49.2,8.11,49.21",
		"filter":    "limit=10000&progress=done",
	} {
		b.Run(name, func(b *testing.B) {
			bytes := 0
			for b.Loop() {
				bytes = fetch(b, s.Handler(), "/ogc/collections/vines/items?"+query).Body.Len()
			}
			b.ReportMetric(float64(bytes)/1e6, "MB")
		})
	}
}

func lastVine(b *testing.B, s *Server, blk store.Block) int64 {
	v, err := s.stands.Stand(b.Context(), blk.ID, benchSeason)
	require.NoError(b, err)
	return v.Stand.Ground.ID[v.Stand.Ground.Len()-1]
}
