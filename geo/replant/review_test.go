package replant

import (
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// Two rows of four: gaps at 1/2, 1/3 and 2/1, a doubtful one at 2/4.
func reviewScene() *Evidence {
	at := func(i int32, c vine.Condition) Sighting {
		return Sighting{Vine: i, Day: jan(5), By: "Ana", Condition: c}
	}
	return &Evidence{Places: 8,
		Sightings:  []Sighting{at(0, vine.Bearing), at(1, vine.Missing), at(4, vine.Missing), at(7, vine.Dead)},
		Detections: []Detection{{2, jan(9), 0.8, "flight", ""}}}
}

func TestReview_WalkingOrder(t *testing.T) {
	g := plotStand(t, 2, 4, 2027, 2010).Ground
	f := judge(t, reviewScene())
	addresses := func(rows []ReviewRow) (out []string) {
		for _, r := range rows {
			for _, i := range r.Items {
				out = append(out, i.Address)
			}
		}
		return out
	}
	for _, c := range []struct {
		name string
		walk Walk
		want []string
	}{
		{"each row from its numbering end", Walk{}, []string{"H3/1/2", "H3/1/3", "H3/2/1", "H3/2/4"}},
		{"back and forth", Walk{BackForth: true}, []string{"H3/1/2", "H3/1/3", "H3/2/4", "H3/2/1"}},
		{"from the far end of the last row", Walk{FarFirst: true, LastFirst: true, BackForth: true}, []string{"H3/2/4", "H3/2/1", "H3/1/2", "H3/1/3"}},
	} {
		rows, err := Review(f, g, c.walk)
		require.NoError(t, err)
		require.Equal(t, c.want, addresses(rows), c.name)
	}
	rows, err := Review(f, g, Walk{})
	require.NoError(t, err)
	require.Equal(t, 2, rows[0].Items[0].Run)
	require.Equal(t, 1, rows[1].Items[0].Run)
	require.Equal(t, 0, rows[1].Items[1].Run)
	require.NotEmpty(t, rows[0].Items[1].Reasons)
	_, err = Review(f, plotStand(t, 1, 3, 2027, 0).Ground, Walk{})
	require.ErrorIs(t, err, ErrEvidence)
}

// Every answer takes its item off the list and leaves the others.
func TestReview_Answers(t *testing.T) {
	g := plotStand(t, 2, 4, 2027, 2010).Ground
	e := reviewScene()
	for k, a := range []Answer{
		{1, "Cy", jan(12), Missing}, {2, "Cy", jan(12), Living}, {4, "Cy", jan(12), DeadAboveGraft}, {7, "Cy", jan(12), DeadStanding},
	} {
		s, err := a.Sighting()
		require.NoError(t, err)
		e.Sightings = append(e.Sightings, s)
		f := judge(t, e)
		require.Equal(t, a.State, f.Verdicts[a.Vine].State)
		require.True(t, f.Verdicts[a.Vine].Confirmed)
		rows, err := Review(f, g, Walk{})
		require.NoError(t, err)
		left := 0
		for _, r := range rows {
			left += len(r.Items)
		}
		require.Equal(t, 3-k, left)
	}
	for _, a := range []Answer{{0, "Cy", jan(1), Suspected}, {0, "", jan(1), Missing}, {0, "Cy", 0, Missing}} {
		_, err := a.Sighting()
		require.ErrorIs(t, err, ErrEvidence)
	}
}
