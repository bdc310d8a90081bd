package postgis

import (
	"context"
	"math/bits"
	"sync"
	"time"
)

// The planner must know of an estate before it holds many vines or events:
// taken for empty, an estate is searched from end to end by an index that leads
// with it. The database's own round of ANALYZE comes after a tenth of a table has
// changed, which for a new estate among large ones may be never. So we ask for it
// after an import, and whenever an estate's log has grown fourfold.
const (
	analyzeGround = `ANALYZE block, block_revision, vine_row, vine`
	analyzeLog    = `ANALYZE event, event_about, vine_state`
)

// fewRecords is how many a search from end to end does not hurt.
const fewRecords = 1_000

// outgrown tells whether a log that grows from n to m events passes a power of
// four above fewRecords.
func outgrown(n, m int64) bool {
	return m > fewRecords && bits.Len64(uint64(n))/2 != bits.Len64(uint64(m))/2
}

// analyze brings the planner's statistics up to date. Nothing depends on its
// success but speed.
func (s *Store) analyze(ctx context.Context, sql string) {
	start := time.Now()
	_, err := s.pool.Exec(ctx, sql)
	s.log.DebugContext(ctx, "statistics", "statement", sql, "took", time.Since(start), "err", err)
}

// analyzeAfter does what a finished transaction calls for; in the background
// where a phone waits for its answer.
func (s *Store) analyzeAfter(ctx context.Context, t *tx, background bool) {
	grown := outgrown(t.logFrom, t.logTo)
	var both sync.WaitGroup
	if grown && !background {
		both.Go(func() { s.analyze(ctx, analyzeLog) })
	}
	if t.wrote >= fewRecords {
		s.analyze(ctx, analyzeGround)
	}
	both.Wait()
	if !grown || !background {
		return
	}
	select {
	case s.analyzing <- struct{}{}:
	default:
		return // one at a time; the next fourfold comes
	}
	s.errands.Go(func() {
		defer func() { <-s.analyzing }()
		s.analyze(s.life, analyzeLog)
	})
}
