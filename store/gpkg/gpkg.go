// Package gpkg keeps an estate in one GeoPackage file (OGC 12-128, version 1.3;
// SQLite underneath), which any GIS can open while the program serves it.
//
// One connection writes, up to four read. The file is in WAL mode: readers see
// the last commit and never wait for the writer. Other programs may read at any
// time. What they write is not in the log: it is seen by whoever reads the block
// next, but raises no revision and keeps no old label.
package gpkg

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/ncruces/go-sqlite3"

	"courson/store"
)

// Options say how to open a file.
type Options struct {
	Create   bool             // make the file if there is none; it is never made otherwise
	ReadOnly bool             // open for reading only
	Now      func() time.Time // clock for labels and plans; nil: time.Now
	Logger   *slog.Logger     // nil: nothing is logged
}

// Store is one open file. It satisfies store.Store.
type Store struct {
	reader
	path     string
	readOnly bool
	now      func() time.Time
	log      *slog.Logger
	pool     *pool
	writing  chan struct{} // holds one token: who has it may use writer
	writer   *conn         // nil when read-only
	feed     *feed
	keeper   *keeper
	once     sync.Once
}

var _ store.Store = (*Store)(nil)

// Open opens the GeoPackage at path, lays it out if it is new, and brings an
// older one up to date. It makes no file unless Create says so. Errors wrap
// store.ErrNotFound (no such file), ErrReadOnly, ErrTooNew or ErrBusy.
func Open(ctx context.Context, path string, o Options) (*Store, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", path, err)
	}
	how, err := inspect(abs, o)
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", path, err)
	}
	s := &Store{
		path: path, readOnly: o.ReadOnly, now: o.Now, log: o.Logger,
		writing: make(chan struct{}, 1),
	}
	if s.now == nil {
		s.now = time.Now
	}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	if !o.ReadOnly {
		err = s.openWriter(ctx, abs, how)
	} else {
		how, err = s.openReadOnly(ctx, abs)
	}
	if err != nil {
		if errors.Is(err, fs.ErrPermission) && !o.ReadOnly {
			err = fmt.Errorf("no right to write the file or its folder: %w (%w)", store.ErrReadOnly, err)
		} else {
			err = cmp.Or(explainCode(ctx, err), err)
		}
		return nil, fmt.Errorf("open %s: %w", path, err)
	}
	s.pool = newPool(abs, how)
	s.keeper = newKeeper(s)
	s.reader = reader{with: s.read}
	if !o.ReadOnly {
		s.reader.keep = s.keeper.keep
	}
	s.feed = newFeed(s, how != immutable)
	return s, nil
}

// inspect looks at the file before SQLite does, so that a wrong path is told
// plainly and nothing is made by accident.
func inspect(path string, o Options) (access, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		if !o.Create || o.ReadOnly {
			return 0, fmt.Errorf("there is no such file: %w", store.ErrNotFound)
		}
		if _, err := os.Stat(filepath.Dir(path)); err != nil {
			return 0, fmt.Errorf("there is no folder %s: %w", filepath.Dir(path), store.ErrNotFound)
		}
		return create, nil
	case err != nil:
		return 0, err
	case info.IsDir():
		return 0, errors.New("it is a folder, not a GeoPackage file")
	case info.Size() == 0 && !(o.Create && !o.ReadOnly):
		return 0, errors.New("not a GeoPackage: the file is empty")
	}
	return readWrite, nil
}

func (s *Store) openWriter(ctx context.Context, path string, how access) error {
	c, err := dial(path, how)
	if err != nil {
		return err
	}
	defer c.during(ctx)()
	err = s.prepareFile(ctx, c, path)
	for end := time.Now().Add(busyMS * time.Millisecond); isBusy(err) && time.Now().Before(end) && ctx.Err() == nil; {
		// Going over to WAL mode and laying out do not wait by themselves for
		// another process that does the same.
		time.Sleep(20 * time.Millisecond)
		err = s.prepareFile(ctx, c, path)
	}
	if err != nil {
		c.Close()
		if how == create {
			discardNew(path)
		}
		return err
	}
	s.writer = c
	if how == create {
		syncFolder(path)
	}
	return nil
}

