package server

import (
	"context"
	"fmt"
	"net/http"
	"strconv"

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/server/stands"
)

type blockJSON struct {
	ID           vine.ID      `json:"id"`
	Code         string       `json:"code"`
	Name         string       `json:"name"`
	Variety      string       `json:"variety"`
	Clone        string       `json:"clone"`
	Rootstock    string       `json:"rootstock"`
	Planted      int          `json:"planted"`
	Leaf         int          `json:"leaf"`
	System       string       `json:"system"`
	RowSpacingM  float64      `json:"row_spacing_m"`
	VineSpacingM float64      `json:"vine_spacing_m"`
	AreaM2       float64      `json:"area_m2"`
	RowM         float64      `json:"row_m"`
	Rows         int          `json:"rows"`
	Vines        int          `json:"vines"`
	Revision     int64        `json:"revision"`
	Bounds       *[4]float64  `json:"bounds"` // null where nothing is drawn
	Center       *[2]float64  `json:"center"`
	Totals       stand.Totals `json:"totals"`
	RowList      []rowJSON    `json:"row_list,omitempty"`
}

type rowJSON struct {
	ID      vine.ID `json:"id"`
	Label   string  `json:"label"`
	Vines   int     `json:"vines"`
	LengthM float64 `json:"length_m"`
	Done    int     `json:"done"`
	ToDo    int     `json:"to_do"` // living vines not yet done or skipped
}

// getBlocks answers /api/blocks?season=&operation=….
func (s *Server) getBlocks(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	heads, err := s.stands.Heads(ctx)
	if err != nil {
		return err
	}
	operation, err := operationShown(r)
	if err != nil {
		return err
	}
	totals, err := s.totalsOf(ctx, heads, season, operation)
	if err != nil {
		return err
	}
	list := make([]blockJSON, len(heads))
	for i, h := range heads {
		list[i] = describeBlock(h, totals[i], season)
	}
	return s.sendJSON(w, r, map[string]any{"season": season, "blocks": list})
}

// seasonAsked reads ?season=, by default the season to open.
func (s *Server) seasonAsked(r *http.Request) (int, error) {
	if text := r.URL.Query().Get("season"); text != "" {
		return s.seasonOf(r.Context(), text)
	}
	span, err := s.seasons(r.Context())
	return span.open, err
}

func describeBlock(h *stands.Head, t stands.Totals, season int) blockJSON {
	b := blockJSON{ID: h.ID, Code: h.Code, Name: h.Name, Variety: h.Variety, Clone: h.Clone, Rootstock: h.Rootstock,
		Planted: h.Planted, Leaf: vine.Leaf(h.Planted, season), System: h.System,
		RowSpacingM: h.RowSpacingM, VineSpacingM: h.VineSpacingM, AreaM2: t.AreaM2, RowM: t.RowM, Rows: t.Rows,
		Vines: t.Vines, Revision: t.Revision, Bounds: boundsJSON(h.Bounds), Totals: t.Totals}
	if !h.Bounds.IsEmpty() {
		c := h.Bounds.Center()
		b.Center = &[2]float64{c[0], c[1]}
	}
	return b
}

// getBlock answers /api/blocks/{block}?season=&operation=… with the block and its rows.
func (s *Server) getBlock(w http.ResponseWriter, r *http.Request) error {
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	v, err := s.viewAsked(r.Context(), r.PathValue("block"), season)
	if err != nil {
		return err
	}
	operation, err := operationShown(r)
	if err != nil {
		return err
	}
	shown, err := s.standOf(r.Context(), v, operation)
	if err != nil {
		return err
	}
	totals := v.Totals
	if operation != "" {
		totals.Totals = stand.TotalsOf(shown)
	}
	b := describeBlock(&v.Head, totals, season)
	b.RowList = rowList(v, shown)
	return s.sendJSON(w, r, b)
}

// viewAsked finds a block by id or code and gives its stand. An id goes before
// a code that looks like one.
func (s *Server) viewAsked(ctx context.Context, block string, season int) (*stands.View, error) {
	h, err := s.headAsked(ctx, block)
	if err != nil {
		return nil, err
	}
	return s.stands.Stand(ctx, h.ID, season)
}

func (s *Server) headAsked(ctx context.Context, block string) (*stands.Head, error) {
	if id, err := strconv.ParseInt(block, 10, 64); err == nil {
		if h, err := s.stands.Head(ctx, id); err == nil {
			return h, nil
		}
	}
	return s.stands.HeadByCode(ctx, block)
}

// rowList gives the rows of a block with the progress that a stand of it shows.
func rowList(v *stands.View, shown *stand.Stand) []rowJSON {
	totals := stand.RowTotals(shown)
	list := make([]rowJSON, len(totals))
	for i, row := range v.Stand.Ground.Rows {
		list[i] = rowJSON{ID: row.ID, Label: row.Label, Vines: row.Count, LengthM: v.Rows[i].LengthM,
			Done: totals[i].Done(), ToDo: totals[i].ToDo()}
	}
	return list
}

