package server

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestTileCache_StaysWithinItsBudget(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		budget := rapid.Int64Range(1, 5000).Draw(t, "budget")
		c := newTileCache(budget)
		for range rapid.IntRange(0, 60).Draw(t, "tiles") {
			tag := fmt.Sprint(rapid.IntRange(0, 20).Draw(t, "tag"))
			c.put(&keptTile{tag: tag, tile: reply{zipped: make([]byte, rapid.IntRange(0, 1000).Draw(t, "size"))}})
			sum := int64(0)
			for _, el := range c.byTag {
				sum += el.Value.(*keptTile).cost()
			}
			if sum != c.size() || sum > budget || c.order.Len() != len(c.byTag) {
				t.Fatalf("%d bytes held, %d accounted, %d allowed", sum, c.size(), budget)
			}
		}
	})
}

func TestTileCache_TheOneNotAskedForGoes(t *testing.T) {
	c := newTileCache(3 * (100 + keptOverhead))
	put := func(tag string) { c.put(&keptTile{tag: tag, tile: reply{plain: make([]byte, 100)}}) }
	put("a")
	put("b")
	put("c")
	_, ok := c.get("a")
	require.True(t, ok)
	put("d")
	_, ok = c.get("b")
	assert.False(t, ok)
	for _, tag := range []string{"a", "c", "d"} {
		_, ok := c.get(tag)
		assert.True(t, ok, tag)
	}
}
