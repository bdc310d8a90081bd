package server

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"net/http"
	"strconv"

	"courson/geo/patch"
	"courson/geo/stand"
	"courson/geo/tile"
	"courson/server/findings"
	"courson/server/stands"
	"courson/server/work"
)

// table is a CSV file being written.
type table struct {
	text bytes.Buffer
	csv  *csv.Writer
}

func newTable(head ...string) *table {
	t := &table{}
	t.csv = csv.NewWriter(&t.text)
	_ = t.csv.Write(head) // into memory
	return t
}

func (t *table) row(cells ...string) { _ = t.csv.Write(cells) }

func (t *table) send(w http.ResponseWriter, r *http.Request, name string) error {
	t.csv.Flush()
	return sendFile(w, r, name, "text/csv; charset=utf-8", t.text.Bytes())
}

// sendFile sends a download.
func sendFile(w http.ResponseWriter, r *http.Request, name, kind string, body []byte) error {
	w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", name))
	return reply{contentType: kind, tag: contentTag(body), plain: body}.send(w, r)
}

// figure writes a number to some decimals, empty where there is none.
func figure(v float64, decimals int, known bool) string {
	if !known {
		return ""
	}
	return strconv.FormatFloat(v, 'f', decimals, 64)
}

// readyFindings gives what was found of a block, or says that it is not ready.
func (s *Server) readyFindings(r *http.Request, h *stands.Head, season int) (*work.Findings, error) {
	s.desk.Look(season)
	f, status := s.desk.Of(findings.Key{Block: h.ID, Season: season})
	if f == nil {
		return nil, refuse(http.StatusServiceUnavailable, "", "block %s of season %d is not worked out yet (%s); try again in a moment", h.Code, season, status.State)
	}
	return f, nil
}

// getFindingsCSV answers /api/blocks/{block}/findings.csv: a line for each vine.
func (s *Server) getFindingsCSV(w http.ResponseWriter, r *http.Request) error {
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	h, err := s.headAsked(r.Context(), r.PathValue("block"))
	if err != nil {
		return err
	}
	f, err := s.readyFindings(r, h, season)
	if err != nil {
		return err
	}
	change, err := s.changeAsked(r, []findings.Key{{Block: h.ID, Season: season}}, f.Change)
	if err != nil {
		return err
	}
	t := newTable("address", "condition", "leaf", "occupied_m", "vigour_kg_m", "standard_error_kg_m", "from", "class",
		"tested", "tested_unit", "tested_value", "expected", "z", "q", "patch", "change", "change_unit", "change_since")
	vineLines(t, f, change)
	return t.send(w, r, fmt.Sprintf("%s-%d-vines.csv", h.Code, season))
}

func vineLines(t *table, f *work.Findings, change *work.Change) {
	v, p, s := f.Vigour, f.Patches, f.Stand
	var column patch.Column
	unit, since := "", ""
	if change != nil && len(change.Blocks) > 0 {
		column, since = change.Blocks[0].Difference, strconv.Itoa(change.Since)
		unit = change.Quantity.Unit
	}
	for i := range s.Condition {
		has := v.KgPerM[i] >= 0
		cells := []string{s.Ground.Address(i).String(), s.Condition[i].String(), strconv.Itoa(int(s.Leaf[i])), figure(float64(v.OccupiedM[i]), 2, true),
			figure(float64(v.KgPerM[i]), 4, has), figure(float64(v.SE[i]), 4, has), v.Source(i), figure(float64(v.Class[i]), 0, v.Class[i] > 0)}
		if p != nil && p.Refused == nil {
			seen := f.Value.Seen[i]
			cells = append(cells, f.Tested.Label, f.Tested.Unit, figure(f.Value.Value[i], 4, seen), figure(p.Expected.Value[i], 4, p.Expected.Seen[i]),
				figure(p.Z[i], 4, p.Tested[i]), figure(p.Q[i], 6, p.Tested[i]))
		} else {
			cells = append(cells, "", "", "", "", "", "")
		}
		cells = append(cells, patchWord(f.Found, i))
		if known := since != "" && column.Seen[i]; known {
			cells = append(cells, figure(column.Value[i], 4, true), unit, since)
		} else {
			cells = append(cells, "", "", "")
		}
		t.row(cells...)
	}
}