// syncFolder makes the name of a new file last, where the system can.
func syncFolder(path string) {
	if dir, err := os.Open(filepath.Dir(path)); err == nil {
		dir.Sync()
		dir.Close()
	}
}

// discardNew takes away a file that was just made and got no layout.
func discardNew(path string) {
	if at, err := layoutAt(context.Background(), path, readOnly); err == nil && at == 0 {
		for _, end := range []string{"", "-wal", "-shm"} {
			os.Remove(path + end)
		}
	}
}

// prepareFile refuses what is not ours before anything is written, then sets
// up the connection and brings the layout up to date.
func (s *Store) prepareFile(ctx context.Context, c *conn, path string) error {
	if ro, ok := c.ReadOnly("main"); ok && ro {
		return fmt.Errorf("no right to write the file; open it for reading only: %w", store.ErrReadOnly)
	}
	at, err := layoutOf(c)
	if err != nil {
		return err
	}
	for _, sql := range writerSetup() {
		if err := c.Exec(sql); err != nil {
			return err
		}
	}
	if err := migrate(ctx, c, path, at, s.log); err != nil {
		return err
	}
	_, err = c.Config(sqlite3.DBCONFIG_ENABLE_TRIGGER, false) // the writer does itself what they are for
	return err
}

// openReadOnly finds out whether the file can be read beside a writer, or, where
// the folder is closed to us and nobody writes, only as it lies there.
func (s *Store) openReadOnly(ctx context.Context, path string) (access, error) {
	how := readOnly
	at, err := layoutAt(ctx, path, how)
	if err != nil {
		if log, e := os.Stat(path + "-wal"); e == nil && log.Size() > 0 {
			return how, err
		}
		how = immutable
		if at, err = layoutAt(ctx, path, how); err != nil {
			return how, err
		}
	}
	if at < latest() {
		return how, fmt.Errorf("its layout is version %d of %d: open it once for writing to bring it up to date: %w", at, latest(), store.ErrReadOnly)
	}
	return how, nil
}

func layoutAt(ctx context.Context, path string, how access) (int64, error) {
	c, err := dial(path, how)
	if err != nil {
		return 0, err
	}
	defer c.Close()
	defer c.during(ctx)()
	return layoutOf(c)
}

// read runs f on one snapshot of the file.
func (s *Store) read(ctx context.Context, f func(*conn) error) error {
	c, err := s.pool.get(ctx)
	if err != nil {
		return explain(ctx, s.path, err)
	}
	defer s.pool.put(c)
	defer c.during(ctx)()
	return explain(ctx, s.path, snapshot(c, f))
}

// snapshot runs f in one read transaction.
func snapshot(c *conn, f func(*conn) error) error {
	if err := c.exec("BEGIN"); err != nil {
		return err
	}
	defer func() {
		defer c.during(context.Background())()
		c.exec("ROLLBACK") // a read leaves nothing behind
	}()
	return f(c)
}

// Ready tells whether the file can be read and, unless it was opened for
// reading, written. A transaction under way in this process counts as good.
func (s *Store) Ready(ctx context.Context) error {
	if err := s.read(ctx, func(c *conn) error { return c.exec("SELECT 1 FROM estate") }); err != nil {
		return err
	}
	if s.readOnly {
		return nil
	}
	select {
	case s.writing <- struct{}{}:
	default:
		return nil
	}
	defer func() { <-s.writing }()
	if s.writer == nil {
		return errClosed
	}
	defer s.writer.during(ctx)()
	err := s.writer.exec("BEGIN IMMEDIATE")
	if err == nil {
		err = s.writer.exec("ROLLBACK")
	}
	return explain(ctx, s.path, err)
}

var errClosed = errors.New("the store is closed")

// Close ends all notices and frees the file. It waits for a transaction that is
// under way.
func (s *Store) Close() error {
	var err error
	s.once.Do(func() {
		s.feed.close()
		s.keeper.close()
		s.writing <- struct{}{}
		defer func() { <-s.writing }()
		err = s.pool.close()
		if s.writer != nil {
			err = errors.Join(err, s.writer.Close())
			s.writer = nil
		}
	})
	return err
}
