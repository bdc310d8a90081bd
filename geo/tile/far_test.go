package tile

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestFar wants the same bytes from views with and without vines, wherever
// FarOff says that vines do not show.
func TestFar(t *testing.T) {
	full := estate(t, 6)
	far := make([]BlockView, len(full))
	for i, v := range full {
		var ok bool
		far[i], ok = v.Far()
		require.True(t, ok)
		assert.Zero(t, far[i].Index.Len())
	}
	var r Renderer
	for z := uint8(0); FarOff(z); z++ {
		at := full[0].Stand.Ground
		lon, lat := FromWorld(at.WX[0], at.WY[0])
		tl, err := At(lon, lat, z)
		require.NoError(t, err)
		want := r.Vector(tl, full, Options{})
		require.NotEmpty(t, want)
		assert.Equal(t, want, r.Vector(tl, far, Options{}), "zoom %d", z)
		for _, theme := range []Theme{ThemeCondition, ThemeVigour, ThemeProgress} {
			want, err := r.PNG(tl, theme, 2, full)
			require.NoError(t, err)
			got, err := r.PNG(tl, theme, 2, far)
			require.NoError(t, err)
			assert.Equal(t, want, got, "zoom %d %s", z, theme)
		}
	}
	bare := full[0]
	bare.Outline = nil
	_, ok := bare.Far()
	assert.False(t, ok, "nothing but its vines to show")
}
