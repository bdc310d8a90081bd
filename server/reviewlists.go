package server

import (
	"context"
	"errors"
	"net/http"

	"courson/geo/replant"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// reviewListJSON is a list of places to look at, with how far it has got.
type reviewListJSON struct {
	work.ReviewList
	work.ReviewTally
}

// getReviews answers /api/reviews?season=&block=&crew=&withdrawn=.
func (s *Server) getReviews(w http.ResponseWriter, r *http.Request) error {
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	want, err := s.handedAsked(r, season)
	if err != nil {
		return err
	}
	lists, err := work.ReviewLists(r.Context(), s.cfg.Store, want)
	if err != nil {
		return err
	}
	looked := s.looker()
	ans := []reviewListJSON{}
	for _, l := range lists {
		f, err := looked.list(r.Context(), l)
		if err != nil {
			return err
		}
		ans = append(ans, reviewListJSON{l, f.ReviewTally})
	}
	return s.sendJSON(w, r, map[string]any{"reviews": ans})
}

// postReview answers POST /api/reviews: hands places to look at to the phones of a
// crew, or of all crews.
func (s *Server) postReview(w http.ResponseWriter, r *http.Request) error {
	var in handedIn
	if err := readJSON(w, r, 1<<20, &in); err != nil {
		return err
	}
	l := work.ReviewList{Handed: in.handed()}
	if err := s.handOver(r, in, func(tx store.Tx, g *stand.Ground, by string) error { return l.HandOver(tx, g, by, s.cfg.Now()) }); err != nil {
		return err
	}
	f, err := s.looker().list(r.Context(), l)
	if err != nil {
		return err
	}
	return s.sendCreated(w, r, reviewListJSON{l, f.ReviewTally})
}

// deleteReview answers DELETE /api/reviews/{id}: withdraws a list.
func (s *Server) deleteReview(w http.ResponseWriter, r *http.Request) error {
	lists, err := work.ReviewLists(r.Context(), s.cfg.Store, work.HandedQuery{Withdrawn: true})
	if err != nil {
		return err
	}
	return withdrawHanded(s, w, r, lists, "places to look at")
}

// fieldReviews gives the lists that the phones of a crew carry; of all crews where
// none is named.
func (s *Server) fieldReviews(ctx context.Context, season int, crew string) ([]work.FieldReview, error) {
	lists, err := work.ReviewLists(ctx, s.cfg.Store, work.HandedQuery{Season: season, Crew: crew})
	if err != nil {
		return nil, err
	}
	looked, out := s.looker(), []work.FieldReview{}
	for _, l := range lists {
		f, err := looked.list(ctx, l)
		if err != nil {
			return nil, err
		}
		if len(f.Rows) > 0 {
			out = append(out, f)
		}
	}
	return out, nil
}

// looker judges the gaps of each block once for all lists of one answer.
type looker struct {
	s     *Server
	known map[vine.ID]*replant.Findings
}

func (s *Server) looker() *looker { return &looker{s: s, known: map[vine.ID]*replant.Findings{}} }

// list tells how the places of a list stand; of a block that is no more it has no
// rows.
func (k *looker) list(ctx context.Context, l work.ReviewList) (work.FieldReview, error) {
	blocks, err := k.s.shareBlocks(ctx, l.Season, []vine.ID{l.Block})
	if errors.Is(err, store.ErrNotFound) {
		return work.FieldReview{ReviewTally: work.ReviewTally{Number: len(l.Vines)}}, nil
	}
	if err != nil {
		return work.FieldReview{}, err
	}
	zone, err := k.s.zoneOf(ctx)
	if err != nil {
		return work.FieldReview{}, err
	}
	b := blocks[0]
	f := k.known[l.Block]
	if f == nil {
		if f, err = work.JudgeGaps(ctx, k.s.cfg.Store, b, zone); err != nil {
			return work.FieldReview{}, err
		}
		k.known[l.Block] = f
	}
	return l.ForField(b.Stand, f, replant.DayOf(k.s.cfg.Now(), zone), b.Settled.Rows.VinesPerSection), nil
}
