package demoestate

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
)

func TestDesigns_SizeAsAsked(t *testing.T) {
	for _, want := range []int{3000, 9000, 20_000, Vines, 300_000} {
		ds := designs(want, rand.New(rand.NewPCG(1, 2)))
		got := 0
		for _, d := range ds {
			l, err := d.draw(frame.New(centre))
			require.NoError(t, err, d.code)
			for _, r := range l.rows {
				got += len(r.places)
			}
		}
		t.Logf("%d wanted: %d blocks, %d vines", want, len(ds), got)
		assert.InEpsilon(t, want, got, 0.03)
	}
}

func TestDesigns_CodesDiffer(t *testing.T) {
	seen := map[string]bool{}
	for _, d := range designs(2_000_000, rand.New(rand.NewPCG(1, 2))) {
		assert.False(t, seen[d.code], "block code %s twice", d.code)
		seen[d.code] = true
	}
}
