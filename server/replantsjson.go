package server

import (
	"net/http"

	"courson/geo/replant"
	"courson/geo/vine"
	"courson/server/work"
)

// settledJSON holds list, holes and plants together; mismatches are the places on
// which they disagree.
type settledJSON struct {
	Survey     int            `json:"survey"`
	Holes      int            `json:"holes"`
	Planted    int            `json:"planted"`
	Agreed     int            `json:"agreed"`
	Text       string         `json:"text"`
	Mismatches []mismatchJSON `json:"mismatches"`
}

type mismatchJSON struct {
	ID      vine.ID `json:"id"`
	Address string  `json:"address"`
	Survey  bool    `json:"survey"`
	Hole    bool    `json:"hole"`
	Planted bool    `json:"planted"`
	Text    string  `json:"text"`
}

// evidenceJSON is a survey, or the detections of a day, that is kept of the block.
type evidenceJSON struct {
	Kind     work.Kind   `json:"kind"`
	Name     string      `json:"name"`
	Day      replant.Day `json:"day"`
	By       string      `json:"by"`
	Points   int         `json:"points"`
	Sure     int         `json:"sure"`
	Noticed  int         `json:"noticed"` // taken, but not close to their place or not exact
	Doubtful int         `json:"doubtful"`
	Aside    int         `json:"aside"`
	EastM    float64     `json:"east_m"` // taken off all points
	NorthM   float64     `json:"north_m"`
}

// reviewItemOf tells of a place to look at, with what each source said.
func reviewItemOf(got *work.Replants, item replant.ReviewItem) reviewItemJSON {
	v := item.Verdict
	out := reviewItemJSON{vinePlaceJSON: placeOfVine(got, item.Vine), State: v.State.String(), Run: item.Run, Reasons: orEmpty(item.Reasons),
		Confirmed: v.Confirmed, Contradictions: orEmpty(v.Contradictions.Words()), Said: orEmpty(got.Findings.Said(item.Vine))}
	out.Day, out.LookAgain = dayText(v.Day), dayText(v.LookAgain)
	return out
}

func settledOf(got *work.Replants, s replant.Settled) settledJSON {
	g := got.Stand.Ground
	out := settledJSON{Survey: s.Survey, Holes: s.Holes, Planted: s.Planted, Agreed: s.Agreed, Text: s.String(), Mismatches: []mismatchJSON{}}
	for _, m := range s.Mismatches {
		j := mismatchJSON{ID: m.Vine, Survey: m.Survey, Hole: m.Hole, Planted: m.Planted, Text: m.Text}
		if i, ok := g.IndexOf(m.Vine); ok {
			j.Address = g.Address(i).String()
		}
		out.Mismatches = append(out.Mismatches, j)
	}
	return out
}

func evidenceOf(list []work.Kept) []evidenceJSON {
	out := make([]evidenceJSON, len(list))
	for i, k := range list {
		out[i] = evidenceJSON{k.Kind, k.Name, k.Day, k.By, k.Points, k.Sure, k.Noticed, k.Doubtful, k.Aside, k.EastM, k.NorthM}
	}
	return out
}

// countsIn is what diggers and planters counted; left out: as the steps say.
type countsIn struct {
	Holes   []vine.ID `json:"holes"`
	Planted []vine.ID `json:"planted"`
}

// postReplantCounts answers POST /api/blocks/{block}/replants/counts?season=: list,
// holes and plants held together; nothing is kept.
func (s *Server) postReplantCounts(w http.ResponseWriter, r *http.Request) error {
	var in countsIn
	if err := readJSON(w, r, 1<<20, &in); err != nil {
		return err
	}
	season, h, err := s.blockSeason(r)
	if err != nil {
		return err
	}
	got, _, err := s.planReplants(r.Context(), h.ID, season, nil)
	if err != nil {
		return err
	}
	settled, err := got.Reconcile(work.Counts{Holes: in.Holes, Planted: in.Planted})
	if err != nil {
		return refuse(http.StatusUnprocessableEntity, "holes, planted", "%v", err)
	}
	return s.sendJSON(w, r, settledOf(got, settled))
}
