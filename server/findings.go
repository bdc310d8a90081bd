package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"

	"courson/geo/patch"
	"courson/geo/vine"
	"courson/server/findings"
	"courson/server/stands"
	"courson/server/work"
	"courson/store"
)

// getBlockFindings answers /api/blocks/{block}/findings?season=&since=: what
// was found, as far as it is worked out.
func (s *Server) getBlockFindings(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	h, err := s.headAsked(ctx, r.PathValue("block"))
	if err != nil {
		return err
	}
	s.desk.Look(season)
	f, status := s.desk.Of(findings.Key{Block: h.ID, Season: season})
	out := findingsJSON{Block: h.ID, Code: h.Code, Name: h.Name, Variety: h.Variety, Planted: h.Planted, Leaf: vine.Leaf(h.Planted, season),
		Season: season, State: status.State, Progress: status.Progress, Detail: status.Detail}
	if f == nil {
		return s.sendJSON(w, r, out)
	}
	out.Found = f.Found.Stamp
	out.Vigour, out.Patches, out.Likely = vigourOf(f), patchesOf(f), likelyOf(f)
	change, err := s.changeAsked(r, []findings.Key{{Block: h.ID, Season: season}}, f.Change)
	if err != nil {
		return err
	}
	out.Change = changeJSONOf(change)
	return s.sendJSON(w, r, out)
}

// changeAsked gives the change since ?since=, or the one that was found where
// that is not asked for; nil where there is nothing to compare.
func (s *Server) changeAsked(r *http.Request, keys []findings.Key, found *work.Change) (*work.Change, error) {
	text := r.URL.Query().Get("since")
	if text == "" {
		return found, nil
	}
	since, err := s.seasonOf(r.Context(), text)
	if err != nil {
		return nil, err
	}
	if found != nil && found.Since == since {
		return found, nil
	}
	if len(keys) > 0 && since >= keys[0].Season {
		return nil, refuse(http.StatusBadRequest, "since", "season %d is not earlier than %d", since, keys[0].Season)
	}
	return s.compare(r.Context(), keys, since)
}

// compare is Desk.Compare with nothing to compare as nil.
func (s *Server) compare(ctx context.Context, keys []findings.Key, since int) (*work.Change, error) {
	c, err := s.desk.Compare(ctx, keys, since)
	if errors.Is(err, patch.ErrFewValues) {
		return nil, nil
	}
	return c, err
}

// estateFindingsJSON sums up the findings of all blocks.
type estateFindingsJSON struct {
	Season     int             `json:"season"`
	Since      int             `json:"since"` // 0: nothing to compare with
	Blocks     []blockFindings `json:"blocks"`
	Quantity   vine.Quantity   `json:"quantity"`
	Unit       string          `json:"unit"`
	Ranks      bool            `json:"ranks"`
	Why        string          `json:"why"`
	All        *groupJSON      `json:"all"`
	ByLeaf     []groupJSON     `json:"by_leaf"`
	ByCultivar []groupJSON     `json:"by_cultivar"`
}

type blockFindings struct {
	Block       vine.ID        `json:"block"`
	Code        string         `json:"code"`
	Variety     string         `json:"variety"`
	Leaf        int            `json:"leaf"`
	State       findings.State `json:"state"`
	Progress    float64        `json:"progress"`
	Found       string         `json:"found"`
	Detail      string         `json:"detail"`
	MeanKgM     *float64       `json:"mean_kg_m"` // null where there is no weight to go by
	Weak        int            `json:"weak"`
	Strong      int            `json:"strong"`
	Likely      int            `json:"likely"`
	WeakHa      float64        `json:"weak_ha"`
	WeakVines   int            `json:"weak_vines"`
	ChangePct   *float64       `json:"change_pct"`
	ChangeRanks bool           `json:"change_ranks"`
}

// getFindings answers /api/findings?season=&since=: all blocks side by side,
// and how the whole estate changed.
func (s *Server) getFindings(w http.ResponseWriter, r *http.Request) error {
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	s.desk.Look(season)
	heads, err := s.stands.Heads(r.Context())
	if err != nil {
		return err
	}
	out := estateFindingsJSON{Season: season, Blocks: []blockFindings{}, ByLeaf: []groupJSON{}, ByCultivar: []groupJSON{}}
	keys, latest := make([]findings.Key, len(heads)), 0
	for i, h := range heads {
		keys[i] = findings.Key{Block: h.ID, Season: season}
		f, status := s.desk.Of(keys[i])
		out.Blocks = append(out.Blocks, summaryOf(h, season, f, status))
		if f != nil && f.Change != nil {
			latest = max(latest, f.Change.Since)
		}
	}
	change, err := s.estateChange(r, keys, latest)
	if err != nil {
		return err
	}
	if c := changeJSONOf(change); c != nil {
		out.Since, out.Quantity, out.Unit, out.Ranks, out.Why = c.Since, c.Quantity, c.Unit, c.Ranks, c.Why
		out.All, out.ByLeaf, out.ByCultivar = &c.All, c.ByLeaf, c.ByCultivar
	}
	return s.sendJSON(w, r, out)
}

