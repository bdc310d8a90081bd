package server

import (
	"bytes"
	"fmt"
	"net/http"
	"strconv"

	"courson/geo/replant"
	"courson/geo/vine"
	"courson/server/work"
)

// getReplantsPage answers /replants with the replants of a block, named in the
// address after #.
func (s *Server) getReplantsPage(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, "replants.html")
}

// postReplantsPreview answers POST /api/blocks/{block}/replants/preview: the same
// as reading, with other settings or counts; nothing is kept.
func (s *Server) postReplantsPreview(w http.ResponseWriter, r *http.Request) error {
	wish := replantWish{Sample: work.SampleWish{Rows: sampleRows, Seed: 1}}
	if err := readJSON(w, r, mostStandards, &wish); err != nil {
		return err
	}
	h, err := s.headAsked(r.Context(), r.PathValue("block"))
	if err != nil {
		return err
	}
	if wish.Season, err = s.seasonOf(r.Context(), fmt.Sprint(wish.Season)); err != nil {
		return err
	}
	ans, err := s.replantsOf(r.Context(), h, wish)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, ans)
}

// vineReplantJSON is what is known of one place.
type vineReplantJSON struct {
	Vine      vine.ID        `json:"vine"`
	Season    int            `json:"season"`
	Stands    string         `json:"stands"`
	LookAgain string         `json:"look_again"`
	Today     replant.Day    `json:"today"` // in the estate's time zone
	Confirmed bool           `json:"confirmed"`
	Reasons   []string       `json:"reasons"`
	Said      []replant.Said `json:"said"`  // what each source said last
	Why       string         `json:"why"`   // why it is a candidate; empty: it is none
	Place     *placeJSON     `json:"place"` // null: not on its way
}

// getVineReplant answers /api/vines/{id}/replants?season=.
func (s *Server) getVineReplant(w http.ResponseWriter, r *http.Request) error {
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	id, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil || id <= 0 {
		return refuse(http.StatusNotFound, "id", "%q is not the number of a vine", r.PathValue("id"))
	}
	v, err := s.cfg.Store.Vine(r.Context(), id)
	if err != nil {
		return fmt.Errorf("vine %d: %w", id, err)
	}
	got, _, err := s.planReplants(r.Context(), v.Block, season, nil)
	if err != nil {
		return err
	}
	i, ok := got.Stand.Ground.IndexOf(id)
	if !ok {
		return refuse(http.StatusNotFound, "", "there is no vine %d", id)
	}
	verdict := got.Findings.Verdicts[i]
	ans := vineReplantJSON{Vine: id, Season: season, Stands: verdict.State.String(), LookAgain: dayText(verdict.LookAgain), Today: got.Today, Said: orEmpty(got.Findings.Said(i)), Confirmed: verdict.Confirmed, Reasons: orEmpty(got.Findings.Explain(i))}
	for _, c := range got.Candidates {
		if c.Vine == i {
			ans.Why = c.Text
		}
	}
	for _, p := range got.Places {
		if p.Vine == id && p.Stage != replant.Withdrawn {
			j := stepsOf(placeOfVine(got, i), p)
			ans.Place = &j
		}
	}
	return s.sendJSON(w, r, ans)
}

// getReplantsCSV answers /api/replants.csv?season=&block=: one line for every
// candidate and every place on its way.
func (s *Server) getReplantsCSV(w http.ResponseWriter, r *http.Request) error {
	return s.sendReplants(w, r, work.Table, "csv", "text/csv; charset=utf-8")
}

// getReplantsGeoJSON answers /api/replants.geojson?season=&block= (RFC 7946).
func (s *Server) getReplantsGeoJSON(w http.ResponseWriter, r *http.Request) error {
	return s.sendReplants(w, r, work.GeoJSON, "geojson", "application/geo+json")
}

func (s *Server) sendReplants(w http.ResponseWriter, r *http.Request, form work.Form, ending, kind string) error {
	ctx := r.Context()
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	heads, err := s.stands.Heads(ctx)
	if err != nil {
		return err
	}
	name := fmt.Sprintf("replants-%d.%s", season, ending)
	if block := r.URL.Query().Get("block"); block != "" {
		h, err := s.headAsked(ctx, block)
		if err != nil {
			return err
		}
		heads, name = append(heads[:0:0], h), fmt.Sprintf("%s-%d-replants.%s", h.Code, season, ending)
	}
	list := make([]*work.Replants, len(heads))
	for k, h := range heads {
		if list[k], _, err = s.planReplants(ctx, h.ID, season, nil); err != nil {
			return err
		}
	}
	var body bytes.Buffer
	if err := work.WriteReplants(&body, form, list); err != nil {
		return fmt.Errorf("write replants of season %d: %w", season, err)
	}
	return sendFile(w, r, name, kind, body.Bytes())
}
