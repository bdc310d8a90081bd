package postgis

import (
	"context"
	"encoding/binary"
	"io"
	"math"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/paulmach/orb"

	"courson/geo/vine"
	"courson/store/logbook"
)

// copyIn writes n records into a table by COPY in its binary form (PostgreSQL
// documentation, COPY, "Binary Format"). The driver's own way takes every value
// through an interface and asks for the columns' types first; with millions of
// values, or many small batches, both count.
func copyIn(ctx context.Context, pg pgx.Tx, table string, columns []string, n int, write func(r *copyRow, i int)) error {
	if n == 0 {
		return nil
	}
	sql := `COPY ` + table + ` (` + strings.Join(columns, ", ") + `) FROM STDIN (FORMAT binary)`
	_, err := pg.Conn().PgConn().CopyFrom(ctx, &copyReader{columns: len(columns), n: n, write: write}, sql)
	return err
}

// copyReader writes records as the connection asks for them.
type copyReader struct {
	columns int
	n, next int
	write   func(r *copyRow, i int)
	row     copyRow
	sent    int // how much of row.buf was read
	begun   bool
	ended   bool
}

// copyPortion is about how many bytes are written at a time.
const copyPortion = 1 << 16

// copyHead opens what is copied: signature, flags, no extension.
const copyHead = "PGCOPY\n\xff\r\n\x00" + "\x00\x00\x00\x00" + "\x00\x00\x00\x00"

// Read gives the next bytes.
func (c *copyReader) Read(p []byte) (int, error) {
	if c.sent == len(c.row.buf) {
		if c.ended {
			return 0, io.EOF
		}
		c.fill()
	}
	n := copy(p, c.row.buf[c.sent:])
	c.sent += n
	return n, nil
}

func (c *copyReader) fill() {
	c.row.buf, c.sent = c.row.buf[:0], 0
	if !c.begun {
		c.begun = true
		c.row.buf = append(c.row.buf, copyHead...)
	}
	for c.next < c.n && len(c.row.buf) < copyPortion {
		c.row.buf = binary.BigEndian.AppendUint16(c.row.buf, uint16(c.columns))
		c.write(&c.row, c.next)
		c.next++
	}
	if c.next == c.n {
		c.ended = true
		c.row.buf = binary.BigEndian.AppendUint16(c.row.buf, 0xffff)
	}
}

// copyRow writes the values of one record, in the order of the columns. The
// methods are named for the columns' types.
type copyRow struct{ buf []byte }

func (r *copyRow) length(n int) { r.buf = binary.BigEndian.AppendUint32(r.buf, uint32(n)) }

func (r *copyRow) null() { r.length(-1) }

func (r *copyRow) int8(v int64) {
	r.length(8)
	r.buf = binary.BigEndian.AppendUint64(r.buf, uint64(v))
}

func (r *copyRow) int4(v int) {
	r.length(4)
	r.buf = binary.BigEndian.AppendUint32(r.buf, uint32(int32(v)))
}

func (r *copyRow) int2(v int) {
	r.length(2)
	r.buf = binary.BigEndian.AppendUint16(r.buf, uint16(int16(v)))
}

func (r *copyRow) float8(v float64) {
	r.length(8)
	r.buf = binary.BigEndian.AppendUint64(r.buf, math.Float64bits(v))
}

func (r *copyRow) text(s string) {
	r.length(len(s))
	r.buf = append(r.buf, s...)
}

func (r *copyRow) uuid(id [16]byte) {
	r.length(16)
	r.buf = append(r.buf, id[:]...)
}

// jsonb has a version in front of the text.
func (r *copyRow) jsonb(text []byte) {
	r.length(1 + len(text))
	r.buf = append(append(r.buf, 1), text...)
}

// timestamptz counts microseconds from the year 2000.
func (r *copyRow) timestamptz(t time.Time) {
	const epoch = 946_684_800_000_000
	r.int8(t.UnixMicro() - epoch)
}

// bigints is an array of one dimension, counted from 1.
func (r *copyRow) bigints(ids []vine.ID) {
	const oidInt8 = 20
	r.length(20 + 12*len(ids))
	for _, n := range [...]uint32{1, 0, oidInt8, uint32(len(ids)), 1} {
		r.buf = binary.BigEndian.AppendUint32(r.buf, n)
	}
	for _, id := range ids {
		r.int8(id)
	}
}

func (r *copyRow) point(p orb.Point) {
	r.length(25)
	r.buf = appendPoint(appendHead(r.buf, wkbPoint|wkbSRID), p)
}

// Values that may be missing.

func (r *copyRow) textOrNull(s string) {
	if s == "" {
		r.null()
		return
	}
	r.text(s)
}

func (r *copyRow) timeOrNull(t time.Time) {
	if t.IsZero() {
		r.null()
		return
	}
	r.timestamptz(t)
}

func (r *copyRow) idOrNull(id vine.ID) {
	if id == 0 {
		r.null()
		return
	}
	r.int8(id)
}

func (r *copyRow) countOrNull(n *int) {
	if n == nil {
		r.null()
		return
	}
	r.int4(*n)
}

// value and valueAt are the two columns of a measured value.
func (r *copyRow) value(m logbook.Measured) {
	if !m.Known {
		r.null()
		return
	}
	r.float8(m.Value)
}

func (r *copyRow) valueAt(m logbook.Measured) {
	if !m.Known {
		r.null()
		return
	}
	r.timeOrNull(m.At)
}
