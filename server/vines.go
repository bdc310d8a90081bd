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
	"courson/server/stands"
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
	Plantings []vine.Planting   `json:"plantings"`
	Seasons   []vineSeasonJSON  `json:"seasons"`
	Events    []json.RawMessage `json:"events"` // newest first
	Previous  vine.ID           `json:"previous"`
	Next      vine.ID           `json:"next"`
}

type oldLabelJSON struct {
	Label string    `json:"label"`
	Until time.Time `json:"until"`
}

type vineSeasonJSON struct {
	Season      int                    `json:"season"`
	Leaf        int                    `json:"leaf"`
	Condition   vine.Condition         `json:"condition"`
	Cause       string                 `json:"cause,omitempty"`
	SeenAt      *time.Time             `json:"seen_at,omitempty"`
	LookAgain   *time.Time             `json:"look_again,omitempty"`
	Measures    map[string]readingJSON `json:"measures"`
	Vigour      uint8                  `json:"vigour"`
	WeightGPerM *float64               `json:"weight_g_per_m"`
	Pruned      *prunedJSON            `json:"pruned"`
	Progress    vine.Progress          `json:"progress"`
	Plan        *planJSON              `json:"plan"`
	Clashes     []vine.Clash           `json:"clashes"`
}

type readingJSON struct {
	Value float64   `json:"value"`
	Unit  string    `json:"unit"`
	Scale string    `json:"scale,omitempty"`
	At    time.Time `json:"at"`
}

type prunedJSON struct {
	Nodes  *int       `json:"nodes,omitempty"`
	Canes  *int       `json:"canes,omitempty"`
	Spurs  *int       `json:"spurs,omitempty"`
	Arms   []vine.Arm `json:"arms,omitempty"`
	Reason string     `json:"reason,omitempty"`
	At     time.Time  `json:"at"`
	By     string     `json:"by"`
}

type planJSON struct {
	Nodes  *int   `json:"nodes,omitempty"`
	Canes  *int   `json:"canes,omitempty"`
	Spurs  *int   `json:"spurs,omitempty"`
	Reason string `json:"reason,omitempty"`
}

// getVine answers /api/vines/{id} with a vine's whole life.
func (s *Server) getVine(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	id, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil || id <= 0 {
		return refuse(http.StatusNotFound, "id", "%q is not the number of a vine", r.PathValue("id"))
	}
	v, err := s.cfg.Store.Vine(ctx, id)
	if err != nil {
		return fmt.Errorf("vine %d: %w", id, err)
	}
	span, err := s.seasons(ctx)
	if err != nil {
		return err
	}
	view, err := s.stands.Stand(ctx, v.Block, span.open)
	if err != nil {
		return err
	}
	i, ok := view.Find(id)
	if !ok {
		return fmt.Errorf("vine %d: %w", id, store.ErrNotFound)
	}
	events, err := s.cfg.Store.Events(ctx, store.EventQuery{Block: v.Block, Vine: id})
	if err != nil {
		return fmt.Errorf("events of vine %d: %w", id, err)
	}
	g := view.Stand.Ground
	place := vine.Place{ID: id, Row: v.Row, Block: v.Block, Planted: int(g.Planted[i])}
	life := vine.Fold(place, plain(events))

	ans := vineOn(g, i, v)
	ans.Plantings = orEmpty(life.Plantings)
	if ans.OldLabels, err = s.oldLabels(ctx, id); err != nil {
		return err
	}
	if ans.Events, err = eventsJSON(events, place); err != nil {
		return err
	}
	for _, season := range span.list {
		sj, err := s.vineSeason(ctx, v, season, life.In(season, place))
		if err != nil {
			return err
		}
		ans.Seasons = append(ans.Seasons, sj)
	}
	return s.sendJSON(w, r, ans)
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

// vineSeason joins what the record says of a vine in a season with what the
// stand and the plan say.
func (s *Server) vineSeason(ctx context.Context, v store.Vine, season int, st vine.State) (vineSeasonJSON, error) {
	view, err := s.stands.Stand(ctx, v.Block, season)
	if err != nil {
		return vineSeasonJSON{}, err
	}
	i, ok := view.Find(v.ID)
	if !ok {
		return vineSeasonJSON{}, fmt.Errorf("vine %d: %w", v.ID, store.ErrNotFound)
	}
	c := view.Stand
	ans := vineSeasonJSON{Season: season, Leaf: int(c.Leaf[i]), Condition: st.Condition, Cause: st.Cause,
		SeenAt: timeOrNil(st.SeenAt), LookAgain: timeOrNil(st.LookAgain), Measures: measuresOf(st),
		Vigour: c.Vigour[i], Pruned: prunedOf(st), Progress: st.Work[vine.Pruning], Clashes: orEmpty(st.Clashes)}
	if perM, ok := c.WeightPerMetre(i); ok {
		ans.WeightGPerM = &perM
	}
	ans.Plan, err = s.planOf(ctx, view, v.ID, season)
	return ans, err
}

// planOf gives what the pruning plan says of one vine; nil where it says
// nothing.
func (s *Server) planOf(ctx context.Context, view *stands.View, id vine.ID, season int) (*planJSON, error) {
	if !view.Planned {
		return nil, nil
	}
	entries, err := s.cfg.Store.PlanEntries(ctx, store.PlanPruning, season, view.ID)
	if err != nil {
		return nil, fmt.Errorf("pruning plan of block %s season %d: %w", view.Code, season, err)
	}
	i := slices.IndexFunc(entries, func(e store.PlanEntry) bool { return e.Vine == id })
	if i < 0 {
		return nil, nil
	}
	e := entries[i]
	return &planJSON{Nodes: said(e.Nodes), Canes: said(e.Canes), Spurs: said(e.Spurs), Reason: e.Reason}, nil
}

// said turns "below 0 means not said" into nil.
func said(n int) *int {
	if n < 0 {
		return nil
	}
	return &n
}

func measuresOf(st vine.State) map[string]readingJSON {
	out := make(map[string]readingJSON, len(st.Measures))
	for q, m := range st.Measures {
		out[string(q)] = readingJSON{Value: m.Value, Unit: q.Unit(), Scale: m.Scale, At: m.At}
	}
	return out
}

func prunedOf(st vine.State) *prunedJSON {
	if st.Pruned == nil {
		return nil
	}
	out := &prunedJSON{Arms: st.Pruned.Arms, Reason: st.Pruned.Reason, At: st.PrunedAt, By: st.PrunedBy,
		Nodes: st.Pruned.Nodes, Canes: st.Pruned.Canes, Spurs: st.Pruned.Spurs}
	if len(st.Pruned.Arms) > 0 {
		nodes, canes, spurs, _ := st.Pruned.Totals()
		out.Nodes, out.Canes, out.Spurs = &nodes, &canes, &spurs
	}
	return out
}

func timeOrNil(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
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
