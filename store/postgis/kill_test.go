package postgis_test

import (
	"context"
	"testing"

	"go.uber.org/goleak"

	"courson/store"
	"courson/store/contract"
	"courson/store/postgis"
)

func openTarget(ctx context.Context, url string) (store.Store, error) {
	return postgis.Open(ctx, url, postgis.Options{Create: true, MaxConns: 4})
}

func TestMain(m *testing.M) {
	contract.KillChild(openTarget)
	goleak.VerifyTestMain(m)
}

// TestKill kills the program in the middle of batches and imports, also while it
// makes the tables. The server goes on.
func TestKill(t *testing.T) {
	rounds := 16
	if testing.Short() {
		rounds = 4
	}
	contract.Kill{Rounds: rounds, Target: emptyDatabase(t), Open: openTarget}.Run(t)
}
