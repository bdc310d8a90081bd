package server

import (
	"net/http"

	"courson/server/work"
	"courson/store"
)

// splitJSON is the body of a split to be made.
type splitJSON struct {
	work.SplitOrder
	byJSON
}

// joinJSON is the body of a join to be made.
type joinJSON struct {
	work.JoinOrder
	byJSON
}

// postSplitTry answers POST /api/blocks/{block}/split/try: shows what a split would
// come to.
func (s *Server) postSplitTry(w http.ResponseWriter, r *http.Request) error {
	var in splitJSON
	block, err := s.groundAsked(w, r, &in)
	if err != nil {
		return err
	}
	out, err := work.TrySplit(r.Context(), s.cfg.Store, block, in.SplitOrder)
	if err != nil {
		return groundRefusal(err)
	}
	return s.sendJSON(w, r, out)
}

// postSplit answers POST /api/blocks/{block}/split: makes one block two.
func (s *Server) postSplit(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	var in splitJSON
	block, err := s.groundAsked(w, r, &in)
	if err != nil {
		return err
	}
	var out *work.Regrouped
	err = s.changeGround(r, &in.By, func(tx store.Tx) (err error) {
		out, err = work.SplitBlock(ctx, tx, block, in.SplitOrder, in.By, s.cfg.Now())
		return err
	})
	if err != nil {
		return err
	}
	return s.sendCreated(w, r, out)
}

// postBlocksJoinTry answers POST /api/blocks/{block}/join/try: shows what a join would come
// to.
func (s *Server) postBlocksJoinTry(w http.ResponseWriter, r *http.Request) error {
	var in joinJSON
	block, err := s.groundAsked(w, r, &in)
	if err != nil {
		return err
	}
	out, err := work.TryJoin(r.Context(), s.cfg.Store, block, in.JoinOrder)
	if err != nil {
		return groundRefusal(err)
	}
	return s.sendJSON(w, r, out)
}

// postBlocksJoin answers POST /api/blocks/{block}/join: takes another block into this one.
func (s *Server) postBlocksJoin(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	var in joinJSON
	block, err := s.groundAsked(w, r, &in)
	if err != nil {
		return err
	}
	var out *work.Regrouped
	err = s.changeGround(r, &in.By, func(tx store.Tx) (err error) {
		out, err = work.JoinBlocks(ctx, tx, block, in.JoinOrder, in.By, s.cfg.Now())
		return err
	})
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, out)
}
