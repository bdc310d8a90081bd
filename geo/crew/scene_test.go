package crew_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"courson/geo/crew"
	"courson/geo/stand"
	"courson/geo/vine"
)

var (
	guyot  = crew.System{Key: "double_guyot", Form: crew.Cane}
	cordon = crew.System{Key: "royat", Form: crew.Spur}
)

// block draws a block of the invented estate, a text for each row from its
// numbering end: o bearing, w weak, y young, s sick, _ missing, x dead, r
// replanted this season, . pruned, k skipped, ! to be redone, f with a job at
// shoot thinning. Rows have the ids 11, 12 …, vines 101, 102 …; rows are 2 m
// apart, vines 1 m.
func block(t require.TestingT, rows ...string) *stand.Stand {
	b := stand.NewBuilder(stand.Ground{Block: 1, Code: "H3", RowSpacingM: 2, VineSpacingM: 1})
	id := vine.ID(100)
	for r, text := range rows {
		b.Row(vine.ID(11+r), fmt.Sprint(r+1), 0)
		for k := range text {
			id++
			planted := 2010
			if text[k] == 'r' {
				planted = 2027
			}
			b.Vine(stand.Position{ID: id, Number: k + 1, ChainageM: float64(k), Lon: 0.6 + float64(r)*1e-5, Lat: 44.8 + float64(k)*1e-5,
				X: 2 * float64(r), Y: float64(k), Planted: planted})
		}
	}
	g, err := b.Ground()
	require.NoError(t, err)
	s := stand.NewStand(g, 2027, 1)
	i := 0
	for _, text := range rows {
		for k := range text {
			s.Condition[i] = vine.Bearing
			switch text[k] {
			case 'w':
				s.Condition[i] = vine.Weak
			case 'y':
				s.Condition[i] = vine.Young
			case 's':
				s.Condition[i] = vine.Diseased
			case '_':
				s.Condition[i] = vine.Missing
			case 'x':
				s.Condition[i] = vine.Dead
			case 'r':
				s.Condition[i] = vine.Replanted
			case '.':
				s.Progress[i] = vine.Done
			case 'k':
				s.Progress[i] = vine.Skipped
			case '!':
				s.Progress[i] = vine.ToRedo
			case 'f':
				if s.Follow == nil {
					s.Follow = make([]vine.FollowUp, g.Len())
				}
				s.Follow[i] = vine.FollowRubOff
			}
			i++
		}
	}
	return s
}

func table(t require.TestingT, learnt ...crew.Rate) *crew.Table {
	tab, err := crew.NewTable(crew.Operations(), learnt)
	require.NoError(t, err)
	return tab
}

func weigh(t require.TestingT, s *stand.Stand, operation string) *crew.Work {
	w, err := crew.Weigh(crew.Job{Stand: s, System: guyot, Table: table(t), Operation: operation})
	require.NoError(t, err)
	return w
}

func day(d int) time.Time { return time.Date(2027, time.January, d, 0, 0, 0, 0, time.UTC) }

func runs(o crew.Order) (out []string) {
	for _, p := range o.Pieces {
		out = append(out, fmt.Sprintf("%s: %d-%d (%d)", p.Label, p.From, p.To, p.Vines))
	}
	return out
}

func TestScene(t *testing.T) {
	s := block(t, "ow_", "ryx")
	require.Equal(t, 6, s.Ground.Len())
	require.EqualValues(t, 1, s.Leaf[3])
}