// patchWord is the legend's key of how a vine stands in its surroundings.
func patchWord(f *stand.Found, i int) string {
	return tile.PatchLegend().Classes[min(int(f.Patch[i]), len(tile.PatchLegend().Classes)-1)].Key
}

// blocksAsked gives the blocks of ?block=, by default all, with what was found.
func (s *Server) blocksAsked(r *http.Request, season int) (out []*work.Findings, err error) {
	ctx := r.Context()
	var heads []*stands.Head
	if code := r.URL.Query().Get("block"); code != "" {
		h, err := s.headAsked(ctx, code)
		if err != nil {
			return nil, err
		}
		heads = []*stands.Head{h}
	} else if heads, err = s.stands.Heads(ctx); err != nil {
		return nil, err
	}
	for _, h := range heads {
		f, err := s.readyFindings(r, h, season)
		if err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	return out, nil
}

// getPatchesCSV answers /api/patches.csv?season=&block=.
func (s *Server) getPatchesCSV(w http.ResponseWriter, r *http.Request) error {
	return s.sendPatches(w, r, work.Table, "csv", "text/csv; charset=utf-8")
}

// getPatchesGeoJSON answers /api/patches.geojson?season=&block= (RFC 7946).
func (s *Server) getPatchesGeoJSON(w http.ResponseWriter, r *http.Request) error {
	return s.sendPatches(w, r, work.GeoJSON, "geojson", "application/geo+json")
}

func (s *Server) sendPatches(w http.ResponseWriter, r *http.Request, form work.Form, ending, kind string) error {
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	blocks, err := s.blocksAsked(r, season)
	if err != nil {
		return err
	}
	e, err := s.stands.Estate(r.Context())
	if err != nil {
		return err
	}
	var body bytes.Buffer
	if _, err := work.WritePatches(&body, form, e.USUnits, blocks); err != nil {
		return fmt.Errorf("write patches of season %d: %w", season, err)
	}
	return sendFile(w, r, fmt.Sprintf("patches-%d.%s", season, ending), kind, body.Bytes())
}

// getChangeCSV answers /api/change.csv?season=&since=&block=: a line for each
// leaf class and cultivar.
func (s *Server) getChangeCSV(w http.ResponseWriter, r *http.Request) error {
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	blocks, err := s.blocksAsked(r, season)
	if err != nil {
		return err
	}
	keys, latest := make([]findings.Key, len(blocks)), 0
	for i, f := range blocks {
		keys[i] = findings.Key{Block: f.Stand.Ground.Block, Season: season}
		if f.Change != nil {
			latest = max(latest, f.Change.Since)
		}
	}
	c, err := s.estateChange(r, keys, latest)
	if err != nil {
		return err
	}
	t := newTable("group", "since", "season", "quantity", "unit", "vines", "before", "after", "change", "change_percent", "effect_size",
		"rows", "rows_change", "rows_effect_size", "rows_p")
	if g := changeJSONOf(c); g != nil {
		for _, k := range append(append([]groupJSON{g.All}, g.ByLeaf...), g.ByCultivar...) {
			p := ""
			if k.Rows.T != nil {
				p = figure(k.Rows.T.P, 6, true)
			}
			t.row(k.Label, strconv.Itoa(g.Since), strconv.Itoa(season), g.Label, g.Unit, strconv.Itoa(k.Vines.N), figure(k.Vines.Before, 4, true),
				figure(k.Vines.After, 4, true), figure(k.Vines.Mean, 4, true), figure(k.Vines.Percent, 1, !g.Ranks), figure(k.Vines.Effect, 3, true),
				strconv.Itoa(k.Rows.N), figure(k.Rows.Mean, 4, true), figure(k.Rows.Effect, 3, true), p)
		}
	}
	return t.send(w, r, fmt.Sprintf("change-%d.csv", season))
}
