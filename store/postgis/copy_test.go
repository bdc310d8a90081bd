package postgis

import (
	"bytes"
	"context"
	"errors"
	"io"
	"testing"
	"testing/iotest"
	"time"

	"github.com/jackc/pgx/v5/pgtype"
	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// TestCopyRow compares every value with what the driver would write.
func TestCopyRow(t *testing.T) {
	m := pgtype.NewMap()
	m.RegisterType(&pgtype.Type{Name: "geometry", OID: 99_999, Codec: geometryCodec{}})
	at := time.Date(2027, 1, 12, 8, 30, 0, 123_456_000, time.UTC)
	for _, c := range []struct {
		name  string
		oid   uint32
		value any
		write func(*copyRow)
	}{
		{"int8", pgtype.Int8OID, int64(-5_000_000_000), func(r *copyRow) { r.int8(-5_000_000_000) }},
		{"int4", pgtype.Int4OID, int32(-7), func(r *copyRow) { r.int4(-7) }},
		{"int2", pgtype.Int2OID, int16(8), func(r *copyRow) { r.int2(8) }},
		{"float8", pgtype.Float8OID, -1.25e-300, func(r *copyRow) { r.float8(-1.25e-300) }},
		{"text", pgtype.TextOID, "vigne Çà", func(r *copyRow) { r.text("vigne Çà") }},
		{"no text", pgtype.TextOID, nil, func(r *copyRow) { r.textOrNull("") }},
		{"uuid", pgtype.UUIDOID, [16]byte{1, 2, 15: 9}, func(r *copyRow) { r.uuid([16]byte{1, 2, 15: 9}) }},
		{"jsonb", pgtype.JSONBOID, []byte(`{"a":1}`), func(r *copyRow) { r.jsonb([]byte(`{"a":1}`)) }},
		{"time", pgtype.TimestamptzOID, at, func(r *copyRow) { r.timestamptz(at) }},
		{"time long ago", pgtype.TimestamptzOID, time.Time{}, func(r *copyRow) { r.timestamptz(time.Time{}) }},
		{"no time", pgtype.TimestamptzOID, nil, func(r *copyRow) { r.timeOrNull(time.Time{}) }},
		{"bigints", pgtype.Int8ArrayOID, []vine.ID{3, 1 << 40}, func(r *copyRow) { r.bigints([]vine.ID{3, 1 << 40}) }},
		{"point", 99_999, orb.Point{145.3, -37.7}, func(r *copyRow) { r.point(orb.Point{145.3, -37.7}) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			want, err := m.Encode(c.oid, pgtype.BinaryFormatCode, c.value, []byte{})
			require.NoError(t, err)
			var framed copyRow
			if want == nil {
				framed.null()
			} else {
				framed.length(len(want))
				framed.buf = append(framed.buf, want...)
			}
			var got copyRow
			c.write(&got)
			assert.Equal(t, framed.buf, got.buf)
		})
	}
}

// TestCopyReader gives the same bytes in whatever portions they are read.
func TestCopyReader(t *testing.T) {
	make := func() *copyReader {
		return &copyReader{columns: 2, n: 10_000, write: func(r *copyRow, i int) { r.int8(int64(i)); r.text("x") }}
	}
	whole, err := io.ReadAll(make())
	require.NoError(t, err)
	assert.Len(t, whole, 19+10_000*(2+12+5)+2)
	assert.True(t, bytes.HasPrefix(whole, []byte("PGCOPY\n\xff\r\n\x00")))
	assert.Equal(t, []byte{0xff, 0xff}, whole[len(whole)-2:])
	small, err := io.ReadAll(iotest.HalfReader(make()))
	require.NoError(t, err)
	assert.True(t, bytes.Equal(whole, small))
}

// TestCopyWriter gives what copyReader gives, and ends early where the producer
// fails or nobody reads on.
func TestCopyWriter(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	write := func(w *copyWriter, n int) error {
		for i := range n {
			if err := w.next(func(r *copyRow) { r.int8(int64(i)); r.text("x") }); err != nil {
				return err
			}
		}
		return nil
	}
	want, err := io.ReadAll(&copyReader{columns: 2, n: 10_000, write: func(r *copyRow, i int) { r.int8(int64(i)); r.text("x") }})
	require.NoError(t, err)
	w := newCopyWriter(ctx, 2)
	made := w.produce(func(w *copyWriter) error { return write(w, 10_000) })
	got, err := io.ReadAll(iotest.HalfReader(&streamReader{w: w}))
	require.NoError(t, err)
	require.NoError(t, <-made)
	assert.True(t, bytes.Equal(want, got))

	bad := errors.New("bad")
	w = newCopyWriter(ctx, 2)
	made = w.produce(func(w *copyWriter) error {
		if err := write(w, 7_000); err != nil {
			return err
		}
		return bad
	})
	_, err = io.ReadAll(&streamReader{w: w})
	require.ErrorIs(t, err, bad)
	require.ErrorIs(t, <-made, bad)

	w = newCopyWriter(ctx, 2)
	made = w.produce(func(w *copyWriter) error { return write(w, 1<<30) })
	_, err = io.ReadFull(&streamReader{w: w}, make([]byte, 100))
	require.NoError(t, err)
	stop()
	require.ErrorIs(t, <-made, context.Canceled)
}