// getStand answers /api/blocks/{block}/stand/{season}: the whole stand as
// binary columns, or with ?since=REVISION what changed since as JSON.
func (s *Server) getStand(w http.ResponseWriter, r *http.Request) error {
	season, err := s.seasonOf(r.Context(), r.PathValue("season"))
	if err != nil {
		return err
	}
	s.desk.Look(season)
	operation, err := operationShown(r)
	if err != nil {
		return err
	}
	if since := r.URL.Query().Get("since"); since != "" {
		rev, err := strconv.ParseInt(since, 10, 64)
		if err != nil || rev < 0 {
			return refuse(http.StatusBadRequest, "since", "%q is not a revision", since)
		}
		return s.sendChanges(w, r, season, rev, operation)
	}
	h, err := s.headAsked(r.Context(), r.PathValue("block"))
	if err != nil {
		return err
	}
	if tag := standTag(h, season, s.stands.Stamp(h.ID, season), operation); matchesTag(r, tag) {
		return reply{tag: tag, zipped: []byte{}}.send(w, r)
	}
	v, err := s.stands.Stand(r.Context(), h.ID, season)
	if err != nil {
		return err
	}
	shown, err := s.standOf(r.Context(), v, operation)
	if err != nil {
		return err
	}
	body := stand.AppendBinary(nil, shown)
	a := reply{contentType: stand.ContentType, tag: standTag(&v.Head, season, v.Stand.Stamp(), operation), plain: body}
	if a.zipped, err = s.zipper.zip(body); err != nil {
		return err
	}
	return a.send(w, r)
}

// standTag names the content of a stand without loading it.
func standTag(h *stands.Head, season int, found, operation string) string {
	return contentTag(fmt.Appendf(nil, "stand %d %d %d %d %d %x %s %q", writerVersion, h.ID, season, h.Revision, h.GroundRev, h.Print, found, operation))
}

// wholeJSON says that the stand must be fetched anew.
type wholeJSON struct {
	Block    vine.ID `json:"block"`
	Season   int     `json:"season"`
	Revision int64   `json:"revision"`
	Whole    bool    `json:"whole"`
	Found    string  `json:"found"` // stamp of the findings shown
}

// changesJSON holds the columns of the vines that changed; Index are their
// places in the stand.
type changesJSON struct {
	wholeJSON
	Index     []int        `json:"index"`
	Condition []int        `json:"condition"`
	Leaf      []int        `json:"leaf"`
	Vigour    []int        `json:"vigour"`
	Progress  []int        `json:"progress"`
	Flags     []int        `json:"flags"`
	Nodes     []int        `json:"nodes"`
	Left      []int        `json:"left"`
	Load      []int        `json:"load"`
	Follow    []int        `json:"follow"`
	Totals    stand.Totals `json:"totals"`
}

// sendChanges answers what changed since a revision.
func (s *Server) sendChanges(w http.ResponseWriter, r *http.Request, season int, since int64, operation string) error {
	v, err := s.viewAsked(r.Context(), r.PathValue("block"), season)
	if err != nil {
		return err
	}
	head := wholeJSON{Block: v.ID, Season: season, Revision: v.Stand.Revision, Found: v.Stand.Stamp()}
	if found := r.URL.Query()["found"]; since < v.Since || since > v.Stand.Revision || len(found) > 0 && found[0] != head.Found {
		head.Whole = true
		return s.sendJSON(w, r, head)
	}
	c := changesJSON{wholeJSON: head, Totals: v.Totals.Totals}
	list := func() []int { return make([]int, 0, 16) }
	c.Index, c.Condition, c.Leaf, c.Vigour = list(), list(), list(), list()
	c.Progress, c.Flags, c.Nodes, c.Left = list(), list(), list(), list()
	c.Load, c.Follow = list(), list()
	st, err := s.standOf(r.Context(), v, operation)
	if err != nil {
		return err
	}
	for i, changed := range st.Changed {
		if changed <= since {
			continue
		}
		c.Index = append(c.Index, i)
		c.Condition = append(c.Condition, int(st.Condition[i]))
		c.Leaf = append(c.Leaf, int(st.Leaf[i]))
		c.Vigour = append(c.Vigour, int(st.Vigour[i]))
		c.Progress = append(c.Progress, int(st.Progress[i]))
		c.Flags = append(c.Flags, int(st.Flags[i]))
		c.Nodes = append(c.Nodes, int(st.Nodes[i]))
		c.Left = append(c.Left, int(st.Left[i]))
		c.Load = append(c.Load, int(st.LoadOf(i)))
		c.Follow = append(c.Follow, int(st.FollowOf(i)))
	}
	return s.sendJSON(w, r, c)
}
