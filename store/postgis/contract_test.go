package postgis_test

import (
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"

	"courson/geo/vine"
	"courson/store"
	"courson/store/contract"
	"courson/store/postgis"
)

// TestContract runs the suite with every store an estate of its own in one
// database, so that it also shows that estates do not see each other.
func TestContract(t *testing.T) {
	database := newDatabase(t)
	var mu sync.Mutex
	urls := map[store.Store]string{}
	damage := func(sql string) func(*testing.T, store.Store, vine.ID) {
		return func(t *testing.T, s store.Store, v vine.ID) {
			t.Helper()
			mu.Lock()
			estate := urls[s][strings.Index(urls[s], "estate=")+len("estate="):]
			mu.Unlock()
			run(t, database, strings.ReplaceAll(sql, "ESTATE", "(SELECT estate_id FROM estate WHERE key = '"+estate+"')"), v)
		}
	}
	again := func(t *testing.T, url string) store.Store {
		t.Helper()
		s, err := postgis.Open(t.Context(), url, postgis.Options{Create: true, MaxConns: 6})
		if err != nil {
			t.Fatal(err)
		}
		mu.Lock()
		urls[s] = url
		mu.Unlock()
		return s
	}
	contract.Run(t, contract.Harness{
		Open: func(t *testing.T) store.Store { return again(t, database+"&estate="+uuid.NewString()) },
		Again: func(t *testing.T, s store.Store) store.Store {
			mu.Lock()
			url := urls[s]
			mu.Unlock()
			return again(t, url)
		},
		Corrupt: map[string]func(*testing.T, store.Store, vine.ID){
			"a condition":         damage(`UPDATE vine_state SET condition = 5 WHERE estate_id = ESTATE AND vine_id = $1`),
			"a weight too many":   damage(`UPDATE vine_state SET pruning_weight_g = 17 WHERE estate_id = ESTATE AND vine_id = $1 AND season = 2028`),
			"a season missing":    damage(`DELETE FROM vine_state WHERE estate_id = ESTATE AND vine_id = $1 AND season = 2027`),
			"all seasons missing": damage(`DELETE FROM vine_state WHERE estate_id = ESTATE AND vine_id = $1`),
			"a season too many": damage(`INSERT INTO vine_state (estate_id, vine_id, season, block_id, changed, condition, progress, planted, notes, clashes)
			                              VALUES (ESTATE, $1, 2150, 1, 1, 3, 2, 0, 0, 0)`),
			"a planting year":    damage(`UPDATE vine_state SET planted = 0 WHERE estate_id = ESTATE AND vine_id = $1`),
			"the detail":         damage(`UPDATE vine_state SET detail = NULL WHERE estate_id = ESTATE AND vine_id = $1`),
			"times":              damage(`UPDATE vine_state SET seen_at = '2020-01-01T00:00:00Z' WHERE estate_id = ESTATE AND vine_id = $1`),
			"the block it is in": damage(`UPDATE vine_state SET block_id = 999 WHERE estate_id = ESTATE AND vine_id = $1`),
			"the vine it is of":  damage(`UPDATE vine_state SET vine_id = 999 WHERE estate_id = ESTATE AND vine_id = $1`),
		},
	})
}
