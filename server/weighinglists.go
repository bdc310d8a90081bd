package server

import (
	"context"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"time"

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// weighingListJSON is a list that was handed over, with how far it has got.
type weighingListJSON struct {
	work.WeighingList
	work.WeighingTally
}

type weighingListsJSON struct {
	Weighings []weighingListJSON `json:"weighings"`
}

// getWeighings answers /api/weighings?season=&block=&crew=&withdrawn=.
func (s *Server) getWeighings(w http.ResponseWriter, r *http.Request) error {
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	want, err := s.handedAsked(r, season)
	if err != nil {
		return err
	}
	lists, err := work.WeighingLists(r.Context(), s.cfg.Store, want)
	if err != nil {
		return err
	}
	ans := weighingListsJSON{Weighings: []weighingListJSON{}}
	for _, l := range lists {
		j, err := s.weighingListOf(r.Context(), l)
		if err != nil {
			return err
		}
		ans.Weighings = append(ans.Weighings, j)
	}
	return s.sendJSON(w, r, ans)
}

// handedAsked reads which lists are asked for: ?block=&crew=&withdrawn=.
func (s *Server) handedAsked(r *http.Request, season int) (want work.HandedQuery, err error) {
	q := r.URL.Query()
	want = work.HandedQuery{Season: season, Crew: q.Get("crew"), Withdrawn: q.Get("withdrawn") == "1"}
	if text := q.Get("block"); text != "" {
		h, err := s.headAsked(r.Context(), text)
		if err != nil {
			return want, err
		}
		want.Block = h.ID
	}
	return want, nil
}

// weighingListOf counts what is weighed of a list.
func (s *Server) weighingListOf(ctx context.Context, l work.WeighingList) (weighingListJSON, error) {
	j := weighingListJSON{l, work.WeighingTally{Number: len(l.Vines)}}
	v, err := s.stands.Stand(ctx, l.Block, l.Season)
	if errors.Is(err, store.ErrNotFound) {
		return j, nil // of a block that is no more
	}
	if err != nil {
		return j, err
	}
	progress, err := work.ProgressOf(ctx, s.cfg.Store, v.Stand, work.WeighingWork)
	if err == nil {
		j.WeighingTally = l.Tally(v.Stand, progress)
	}
	return j, err
}

// handedIn is the body of a list that is handed to phones.
type handedIn struct {
	By     string    `json:"by"`
	Season int       `json:"season"`
	Block  vine.ID   `json:"block"`
	Crew   string    `json:"crew"`
	Vines  []vine.ID `json:"vines"`
}

func (in handedIn) handed() work.Handed {
	return work.Handed{Season: in.Season, Block: in.Block, Crew: in.Crew, Vines: in.Vines}
}

// weighingListIn is the body of POST /api/weighings.
type weighingListIn struct {
	handedIn
	Unit string `json:"unit"`
}

// postWeighing answers POST /api/weighings: hands a list to the phones of a crew,
// or of all crews.
func (s *Server) postWeighing(w http.ResponseWriter, r *http.Request) error {
	var in weighingListIn
	if err := readJSON(w, r, 1<<20, &in); err != nil {
		return err
	}
	l := work.WeighingList{Handed: in.handed(), Unit: in.Unit}
	if err := s.handOver(r, in.handedIn, func(tx store.Tx, g *stand.Ground, by string) error { return work.HandOver(tx, g, &l, by, s.cfg.Now()) }); err != nil {
		return err
	}
	j, err := s.weighingListOf(r.Context(), l)
	if err != nil {
		return err
	}
	return s.sendCreated(w, r, j)
}

// handOver has a list kept, by whoever asks where no name is given.
func (s *Server) handOver(r *http.Request, in handedIn, keep func(tx store.Tx, g *stand.Ground, by string) error) error {
	ctx := r.Context()
	if in.By == "" {
		in.By = s.whoAsks(r)
	}
	if err := s.checkHandOver(ctx, in.Season, in.Crew); err != nil {
		return err
	}
	v, err := s.stands.Stand(ctx, in.Block, in.Season)
	if err != nil {
		return err
	}
	err = s.cfg.Store.Update(ctx, func(tx store.Tx) error { return keep(tx, v.Stand.Ground, in.By) })
	if errors.Is(err, work.ErrHanded) {
		return refuse(http.StatusUnprocessableEntity, "", "%v", err)
	}
	if err == nil {
		s.stands.Touched()
	}
	return err
}

// checkHandOver refuses a list that no phone would ever show.
func (s *Server) checkHandOver(ctx context.Context, season int, crew string) error {
	if _, err := s.seasonOf(ctx, strconv.Itoa(season)); err != nil {
		return err
	}
	span, err := s.seasons(ctx)
	if err != nil {
		return err
	}
	if season != span.open {
		return refuse(http.StatusUnprocessableEntity, "season", "phones carry the work of season %d: a list of season %d would not be seen", span.open, season)
	}
	crews, err := work.Crews(ctx, s.cfg.Store)
	if err != nil {
		return err
	}
	if crew != "" && !slices.ContainsFunc(crews, func(c work.Crew) bool { return c.Name == crew }) {
		return refuse(http.StatusUnprocessableEntity, "crew", "there is no crew %q", crew)
	}
	return nil
}

// withdrawHanded answers DELETE of a list that was handed to phones; what says what
// it is of.
func withdrawHanded[L interface {
	Named() string
	Withdraw(tx store.Tx, by string, now time.Time) error
}](s *Server, w http.ResponseWriter, r *http.Request, lists []L, what string) error {
	id := r.PathValue("id")
	k := slices.IndexFunc(lists, func(l L) bool { return l.Named() == id })
	if k < 0 {
		return refuse(http.StatusNotFound, "id", "there is no list of %s %q", what, id)
	}
	if err := s.cfg.Store.Update(r.Context(), func(tx store.Tx) error { return lists[k].Withdraw(tx, s.whoAsks(r), s.cfg.Now()) }); err != nil {
		return err
	}
	s.stands.Touched()
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// deleteWeighing answers DELETE /api/weighings/{id}: withdraws a list.
func (s *Server) deleteWeighing(w http.ResponseWriter, r *http.Request) error {
	lists, err := work.WeighingLists(r.Context(), s.cfg.Store, work.HandedQuery{Withdrawn: true})
	if err != nil {
		return err
	}
	return withdrawHanded(s, w, r, lists, "vines to weigh")
}

// fieldWeighings gives the lists that the phones of a crew carry; of all crews
// where none is named.
func (s *Server) fieldWeighings(ctx context.Context, season int, crew string) ([]work.FieldWeighing, error) {
	lists, err := work.WeighingLists(ctx, s.cfg.Store, work.HandedQuery{Season: season, Crew: crew})
	if err != nil {
		return nil, err
	}
	out := []work.FieldWeighing{}
	for _, l := range lists {
		v, err := s.stands.Stand(ctx, l.Block, l.Season)
		if errors.Is(err, store.ErrNotFound) {
			continue
		}
		if err != nil {
			return nil, err
		}
		progress, err := work.ProgressOf(ctx, s.cfg.Store, v.Stand, work.WeighingWork)
		if err != nil {
			return nil, err
		}
		settled, err := s.stands.Standards(ctx, v.Block)
		if err != nil {
			return nil, err
		}
		out = append(out, l.ForField(v.Block, v.Stand, progress, settled.Rows.VinesPerSection))
	}
	return out, nil
}
