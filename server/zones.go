package server

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"time"

	"courson/geo/rate"
	"courson/geo/vine"
	"courson/server/findings"
	"courson/server/stands"
	"courson/server/work"
	"courson/store"
)

// zonesListJSON is what a block can be cut from, and the zonings that were kept.
type zonesListJSON struct {
	Season   int            `json:"season"`
	Block    vine.ID        `json:"block"`
	Code     string         `json:"code"`
	RowM     float64        `json:"row_spacing_m"`
	AreaM2   float64        `json:"area_m2"`
	Layers   []work.Layer   `json:"layers"`
	Versions []keptHeadJSON `json:"versions"` // the newest first: it is in use
}

// keptHeadJSON is a kept zoning in short.
type keptHeadJSON struct {
	ID       string    `json:"id"`
	Made     time.Time `json:"made"`
	By       string    `json:"by"`
	Note     string    `json:"note"`
	Method   string    `json:"method"`
	Zones    int       `json:"zones"`
	Columns  []string  `json:"columns"`
	Kept     float64   `json:"kept"`
	Material string    `json:"material"` // "": zones alone
	Total    float64   `json:"total"`
	Measure  string    `json:"measure"`
	Unit     string    `json:"unit"`
	Rates    []float64 `json:"rates"` // of each zone, the weakest first
}

func keptHead(k *work.KeptZones) keptHeadJSON {
	h := keptHeadJSON{ID: k.ID, Made: k.Made, By: k.By, Note: k.Note, Method: k.View.Method, Zones: len(k.View.Zones), Columns: []string{}, Kept: k.View.Kept, Rates: []float64{}}
	for _, c := range k.View.Columns {
		h.Columns = append(h.Columns, c.Name)
	}
	if r := k.View.Rates; r != nil {
		h.Material, h.Total, h.Measure, h.Unit = r.Material, r.Total, r.Measure, string(r.Unit)
		for _, z := range r.Zones {
			h.Rates = append(h.Rates, z.Rate)
		}
	}
	return h
}

// getZones answers GET /api/blocks/{block}/zones?season=.
func (s *Server) getZones(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	season, h, err := s.blockSeason(r)
	if err != nil {
		return err
	}
	kept, err := work.ZonesKept(ctx, s.cfg.Store, h.ID, season)
	if err != nil {
		return err
	}
	totals, err := s.stands.Totals(ctx, h.ID, season)
	if err != nil {
		return err
	}
	ans := zonesListJSON{Season: season, Block: h.ID, Code: h.Code, RowM: h.RowSpacingM, AreaM2: totals.AreaM2, Versions: []keptHeadJSON{}}
	if ans.Layers, err = s.layers(ctx, h); err != nil {
		return err
	}
	for _, k := range kept {
		ans.Versions = append(ans.Versions, keptHead(k))
	}
	return s.sendJSON(w, r, ans)
}

// layers tells from what a block can be cut into zones, season by season.
func (s *Server) layers(ctx context.Context, h *stands.Head) ([]work.Layer, error) {
	seasons, err := s.stands.Seasons(ctx)
	if err != nil {
		return nil, err
	}
	out := []work.Layer{}
	for _, season := range seasons {
		m, _, err := s.desk.Measured(ctx, findings.Key{Block: h.ID, Season: season})
		if err != nil {
			return nil, err
		}
		out = append(out, work.LayersOf(m)...)
	}
	return out, nil
}

// keepZonesJSON is the body of zones to be kept.
type keepZonesJSON struct {
	Season int            `json:"season"`
	By     string         `json:"by"`
	Note   string         `json:"note"`
	Order  work.RateOrder `json:"order"`
}

// keptJSON is a kept zoning as a whole.
type keptJSON struct {
	keptHeadJSON
	Order work.RateOrder  `json:"order"`
	View  *work.ZonesView `json:"view"`
}

// postKeptZones answers POST /api/blocks/{block}/zones/kept: cuts the zones and
// keeps them with their rates.
func (s *Server) postKeptZones(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	var o keepZonesJSON
	if err := readJSON(w, r, mostRateOrder, &o); err != nil {
		return err
	}
	season, err := s.seasonOf(ctx, fmt.Sprint(o.Season))
	if err != nil {
		return err
	}
	h, err := s.headAsked(ctx, r.PathValue("block"))
	if err != nil {
		return err
	}
	got, err := s.rated(ctx, h, season, o.Order)
	if err != nil {
		return err
	}
	var kept *work.KeptZones
	err = s.cfg.Store.Update(ctx, func(tx store.Tx) (err error) {
		kept, err = work.SaveZones(tx, got, o.By, o.Note, s.cfg.Now())
		return err
	})
	if err != nil {
		return ratesRefusal(err)
	}
	s.stands.Touched()
	return s.sendCreated(w, r, keptJSON{keptHead(kept), kept.Order, &kept.View})
}

// keptAsked finds the version that a path names.
func (s *Server) keptAsked(r *http.Request) (*work.KeptZones, *stands.Head, error) {
	season, h, err := s.blockSeason(r)
	if err != nil {
		return nil, nil, err
	}
	k, err := work.ZonesVersion(r.Context(), s.cfg.Store, h.ID, season, r.PathValue("id"))
	return k, h, ratesRefusal(err)
}

