package gpkg

import (
	"fmt"
	"time"
)

// Path gives the path as it was opened.
func (s *Store) Path() string { return s.path }

// LimitPages lets the file grow to n pages and no further, as a full disk would.
func (s *Store) LimitPages(n int) error {
	return s.writer.exec(fmt.Sprintf("PRAGMA max_page_count = %d", n))
}

// WaitForLock sets how long the writer waits for another process.
func (s *Store) WaitForLock(d time.Duration) error { return s.writer.BusyTimeout(d) }
