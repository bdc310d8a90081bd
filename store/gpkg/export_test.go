package gpkg

import (
	"context"
	"fmt"
	"time"

	"courson/geo/vine"
	"courson/store"
)

// Path gives the path as it was opened.
func (s *Store) Path() string { return s.path }

// LimitPages lets the file grow to n pages and no further, as a full disk would.
func (s *Store) LimitPages(n int) error {
	return s.writer.exec(fmt.Sprintf("PRAGMA max_page_count = %d", n))
}

// WaitForLock sets how long the writer waits for another process.
func (s *Store) WaitForLock(d time.Duration) error { return s.writer.BusyTimeout(d) }

// KeepAtOnce makes the store write copies of blocks as soon as their rows have
// been read, unless the file is being written to.
func (s *Store) KeepAtOnce() {
	s.reader.keep = func(b blockCopy) {
		select {
		case s.writing <- struct{}{}:
			<-s.writing
			s.keeper.write(context.Background(), []blockCopy{b})
		default:
		}
	}
}

// FromRows gives a block's vines and states as the tables have them, whatever
// copies there are, and how many copies of the block count now.
func (s *Store) FromRows(ctx context.Context, block vine.ID, season int) (vines []store.Vine, states []store.VineState, copies int, err error) {
	err = s.read(ctx, func(c *conn) error {
		if vines, err = readVines(c, block); err != nil {
			return err
		}
		held, err := readStates(c, block, season, 0)
		if err != nil {
			return err
		}
		if states, err = held.list(); err != nil {
			return err
		}
		for _, season := range []int{0, season} {
			m, _, err := markOf(c, block, season)
			if err != nil {
				return err
			}
			data, err := readCopy(c, block, season, m)
			if err != nil {
				return err
			}
			if data != nil {
				copies++
			}
		}
		return nil
	})
	return vines, states, copies, err
}

// Extend gives a connection of a test what a GIS has.
var Extend = extend