// estateChange compares the whole estate with the season asked for, else with
// the latest that its blocks were compared with.
func (s *Server) estateChange(r *http.Request, keys []findings.Key, latest int) (*work.Change, error) {
	if r.URL.Query().Get("since") != "" {
		return s.changeAsked(r, keys, nil)
	}
	if latest == 0 {
		return nil, nil
	}
	return s.compare(r.Context(), keys, latest)
}

func summaryOf(h *stands.Head, season int, f *work.Findings, status findings.Status) blockFindings {
	out := blockFindings{Block: h.ID, Code: h.Code, Variety: h.Variety, Leaf: vine.Leaf(h.Planted, season),
		State: status.State, Progress: status.Progress, Detail: status.Detail}
	if f == nil {
		return out
	}
	out.Found = f.Found.Stamp
	if v := vigourOf(f); v.Measured+v.Calibrated+v.Estimated > 0 {
		out.MeanKgM = &v.MeanKgM
	}
	if f.Patches != nil {
		for i := range f.Patches.Patches {
			p := &f.Patches.Patches[i]
			if p.Kind == patch.Strong {
				out.Strong++
				continue
			}
			out.Weak++
			out.WeakHa += p.Hectares()
			out.WeakVines += len(p.Vines)
		}
	}
	if f.Likely != nil {
		out.Likely = len(f.Likely.Patches)
	}
	if f.Change != nil {
		out.ChangePct, out.ChangeRanks = &f.Change.All.Rows.Percent, f.Change.Ranks
	}
	return out
}

// orderJSON asks for work to be done again or to be ended.
type orderJSON struct {
	Season int       `json:"season"`
	Blocks []vine.ID `json:"blocks"` // null: all
	Do     string    `json:"do"`     // again, cancel
}

// putSince answers PUT /api/findings/since: with which earlier season the map
// compares a season; 0 leaves it to the program.
func (s *Server) putSince(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Season int    `json:"season"`
		Since  int    `json:"since"`
		By     string `json:"by"`
	}
	if err := readJSON(w, r, 1<<12, &in); err != nil {
		return err
	}
	for _, season := range []int{in.Season, in.Since} {
		if season == 0 {
			continue
		}
		if _, err := s.seasonOf(r.Context(), fmt.Sprint(season)); err != nil {
			return err
		}
	}
	if in.Since >= in.Season {
		return refuse(http.StatusUnprocessableEntity, "since", "season %d is not earlier than %d", in.Since, in.Season)
	}
	err := s.cfg.Store.Update(r.Context(), func(tx store.Tx) error {
		return work.SaveComparedWith(tx, in.Season, in.Since, in.By, s.cfg.Now())
	})
	if err != nil {
		return err
	}
	keys, err := s.keysOf(r.Context(), orderJSON{Season: in.Season})
	if err != nil {
		return err
	}
	s.desk.Look(in.Season)
	s.desk.Again(keys)
	return s.sendJSON(w, r, in)
}

// postFindings answers POST /api/findings.
func (s *Server) postFindings(w http.ResponseWriter, r *http.Request) error {
	var order orderJSON
	in := json.NewDecoder(http.MaxBytesReader(w, r.Body, 1<<20))
	in.DisallowUnknownFields()
	if err := in.Decode(&order); err != nil {
		return refuse(http.StatusBadRequest, "", "the order cannot be read: %v", err)
	}
	if _, err := s.seasonOf(r.Context(), fmt.Sprint(order.Season)); err != nil {
		return err
	}
	keys, err := s.keysOf(r.Context(), order)
	if err != nil {
		return err
	}
	switch order.Do {
	case "again":
		s.desk.Look(order.Season)
		s.desk.Again(keys)
	case "cancel":
		s.desk.Cancel(keys)
	default:
		return refuse(http.StatusBadRequest, "do", "%q is not possible; there is again, cancel", order.Do)
	}
	w.WriteHeader(http.StatusAccepted)
	return nil
}

func (s *Server) keysOf(ctx context.Context, order orderJSON) ([]findings.Key, error) {
	var keys []findings.Key
	if order.Blocks == nil {
		heads, err := s.stands.Heads(ctx)
		if err != nil {
			return nil, err
		}
		for _, h := range heads {
			keys = append(keys, findings.Key{Block: h.ID, Season: order.Season})
		}
		return keys, nil
	}
	for _, id := range order.Blocks {
		if _, err := s.stands.Head(ctx, id); err != nil {
			return nil, err
		}
		keys = append(keys, findings.Key{Block: id, Season: order.Season})
	}
	return keys, nil
}
