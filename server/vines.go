package server

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"time"

	"github.com/google/uuid"

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

type blockRef struct {
	ID   vine.ID `json:"id"`
	Code string  `json:"code"`
}

type rowRef struct {
	ID    vine.ID `json:"id"`
	Label string  `json:"label"`
}

type vineJSON struct {
	ID        vine.ID           `json:"id"`
	Block     blockRef          `json:"block"`
	Row       rowRef            `json:"row"`
	Number    int               `json:"number"`
	Address   string            `json:"address"`
	Tag       string            `json:"tag"`
	Lon       float64           `json:"lon"`
	Lat       float64           `json:"lat"`
	ChainageM float64           `json:"chainage_m"`
	OldLabels []oldLabelJSON    `json:"old_labels"`
	Plantings []plantingJSON    `json:"plantings"`
	Seasons   []vineSeasonJSON  `json:"seasons"`
	Events    []json.RawMessage `json:"events"` // newest first
	Previous  vine.ID           `json:"previous"`
	Next      vine.ID           `json:"next"`
}

// plantingJSON is a plant that stood there; of a layer with the place of its mother.
type plantingJSON struct {
	vine.Planting
	MotherAddress string `json:"mother_address,omitempty"`
}

func plantingsOn(g *stand.Ground, list []vine.Planting) []plantingJSON {
	out := make([]plantingJSON, len(list))
	for k, p := range list {
		out[k].Planting = p
		if i, ok := g.IndexOf(p.Mother); ok && p.Mother != 0 {
			out[k].MotherAddress = g.Address(i).String()
		}
	}
	return out
}

type oldLabelJSON struct {
	Label string    `json:"label"`
	Until time.Time `json:"until"`
}

// getVine answers /api/vines/{id} with a vine's whole life.
func (s *Server) getVine(w http.ResponseWriter, r *http.Request) error {
	id, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil || id <= 0 {
		return refuse(http.StatusNotFound, "id", "%q is not the number of a vine", r.PathValue("id"))
	}
	v, err := s.cfg.Store.Vine(r.Context(), id)
	if err != nil {
		return fmt.Errorf("vine %d: %w", id, err)
	}
	ans, err := s.vineLife(r.Context(), v)
	if err != nil {
		return fmt.Errorf("life of vine %d: %w", id, err)
	}
	return s.sendJSON(w, r, ans)
}

// vineLife gathers what is known of a vine: where it stands, its log, and its
// state in every season.
func (s *Server) vineLife(ctx context.Context, v store.Vine) (vineJSON, error) {
	var ans vineJSON
	span, err := s.seasons(ctx)
	if err != nil {
		return ans, err
	}
	view, err := s.stands.Stand(ctx, v.Block, span.open)
	if err != nil {
		return ans, err
	}
	i, ok := view.Find(v.ID)
	if !ok {
		return ans, store.ErrNotFound
	}
	events, err := s.cfg.Store.Events(ctx, store.EventQuery{Block: v.Block, Vine: v.ID})
	if err != nil {
		return ans, fmt.Errorf("events: %w", err)
	}
	g := view.Stand.Ground
	place := vine.Place{ID: v.ID, Row: v.Row, Block: v.Block, Planted: int(g.Planted[i])}
	life := vine.Fold(place, plain(events))

	ans = vineOn(g, i, v)
	ans.Plantings = plantingsOn(g, life.Plantings)
	if ans.OldLabels, err = s.oldLabels(ctx, v.ID); err != nil {
		return ans, err
	}
	if ans.Events, err = eventsJSON(events, place); err != nil {
		return ans, err
	}
	for _, season := range span.list {
		sj, err := s.vineSeason(ctx, v, season, life.In(season, place))
		if err != nil {
			return ans, err
		}
		ans.Seasons = append(ans.Seasons, sj)
	}
	return ans, nil
}

// vineOn describes vine i of a ground.
func vineOn(g *stand.Ground, i int, v store.Vine) vineJSON {
	row := g.Rows[g.Row[i]]
	ans := vineJSON{ID: v.ID, Block: blockRef{g.Block, g.Code}, Row: rowRef{row.ID, row.Label},
		Number: int(g.Number[i]), Address: g.Address(i).String(), Tag: v.Tag,
		Lon: v.Point[0], Lat: v.Point[1], ChainageM: v.ChainageM}
	if i > row.First {
		ans.Previous = g.ID[i-1]
	}
	if i+1 < row.First+row.Count {
		ans.Next = g.ID[i+1]
	}
	return ans
}

func (s *Server) oldLabels(ctx context.Context, id vine.ID) ([]oldLabelJSON, error) {
	labels, err := s.cfg.Store.OldLabels(ctx, id)
	if err != nil {
		return nil, fmt.Errorf("old labels of vine %d: %w", id, err)
	}
	out := make([]oldLabelJSON, len(labels))
	for i, l := range labels {
		out[i] = oldLabelJSON(l)
	}
	return out, nil
}

func orEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

func plain(events []store.LoggedEvent) []vine.Event {
	out := make([]vine.Event, len(events))
	for i, e := range events {
		out[i] = e.Event
	}
	return out
}

// eventsJSON writes the events newest first, each with its place in the log and
// whether it was taken back for this vine.
func eventsJSON(events []store.LoggedEvent, place vine.Place) ([]json.RawMessage, error) {
	voided := make(map[uuid.UUID]bool)
	for _, e := range events {
		if v, ok := e.Body.(vine.Void); ok && e.Target.Covers(place) {
			voided[v.Event] = true
		}
	}
	out := make([]json.RawMessage, 0, len(events))
	for _, e := range slices.Backward(events) {
		body, err := json.Marshal(e.Event)
		if err != nil {
			return nil, fmt.Errorf("encode event %s: %w", e.ID, err)
		}
		body = fmt.Appendf(body[:len(body)-1], `,"cursor":%d,"voided":%t}`, e.Cursor, voided[e.ID])
		out = append(out, body)
	}
	return out, nil
}

type foundJSON struct {
	ID      vine.ID  `json:"id"`
	Address string   `json:"address"`
	Tag     string   `json:"tag"`
	Lon     float64  `json:"lon"`
	Lat     float64  `json:"lat"`
	Block   blockRef `json:"block"`
	Row     rowRef   `json:"row"`
}

// findVines answers /api/vines?find=… with the vines of that address, tag or
// old label.
func (s *Server) findVines(w http.ResponseWriter, r *http.Request) error {
	text := r.URL.Query().Get("find")
	if text == "" || len(text) > 200 {
		return refuse(http.StatusBadRequest, "find", "say what to find, as in /api/vines?find=H3/12/41 (up to 200 characters)")
	}
	vines, err := s.cfg.Store.FindLabel(r.Context(), text)
	if err != nil {
		return fmt.Errorf("find %q: %w", text, err)
	}
	span, err := s.seasons(r.Context())
	if err != nil {
		return err
	}
	found := make([]foundJSON, 0, len(vines))
	for _, v := range vines {
		view, err := s.stands.Stand(r.Context(), v.Block, span.open)
		if err != nil {
			return err
		}
		i, ok := view.Find(v.ID)
		if !ok {
			continue // came or went a moment ago
		}
		d := vineOn(view.Stand.Ground, i, v)
		found = append(found, foundJSON{ID: d.ID, Address: d.Address, Tag: d.Tag, Lon: d.Lon, Lat: d.Lat, Block: d.Block, Row: d.Row})
	}
	return s.sendJSON(w, r, map[string]any{"vines": found})
}
