package vine

import (
	"encoding/json"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// lifeCase is one file of testdata/events.
type lifeCase struct {
	Title     string      `json:"title"`
	About     string      `json:"about"`
	Place     casePlace   `json:"place"`
	Events    []Event     `json:"events"`
	States    []caseState `json:"states"`
	Plantings []Planting  `json:"plantings"`
}

type casePlace struct {
	ID      ID  `json:"id"`
	Row     ID  `json:"row"`
	Block   ID  `json:"block"`
	Planted int `json:"planted"`
}

func (c casePlace) place() Place {
	return Place{ID: c.ID, Row: c.Row, Block: c.Block, Planted: c.Planted}
}

// caseState is a State as the cases write it.
type caseState struct {
	Season    int                      `json:"season"`
	Condition Condition                `json:"condition"`
	Cause     string                   `json:"cause"`
	SeenAt    time.Time                `json:"seen_at"`
	LookAgain time.Time                `json:"look_again"`
	Planted   int                      `json:"planted"`
	Measures  map[Quantity]caseReading `json:"measures"`
	Pruned    *Pruned                  `json:"pruned"`
	PrunedAt  time.Time                `json:"pruned_at"`
	PrunedBy  string                   `json:"pruned_by"`
	Work      map[string]Progress      `json:"work"`
	Notes     int                      `json:"notes"`
	Clashes   []Clash                  `json:"clashes"`
}

type caseReading struct {
	Value float64   `json:"value"`
	Scale string    `json:"scale"`
	At    time.Time `json:"at"`
}

func (c caseState) state() State {
	s := State{Season: c.Season, Condition: c.Condition, Cause: c.Cause, SeenAt: c.SeenAt, LookAgain: c.LookAgain, Planted: c.Planted,
		Pruned: c.Pruned, PrunedAt: c.PrunedAt, PrunedBy: c.PrunedBy, Work: c.Work, Notes: c.Notes, Clashes: c.Clashes}
	for q, r := range c.Measures {
		if s.Measures == nil {
			s.Measures = map[Quantity]Reading{}
		}
		s.Measures[q] = Reading(r)
	}
	return s
}

func loadCases(t *testing.T) map[string]lifeCase {
	t.Helper()
	files, err := filepath.Glob("../../testdata/events/*.json")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), 20)
	out := map[string]lifeCase{}
	for _, f := range files {
		text, err := os.ReadFile(f)
		require.NoError(t, err)
		var c lifeCase
		require.NoError(t, json.Unmarshal(text, &c), f)
		out[filepath.Base(f)] = c
	}
	return out
}

// TestFold_Cases runs the written cases as they stand, doubled and shuffled.
func TestFold_Cases(t *testing.T) {
	for name, c := range loadCases(t) {
		t.Run(name, func(t *testing.T) {
			p := c.Place.place()
			for _, e := range c.Events {
				require.NoError(t, e.Check())
			}
			want := Life{Plantings: c.Plantings}
			for _, s := range c.States {
				want.States = append(want.States, s.state())
			}
			require.Equal(t, want, Fold(p, c.Events), c.Title)
			many := append(append([]Event{}, c.Events...), c.Events...)
			r := rand.New(rand.NewPCG(1, 2))
			for range 20 {
				r.Shuffle(len(many), func(i, j int) { many[i], many[j] = many[j], many[i] })
				require.Equal(t, want, Fold(p, many), "doubled and shuffled: %s", c.Title)
			}
		})
	}
}
