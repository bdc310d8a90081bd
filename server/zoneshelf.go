package server

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"sync"

	"courson/server/work"
)

// zoneShelf keeps the zones that were asked for last, so that a rate that is
// changed needs no new zones.
type zoneShelf struct {
	mu   sync.Mutex
	list []shelved // the last used first
}

type shelved struct {
	key   string
	zones *work.Rated
}

// How much is kept, chosen by us.
const (
	mostShelved      = 4
	mostShelvedVines = 300_000
)

func (z *zoneShelf) find(key string) *work.Rated {
	z.mu.Lock()
	defer z.mu.Unlock()
	for i, s := range z.list {
		if s.key == key {
			copy(z.list[1:i+1], z.list[:i])
			z.list[0] = s
			return s.zones
		}
	}
	return nil
}

func (z *zoneShelf) put(key string, zones *work.Rated) {
	if zones.Stand.Ground.Len() > mostShelvedVines {
		return
	}
	z.mu.Lock()
	defer z.mu.Unlock()
	z.list = append([]shelved{{key, zones}}, z.list[:min(len(z.list), mostShelved-1)]...)
}

// zoned cuts zones, or gives those that the same order made of the same record.
func (s *Server) zoned(ctx context.Context, job work.RateJob) (*work.Rated, error) {
	key, err := s.zoneKey(ctx, job)
	if err != nil {
		return nil, err
	}
	if got := s.shelf.find(key); got != nil {
		return got, nil
	}
	got, err := work.MakeZones(ctx, job)
	if err != nil {
		return nil, err
	}
	s.shelf.put(key, got)
	return got, nil
}

// zoneKey names everything that zones depend on: order, block, and the revision of
// its record in each season that is read.
func (s *Server) zoneKey(ctx context.Context, job work.RateJob) (string, error) {
	text, err := json.Marshal([]any{job.Order.Columns, job.Order.Zones})
	if err != nil {
		return "", err
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%d %d %q %s", job.Block.ID, job.Season, job.Estate, text)
	seasons := []int{job.Season}
	for _, c := range job.Order.Columns {
		if c.Season != 0 {
			seasons = append(seasons, c.Season)
		}
	}
	for _, season := range seasons {
		v, err := s.stands.Stand(ctx, job.Block.ID, season)
		if err != nil {
			return "", err
		}
		fmt.Fprintf(&b, " %d:%d:%d", season, v.Revision, v.GroundRev)
	}
	return b.String(), nil
}
