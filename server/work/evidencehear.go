package work

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"courson/geo/replant"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// heard is the evidence of a block while it is gathered from the record.
type heard struct {
	*replant.Evidence
	g       *stand.Ground
	zone    *time.Location
	sick    []replant.Sickness
	planted map[int32]int // first leaf of the plant last set
	canopy  map[canopyKey][]float64
	suspect float64 // score from which an image makes a suspicion
}

// canopyKey names the image of an index: what it holds and its day.
type canopyKey struct {
	scale string
	day   replant.Day
}

// evidenceOf gathers what people saw, what was planted, surveyed and seen from the
// air, with the plants of each position and every sickness ever seen.
func evidenceOf(ctx context.Context, st reader, b ShareBlock, zone *time.Location) (*replant.Evidence, []replant.History, []replant.Sickness, error) {
	g := b.Stand.Ground
	h := &heard{Evidence: &replant.Evidence{Places: g.Len()}, g: g, zone: zone, planted: map[int32]int{}, canopy: map[canopyKey][]float64{}, suspect: b.Settled.Replants.Find.SuspectFrom}
	events, err := st.Events(ctx, store.EventQuery{Block: b.Block.ID})
	if err != nil {
		return nil, nil, nil, fmt.Errorf("records of block %s: %w", b.Block.Code, err)
	}
	list := plainEvents(events)
	places := make([]vine.Place, g.Len())
	for i := range places {
		places[i] = vine.Place{ID: g.ID[i], Row: g.Rows[g.Row[i]].ID, Block: b.Block.ID, Planted: int(g.Planted[i])}
	}
	histories := make([]replant.History, g.Len())
	vine.FoldMany(places, list, func(i int, life vine.Life) { histories[i] = replant.HistoryOf(g.ID[i], life.Plantings) })
	gone := takenBack(list)
	slices.SortStableFunc(list, func(x, y vine.Event) int { return x.When.Compare(y.When) })
	for _, ev := range list {
		if ev.Season > b.Stand.Season {
			continue
		}
		switch body := ev.Body.(type) {
		case vine.Sighting:
			h.sighting(ev, body, gone)
		case vine.Measure:
			if body.Quantity == vine.CanopyIndex {
				h.index(ev, body, gone)
			}
		}
	}
	h.thin()
	return h.Evidence, histories, h.sick, hearKept(ctx, st, h.Evidence, g, b.Stand.Season)
}

// sighting adds what a person saw, and plantings.
func (h *heard) sighting(ev vine.Event, c vine.Sighting, gone voids) {
	day := replant.DayOf(ev.When, h.zone)
	eachTarget(h.g, ev.Target, func(i, _ int) {
		if gone.covers(ev, h.g, i) {
			return
		}
		at, s := int32(i), replant.FromRecord(int32(i), c, ev.By, day)
		s.Confirmed = s.Confirmed || ev.Device == replantDevice
		switch c.Condition {
		case vine.Replanted:
			leaf := c.Planted
			if leaf == 0 {
				leaf = ev.Season
			}
			if h.planted[at] != leaf {
				h.planted[at] = leaf
				h.Records = append(h.Records, replant.Record{Vine: at, Day: day, Kind: replant.Planted})
				return
			}
			s.Condition = vine.Young // that plant, seen again
		case vine.Diseased:
			kind := strings.ToLower(strings.TrimSpace(c.Cause))
			if kind == "" {
				kind = "not named"
			}
			h.sick = append(h.sick, replant.Sickness{Vine: at, Kind: kind, Day: day})
		}
		h.Sightings = append(h.Sightings, s)
	})
}

// index adds the canopy index of an image.
func (h *heard) index(ev vine.Event, m vine.Measure, gone voids) {
	key := canopyKey{m.Scale, replant.DayOf(ev.When, h.zone)}
	values := h.canopy[key]
	if values == nil {
		values = make([]float64, h.g.Len())
		for i := range values {
			values[i] = math.NaN()
		}
		h.canopy[key] = values
	}
	eachTarget(h.g, ev.Target, func(i, k int) {
		if !gone.covers(ev, h.g, i) {
			values[i] = m.For(k)
		}
	})
}

// thin suspects the places whose index lies far under their neighbours'.
func (h *heard) thin() {
	for key, values := range h.canopy {
		for _, t := range replant.ThinPlaces(h.g, values, h.suspect) {
			h.Detections = append(h.Detections, replant.Detection{Vine: t.Vine, Day: key.day, Score: t.Score, Source: strings.TrimSpace("canopy index " + key.scale), Rests: t.Rests()})
		}
	}
	slices.SortStableFunc(h.Detections, func(a, b replant.Detection) int {
		if a.Vine != b.Vine {
			return int(a.Vine) - int(b.Vine)
		}
		return strings.Compare(a.Source, b.Source)
	})
}

// voids are the targets for which events were taken back, by the event's id.
type voids map[string][]vine.Target

func takenBack(list []vine.Event) voids {
	out := voids{}
	for _, ev := range list {
		if v, ok := ev.Body.(vine.Void); ok {
			out[v.Event.String()] = append(out[v.Event.String()], ev.Target)
		}
	}
	return out
}

// covers tells whether an event was taken back for a vine.
func (v voids) covers(ev vine.Event, g *stand.Ground, i int) bool {
	list := v[ev.ID.String()]
	if len(list) == 0 {
		return false
	}
	place := vine.Place{ID: g.ID[i], Row: g.Rows[g.Row[i]].ID, Block: g.Block}
	return slices.ContainsFunc(list, func(t vine.Target) bool { return t.Covers(place) })
}
