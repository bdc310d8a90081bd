package postgis

import (
	"context"
	"encoding/binary"
	"errors"
	"io"
	"strings"

	"github.com/jackc/pgx/v5"
)

// copyStream writes records into a table by COPY while produce makes them in
// another goroutine: one processor computes, the database uses another. It
// returns when both are done.
func copyStream(ctx context.Context, pg pgx.Tx, table string, columns []string, produce func(*copyWriter) error) error {
	ctx, stop := context.WithCancel(ctx)
	w := newCopyWriter(ctx, len(columns))
	made := w.produce(produce)
	sql := `COPY ` + table + ` (` + strings.Join(columns, ", ") + `) FROM STDIN (FORMAT binary)`
	_, err := pg.Conn().PgConn().CopyFrom(ctx, &streamReader{w: w}, sql)
	stop()
	if failed := <-made; err == nil || failed != nil && !errors.Is(failed, context.Canceled) {
		err = failed // the database only knows that there was something
	}
	return err
}

// copyWriter takes records one after the other and hands them over in portions.
type copyWriter struct {
	ctx         context.Context
	columns     int
	row         copyRow
	full, empty chan []byte
	err         error // read after full was closed
}

func newCopyWriter(ctx context.Context, columns int) *copyWriter {
	w := &copyWriter{ctx: ctx, columns: columns, full: make(chan []byte, 2), empty: make(chan []byte, 4)}
	w.row.buf = append(w.row.buf, copyHead...)
	return w
}

// produce runs f in a goroutine and tells what became of it.
func (w *copyWriter) produce(f func(*copyWriter) error) <-chan error {
	made := make(chan error, 1)
	go func() {
		defer close(w.full)
		err := f(w)
		if err == nil {
			w.row.buf = binary.BigEndian.AppendUint16(w.row.buf, 0xffff)
			err = w.send()
		}
		w.err = err
		made <- err
	}()
	return made
}

// next writes one record.
func (w *copyWriter) next(write func(*copyRow)) error {
	w.row.buf = binary.BigEndian.AppendUint16(w.row.buf, uint16(w.columns))
	write(&w.row)
	if len(w.row.buf) < copyPortion {
		return nil
	}
	return w.send()
}

func (w *copyWriter) send() error {
	select {
	case w.full <- w.row.buf:
	case <-w.ctx.Done():
		return w.ctx.Err()
	}
	select {
	case b := <-w.empty:
		w.row.buf = b[:0]
	default:
		w.row.buf = make([]byte, 0, copyPortion+copyPortion/8)
	}
	return nil
}

// streamReader reads the portions.
type streamReader struct {
	w    *copyWriter
	now  []byte
	rest []byte
}

func (r *streamReader) Read(p []byte) (int, error) {
	for len(r.rest) == 0 {
		if r.now != nil {
			select {
			case r.w.empty <- r.now:
			default:
			}
			r.now = nil
		}
		b, ok := <-r.w.full
		if !ok {
			if r.w.err != nil {
				return 0, r.w.err
			}
			return 0, io.EOF
		}
		r.now, r.rest = b, b
	}
	n := copy(p, r.rest)
	r.rest = r.rest[n:]
	return n, nil
}
