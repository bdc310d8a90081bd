package replant

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
)

// plotStand is an invented block of rows of vines, 2 m × 1 m, at a season; planted
// 0 is of unknown age.
func plotStand(t testing.TB, rows, vines, season, planted int) *stand.Stand {
	b := stand.NewBuilder(stand.Ground{Block: 1, Code: "H3", RowSpacingM: 2, VineSpacingM: 1})
	for row := range rows {
		b.Row(vine.ID(1_000_000+row), fmt.Sprint(row+1), 0)
		for n := range vines {
			b.Vine(stand.Position{ID: vine.ID(1 + row*vines + n), Number: n + 1, ChainageM: float64(n), X: float64(2 * row), Y: float64(n), Lon: 0.6, Lat: 44.8, Planted: planted})
		}
	}
	g, err := b.Ground()
	require.NoError(t, err)
	return stand.NewStand(g, season, 1)
}

// jan is a day of January 2027.
func jan(d int) Day { return Date(2027, 1, d) }

// saw is a sighting of place 0.
func saw(day Day, by string, c vine.Condition) Sighting {
	return Sighting{Day: day, By: by, Condition: c}
}

// graft is a sighting of place 0, dead above the graft.
func graft(day Day, by string) Sighting {
	return Sighting{Day: day, By: by, Condition: vine.Dead, AboveGraft: true}
}

// sure is a sighting by the person who decides.
func sure(s Sighting) Sighting {
	s.Confirmed = true
	return s
}

func judge(t testing.TB, e *Evidence) *Findings {
	t.Helper()
	f, err := Judge(e, DefaultFindSettings())
	require.NoError(t, err)
	return f
}