// getKeptZones answers GET /api/blocks/{block}/zones/kept/{id}?season=.
func (s *Server) getKeptZones(w http.ResponseWriter, r *http.Request) error {
	k, _, err := s.keptAsked(r)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, keptJSON{keptHead(k), k.Order, &k.View})
}

// keptRated lays the version that a path names on the ground.
func (s *Server) keptRated(r *http.Request) (*work.Rated, error) {
	ctx := r.Context()
	k, h, err := s.keptAsked(r)
	if err != nil {
		return nil, err
	}
	v, err := s.stands.Stand(ctx, h.ID, k.Season)
	if err != nil {
		return nil, err
	}
	e, err := s.stands.Estate(ctx)
	if err != nil {
		return nil, err
	}
	got, err := k.Rated(v.Stand, h.Block, e.Name)
	if errors.Is(err, rate.ErrGround) || errors.Is(err, rate.ErrInput) {
		return nil, refuse(http.StatusConflict, "id", "%v", err)
	}
	return got, ratesRefusal(err)
}

// getKeptFile answers GET /api/blocks/{block}/zones/kept/{id}/{form}?season=.
func (s *Server) getKeptFile(w http.ResponseWriter, r *http.Request) error {
	form, err := formAsked(r)
	if err != nil {
		return err
	}
	got, err := s.keptRated(r)
	if err != nil {
		return err
	}
	return s.sendRates(w, r, got, form)
}

func formAsked(r *http.Request) (work.RateForm, error) {
	form := work.RateForm(r.PathValue("form"))
	if !slices.Contains(work.RateForms(), form) {
		return "", refuse(http.StatusNotFound, "form", "rates have no form %q: one of %v", form, work.RateForms())
	}
	return form, nil
}

func (s *Server) sendRates(w http.ResponseWriter, r *http.Request, got *work.Rated, form work.RateForm) error {
	var body bytes.Buffer
	if _, err := got.WriteRates(&body, form, s.cfg.Version, s.cfg.Now()); err != nil {
		return ratesRefusal(err)
	}
	return sendFile(w, r, fmt.Sprintf("%s-%d-rates-%s%s", got.Block.Code, got.Stand.Season, form, form.Suffix()), form.MediaType(), body.Bytes())
}

// getZonesCompare answers GET /api/blocks/{block}/zones/compare?season=&now=&with=.
func (s *Server) getZonesCompare(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	season, h, err := s.blockSeason(r)
	if err != nil {
		return err
	}
	var two [2]*work.KeptZones
	for i, name := range [...]string{"now", "with"} {
		if two[i], err = work.ZonesVersion(ctx, s.cfg.Store, h.ID, season, r.URL.Query().Get(name)); err != nil {
			return ratesRefusal(err)
		}
	}
	v, err := s.stands.Stand(ctx, h.ID, season)
	if err != nil {
		return err
	}
	got, err := work.CompareZones(v.Stand.Ground, two[0], two[1])
	if err != nil {
		return ratesRefusal(err)
	}
	return s.sendJSON(w, r, struct {
		Now  keptHeadJSON `json:"now"`
		With keptHeadJSON `json:"with"`
		*work.ZonesCompared
	}{keptHead(two[0]), keptHead(two[1]), got})
}

// mostApplied is how long a machine's log may be, bytes.
const mostApplied = 64 << 20

// postApplied answers POST /api/blocks/{block}/zones/kept/{id}/applied?season=&value=&unit=&crs=:
// what was applied, read from the log in the body, beside what was planned. Without
// value it tells which numbers the log has. Nothing is kept.
func (s *Server) postApplied(w http.ResponseWriter, r *http.Request) error {
	got, err := s.keptRated(r)
	if err != nil {
		return err
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, mostApplied))
	if err != nil {
		return refuse(http.StatusRequestEntityTooLarge, "readings", "a log of readings is at most %d MB long", mostApplied>>20)
	}
	q := r.URL.Query()
	readings, err := work.ReadReadings(body, q.Get("crs"))
	if err != nil {
		return ratesRefusal(err)
	}
	ans := struct {
		Points int          `json:"points"`
		Fields []numberJSON `json:"fields"`
		Work   *rate.Work   `json:"work"` // null: no field was chosen
	}{Points: len(readings.Places), Fields: fieldsOf(readings)}
	if field := q.Get("value"); field != "" {
		if ans.Work, err = got.CompareApplied(readings, field, rate.Unit(q.Get("unit"))); err != nil {
			return ratesRefusal(err)
		}
		ans.Work.Notes = orEmpty(ans.Work.Notes)
	}
	return s.sendJSON(w, r, ans)
}

// numberJSON is a column of readings in short.
type numberJSON struct {
	Name   string  `json:"name"`
	Values int     `json:"values"`
	Least  float64 `json:"least"`
	Most   float64 `json:"most"`
	Unit   string  `json:"unit"` // where the log itself says it
}

func fieldsOf(readings *work.Readings) []numberJSON {
	out := make([]numberJSON, len(readings.Fields))
	for k, f := range readings.Fields {
		of := &out[k]
		of.Name, of.Unit = f.Name, string(f.Unit)
		for _, v := range f.Values {
			if v != v {
				continue
			}
			if of.Values++; of.Values == 1 {
				of.Least, of.Most = v, v
			}
			of.Least, of.Most = min(of.Least, v), max(of.Most, v)
		}
	}
	return out
}
