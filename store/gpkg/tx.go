package gpkg

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"iter"
	"slices"

	"courson/geo/vine"
	"courson/store"
)

// tx is a transaction being written. Ground, plans and events go to the tables
// at once; states are folded when they are asked for or at the end, each vine
// once.
type tx struct {
	reader
	store *Store
	ctx   context.Context
	c     *conn
	ended bool
	fault error // a writing step that went wrong: nothing can be kept any more

	lastID  vine.ID              // the last id given before the transaction
	touched map[vine.ID]*touched // blocks that changed
	dirty   map[vine.ID]*dirty   // vines to fold, by block
	names   oldNames             // labels at the beginning
	index   bulkIndex            // R*Tree of the vines
	laid    map[vine.ID]*laid    // vines of blocks that it made
	blocks  bool                 // codes must be looked through at the end
	rows    map[vine.ID]bool     // blocks whose row labels must be looked through
	numbers map[vine.ID]bool     // rows whose vine numbers must be looked through
	grown   map[vine.ID]bool     // rows with new vines
	rowOf   map[vine.ID]vine.ID  // row → block, as far as looked up
}

// touched is what the transaction did to one block.
type touched struct {
	revision int64
	ground   bool
	plan     bool
	any      bool // states of seasons nobody can name changed
	seasons  map[int]bool
	planted  int // new vines
	written  int // records of vines
}

var errEnded = errors.New("the transaction has ended")

// Update runs f in one transaction. Only one runs at a time, in this process
// and in others on the same file.
func (s *Store) Update(ctx context.Context, f func(store.Tx) error) error {
	return s.write(ctx, func(t *tx) error { return f(t) })
}

// Append stores events in a transaction of their own.
func (s *Store) Append(ctx context.Context, events []vine.Event) (answers []store.Answer, err error) {
	err = s.write(ctx, func(t *tx) error {
		answers, err = t.Append(ctx, events)
		return err
	})
	if err != nil {
		return nil, err
	}
	return answers, nil
}

// write runs f and what must follow it in one transaction, and tells the
// listeners when it is kept.
func (s *Store) write(ctx context.Context, f func(*tx) error) error {
	if s.readOnly {
		return fmt.Errorf("%s was opened for reading only: %w", s.path, store.ErrReadOnly)
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	select {
	case s.writing <- struct{}{}:
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() { <-s.writing }()
	if s.writer == nil {
		return errClosed
	}
	t := s.newTx(ctx)
	defer s.writer.during(ctx)()
	kept := false
	defer func() { // also when f panics
		t.ended = true
		if !kept {
			s.rollBack()
		}
	}()
	if err := t.run(ctx, "begin", t.begin); err != nil {
		return err
	}
	if err := f(t); err != nil {
		return err
	}
	if err := t.finish(); err != nil {
		return err
	}
	kept = true
	s.feed.publish(t.changes())
	return nil
}

func (s *Store) newTx(ctx context.Context) *tx {
	t := &tx{
		store: s, ctx: ctx, c: s.writer,
		touched: make(map[vine.ID]*touched), dirty: make(map[vine.ID]*dirty),
		laid: make(map[vine.ID]*laid), rows: make(map[vine.ID]bool), numbers: make(map[vine.ID]bool),
		grown: make(map[vine.ID]bool), rowOf: make(map[vine.ID]vine.ID),
	}
	t.reader = reader{with: t.read}
	return t
}

func (t *tx) begin(c *conn) (err error) {
	if err = c.exec("BEGIN IMMEDIATE"); err == nil {
		t.lastID, err = c.number("SELECT value FROM counter WHERE name = 'last_id'")
	}
	return err
}

// rollBack leaves nothing of a transaction behind. Some errors have ended it
// already.
func (s *Store) rollBack() {
	defer s.writer.during(context.Background())()
	if s.writer.GetAutocommit() {
		return
	}
	if err := s.writer.exec("ROLLBACK"); err != nil {
		s.log.Error("roll back", "file", s.path, "error", err)
	}
}

// read lends the transaction's connection to one of the reading methods.
func (t *tx) read(ctx context.Context, f func(*conn) error) error {
	if t.ended {
		return errEnded
	}
	if t.fault != nil {
		return t.fault
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	defer t.c.during(ctx)()
	return explain(ctx, t.store.path, f(t.c))
}

// run does one writing step. After one that went wrong, perhaps half way, the
// transaction can only be given up, whatever f makes of the error: SQLite may
// have rolled it back already, and what followed would be kept piece by piece.
func (t *tx) run(ctx context.Context, what string, f func(*conn) error) error {
	err := t.read(ctx, f)
	if err != nil {
		err = fmt.Errorf("%s: %w", what, err)
		t.fault = cmp.Or(t.fault, err)
	}
	return err
}

// finish does what waits for the end of a transaction and commits. From the
// commit on ctx counts no more: it is either kept or not, and we say which.
func (t *tx) finish() error {
	for _, step := range []struct {
		what string
		do   func(*conn) error
	}{
		{"labels", t.checkLabels}, {"old labels", t.saveOldNames}, {"fold", t.fold},
		{"copies", t.saveCopies}, {"spatial index", t.finishIndex}, {"contents", t.noteContents},
	} {
		if err := t.run(t.ctx, step.what, step.do); err != nil {
			return err
		}
	}
	if err := t.ctx.Err(); err != nil {
		return err
	}
	ctx := context.WithoutCancel(t.ctx)
	defer t.c.during(ctx)()
	return explain(ctx, "commit "+t.store.path, t.c.exec("COMMIT"))
}

// touch raises a block's revision, once in a transaction.
func (t *tx) touch(c *conn, block vine.ID) (*touched, error) {
	if b := t.touched[block]; b != nil {
		return b, nil
	}
	rev, err := c.number("UPDATE block_revision SET revision = revision + 1 WHERE block_id = ? RETURNING revision", block)
	if err != nil {
		return nil, err
	}
	b := &touched{revision: rev, seasons: make(map[int]bool)}
	t.touched[block] = b
	return b, nil
}

func (t *tx) touchGround(c *conn, block vine.ID) error {
	b, err := t.touch(c, block)
	if err != nil || b.ground {
		return err
	}
	b.ground, b.any = true, true
	return c.exec("UPDATE block_revision SET ground_rev = revision WHERE block_id = ?", block)
}

// changes gives the notices of the transaction.
func (t *tx) changes() []store.Change {
	var out []store.Change
	for id, b := range t.touched {
		ch := store.Change{Block: id, Revision: b.revision, Ground: b.ground, Plan: b.plan}
		if !b.any {
			for season := range b.seasons {
				ch.Seasons = append(ch.Seasons, season)
			}
			slices.Sort(ch.Seasons)
		}
		out = append(out, ch)
	}
	return out
}

// Append stores events as part of the transaction.
func (t *tx) Append(ctx context.Context, events []vine.Event) (answers []store.Answer, err error) {
	err = t.run(ctx, fmt.Sprintf("append %d events", len(events)), func(c *conn) (err error) {
		answers, err = t.appendEvents(c, events)
		return err
	})
	if err != nil {
		return nil, err
	}
	return answers, nil
}

// States folds what has been appended before it reads.
func (t *tx) States(ctx context.Context, block vine.ID, season int, after int64) iter.Seq2[store.VineState, error] {
	return func(yield func(store.VineState, error) bool) {
		if err := t.run(ctx, "fold", t.fold); err != nil {
			yield(store.VineState{}, err)
			return
		}
		t.reader.States(ctx, block, season, after)(yield)
	}
}
