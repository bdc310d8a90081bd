package server

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strconv"

	"github.com/paulmach/orb/geojson"

	"courson/geo/rate"
	"courson/server/findings"
	"courson/server/stands"
	"courson/server/work"
)

// zonesJSON is a block cut into zones, with their rates where they were asked
// for. Nothing of it is kept.
type zonesJSON struct {
	Season    int                        `json:"season"`
	Code      string                     `json:"code"`
	Method    string                     `json:"method"`
	Columns   []rate.Scaling             `json:"columns"`
	Explained float64                    `json:"explained"`
	Kept      float64                    `json:"kept"` // the same after smoothing and snapping
	Changed   int                        `json:"changed"`
	SureBy    string                     `json:"sure_by"`
	Zones     []rate.Zone                `json:"zones"`
	Small     []rate.Small               `json:"small"`
	Notes     []string                   `json:"notes"`
	Advice    *rate.Advice               `json:"advice"`
	Stable    *stableJSON                `json:"stable"` // null: one column
	Rates     *ratesJSON                 `json:"rates"`  // null: zones alone
	Ground    *geojson.FeatureCollection `json:"ground"`
}

type stableJSON struct {
	Vines  int      `json:"vines"`
	Always int      `json:"always"`
	Text   []string `json:"text"`
}

type ratesJSON struct {
	Material string          `json:"material"`
	Aim      string          `json:"aim"`
	Unit     rate.Unit       `json:"unit"`
	Zones    []rate.ZoneRate `json:"zones"`
	AreaM2   float64         `json:"area_m2"`
	Mean     float64         `json:"mean"`
	Total    float64         `json:"total"`
	Measure  string          `json:"measure"`
	Cost     float64         `json:"cost"`
	Uniform  rate.Same       `json:"uniform"`
	Cautions []string        `json:"cautions"`
	Notes    []string        `json:"notes"`
	// Terminal says what a terminal would turn down or what is mended first.
	Terminal []string `json:"terminal"`
}

// postZones answers POST /api/blocks/{block}/zones?season=: zones and rates by
// the order in the body. Nothing is kept.
func (s *Server) postZones(w http.ResponseWriter, r *http.Request) error {
	got, err := s.ratedAsked(w, r)
	if err != nil {
		return err
	}
	z := got.Zones
	ans := zonesJSON{Season: got.Stand.Season, Code: got.Block.Code, Method: z.Options.Method.String(), Columns: z.Scale, Explained: z.Explained, Kept: z.Kept, Changed: z.Changed,
		SureBy: z.SureBy, Zones: z.List, Small: orEmpty(z.Small), Notes: orEmpty(z.Notes), Advice: got.Advice, Ground: got.GeoJSON()}
	if got.Stable != nil {
		ans.Stable = &stableJSON{got.Stable.Vines, got.Stable.Always, orEmpty(got.Stable.Text)}
	}
	if p := got.Rates; p != nil {
		ans.Rates = &ratesJSON{p.Material.Name, p.Aim.String(), p.Unit, p.Zones, p.AreaM2, p.Mean, p.Total, p.Measure, p.Cost, p.Uniform, p.Cautions, orEmpty(p.Notes), []string{}}
		for _, fault := range got.TerminalFaults() {
			ans.Rates.Terminal = append(ans.Rates.Terminal, fault.Error())
		}
	}
	return s.sendJSON(w, r, ans)
}

// postRateFile answers POST /api/blocks/{block}/zones/{form}?season=: the rates as
// a file of a form.
func (s *Server) postRateFile(w http.ResponseWriter, r *http.Request) error {
	form := work.RateForm(r.PathValue("form"))
	if !slices.Contains(work.RateForms(), form) {
		return refuse(http.StatusNotFound, "form", "rates have no form %q: one of %v", form, work.RateForms())
	}
	got, err := s.ratedAsked(w, r)
	if err != nil {
		return err
	}
	season := got.Stand.Season
	var body bytes.Buffer
	if _, err := got.WriteRates(&body, form, s.cfg.Version, s.cfg.Now()); err != nil {
		return ratesRefusal(err)
	}
	return sendFile(w, r, fmt.Sprintf("%s-%d-rates-%s%s", got.Block.Code, season, form, form.Suffix()), form.MediaType(), body.Bytes())
}

// getMaterials answers /api/materials: what an estate starts from, with the rates
// that trials are on record with.
func (s *Server) getMaterials(w http.ResponseWriter, r *http.Request) error {
	list := rate.Materials()
	cautions := map[string][]string{}
	for _, m := range list {
		cautions[m.Key] = rate.Cautions(m)
	}
	return s.sendJSON(w, r, map[string]any{"materials": list, "cautions": cautions, "on_record": rate.OnRecord()})
}

// mostRateOrder is how long an order may be, bytes.
const mostRateOrder = 64 << 10

func (s *Server) ratedAsked(w http.ResponseWriter, r *http.Request) (*work.Rated, error) {
	ctx := r.Context()
	season, h, err := s.blockSeason(r)
	if err != nil {
		return nil, err
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, mostRateOrder))
	if err != nil {
		return nil, refuse(http.StatusRequestEntityTooLarge, "", "an order for zones is at most %d KB long", mostRateOrder>>10)
	}
	order, err := work.ParseRateOrder(body)
	if err != nil {
		return nil, ratesRefusal(err)
	}
	for _, c := range order.Columns {
		if c.Season == 0 {
			continue
		}
		if _, err := s.seasonOf(ctx, strconv.Itoa(c.Season)); err != nil {
			return nil, err
		}
	}
	e, err := s.stands.Estate(ctx)
	if err != nil {
		return nil, err
	}
	got, err := work.MakeRates(ctx, work.RateJob{Estate: e.Name, Block: h.Block, Season: season, Order: order, In: s.measuredOf(h)})
	return got, ratesRefusal(err)
}

func (s *Server) measuredOf(h *stands.Head) func(context.Context, int) (work.Measured, error) {
	return func(ctx context.Context, season int) (work.Measured, error) {
		m, _, err := s.desk.Measured(ctx, findings.Key{Block: h.ID, Season: season})
		return m, err
	}
}

func ratesRefusal(err error) error {
	if errors.Is(err, work.ErrRates) {
		return refuse(http.StatusUnprocessableEntity, "zones", "%v", err)
	}
	return err
}
