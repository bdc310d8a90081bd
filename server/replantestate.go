package server

import (
	"net/http"

	"courson/geo/replant"
	"courson/geo/vine"
	"courson/store"
)

// estateReplantsJSON sums up all blocks and the order for the nursery.
type estateReplantsJSON struct {
	Season int                  `json:"season"`
	Blocks []blockReplantsJSON  `json:"blocks"`
	Order  *replant.Order       `json:"order"`
	Limits map[string][]vine.ID `json:"beyond"` // blocks beyond each limit
}

type blockReplantsJSON struct {
	Block     vine.ID `json:"block"`
	Code      string  `json:"code"`
	Variety   string  `json:"variety"`
	Positions int     `json:"positions"`
	Gaps      int     `json:"gaps"`
	Share     float64 `json:"share"`
	Replace   int     `json:"replace"` // candidates to be replaced
	Look      int     `json:"look"`
	Test      int     `json:"test"`
	OnTheWay  int     `json:"on_the_way"`
	Advice    string  `json:"advice"`
}

// getEstateReplants answers /api/replants?season=&plant_on=.
func (s *Server) getEstateReplants(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	heads, err := s.stands.Heads(ctx)
	if err != nil {
		return err
	}
	ans := estateReplantsJSON{Season: season, Blocks: []blockReplantsJSON{}, Limits: map[string][]vine.ID{}}
	var needs []replant.Need
	for _, h := range heads {
		got, _, err := s.planReplants(ctx, h.ID, season, nil)
		if err != nil {
			return err
		}
		j := blockReplantsJSON{Block: h.ID, Code: h.Code, Variety: h.Variety, Positions: got.Full.Positions, Gaps: got.Full.Gaps, Share: got.Full.Share, OnTheWay: len(got.Places)}
		for _, c := range got.Candidates {
			switch c.Action {
			case replant.ActReplace:
				j.Replace++
			case replant.ActLook:
				j.Look++
			case replant.ActTest:
				j.Test++
			}
		}
		if got.Comparison != nil && len(got.Comparison.Advice) > 0 {
			j.Advice = got.Comparison.Advice[0]
		}
		for _, l := range got.Limits {
			if l.Beyond {
				ans.Limits[l.Key] = append(ans.Limits[l.Key], h.ID)
			}
		}
		needs = append(needs, got.Needs...)
		ans.Blocks = append(ans.Blocks, j)
	}
	settled, err := s.stands.Standards(ctx, store.Block{})
	if err != nil {
		return err
	}
	q := r.URL.Query()
	if ans.Order, err = s.nurseryOrder(ctx, needs, settled.Replants, replantWish{PlantOn: q.Get("plant_on"), Potted: q.Get("potted") == "1"}); err != nil {
		return err
	}
	return s.sendJSON(w, r, ans)
}
