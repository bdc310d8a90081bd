package gpkg

import (
	"encoding/hex"
	"fmt"
	"math"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
	"courson/store/logbook"
)

// TestPointBlob builds the blob from the tables of the standard (OGC 12-128r17,
// 2.1.3.1.1: magic GP, version 0, flags with little-endian bit and no envelope,
// srs id; then ISO WKB of a point).
func TestPointBlob(t *testing.T) {
	want := "47500001" + "e6100000" + "0101000000" + "000000000000f03f" + "0000000000000040"
	got := appendPoint(nil, orb.Point{1, 2})
	assert.Equal(t, want, hex.EncodeToString(got))
	p, err := readPoint(got)
	require.NoError(t, err)
	assert.Equal(t, orb.Point{1, 2}, p)
}

// TestForeignBlobs reads forms that other writers may use: big-endian, with any
// envelope, a single polygon or line.
func TestForeignBlobs(t *testing.T) {
	for name, blob := range map[string]string{
		"big-endian":        "47500000" + "000010e6" + "0000000001" + "3ff0000000000000" + "4000000000000000",
		"envelope xy":       "47500003" + "e6100000" + strings.Repeat("00", 32) + "0101000000" + "000000000000f03f" + "0000000000000040",
		"big-endian inside": "47500001" + "e6100000" + "0000000001" + "3ff0000000000000" + "4000000000000000",
	} {
		raw, err := hex.DecodeString(blob)
		require.NoError(t, err)
		p, err := readPoint(raw)
		require.NoError(t, err, name)
		assert.Equal(t, orb.Point{1, 2}, p, name)
	}
	line := orb.LineString{{1, 2}, {3, 4}}
	blob, err := shape(line)
	require.NoError(t, err)
	lines, err := readLines(blob)
	require.NoError(t, err)
	assert.Equal(t, orb.MultiLineString{line}, lines)
	ring := orb.Polygon{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}
	blob, err = shape(ring)
	require.NoError(t, err)
	outline, err := readOutline(blob)
	require.NoError(t, err)
	assert.Equal(t, orb.MultiPolygon{ring}, outline)
	_, err = readLines(blob)
	assert.ErrorIs(t, err, errGeometry, "a polygon is no line")
}

func TestRefusedShapes(t *testing.T) {
	for _, bad := range []float64{math.NaN(), math.Inf(1)} {
		_, err := shape(orb.MultiLineString{{{0, 0}, {bad, 1}}, {{1, 1}, {2, 2}}})
		assert.Error(t, err, "%v", bad)
	}
	for _, empty := range []orb.Geometry{orb.MultiPolygon(nil), orb.MultiPolygon{}, orb.MultiLineString(nil)} {
		blob, err := shape(empty)
		assert.NoError(t, err)
		assert.Nil(t, blob)
	}
}

// FuzzGeometry: whatever lies in a geometry column, reading it neither panics
// nor calls broken bytes a place.
func FuzzGeometry(f *testing.F) {
	f.Add(appendPoint(nil, orb.Point{1, 2}))
	blob, err := shape(orb.MultiPolygon{{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(blob)
	f.Add([]byte("GP\x00\x11"))
	f.Add([]byte("GP\x00\x01\x00\x00\x00\x00\x01\x06\x00\x00\x00\xff\xff\xff\xff"))
	f.Fuzz(func(t *testing.T, blob []byte) {
		if b, ok := boundOf(blob); ok && !(b.Min[0] <= b.Max[0] && b.Min[1] <= b.Max[1]) {
			t.Errorf("bounds %v of %x", b, blob)
		}
		readPoint(blob)
		readOutline(blob)
		readLines(blob)
	})
}

func TestIDsRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ids := rapid.SliceOf(rapid.Int64Range(1, 1<<53)).Draw(t, "ids")
		got, err := readIDs(appendIDs(nil, ids))
		require.NoError(t, err)
		assert.True(t, slices.Equal(ids, got), "want %v, got %v", ids, got)
	})
	run := make([]vine.ID, 100)
	for i := range run {
		run[i] = 9_000_000 + vine.ID(i)
	}
	assert.Less(t, len(appendIDs(nil, run)), 104, "neighbours take a byte each")
}

func FuzzIDs(f *testing.F) {
	f.Add(appendIDs(nil, []vine.ID{1, 2, 1 << 52}))
	f.Add([]byte{0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff})
	f.Fuzz(func(t *testing.T, blob []byte) {
		ids, err := readIDs(blob)
		if err == nil && len(ids) > len(blob) {
			t.Errorf("%d ids of %d bytes", len(ids), len(blob))
		}
	})
}

// TestTimes holds the quick reader against package time.
func TestTimes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		year := rapid.IntRange(1, 9999).Draw(t, "year")
		at := time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(rapid.Int64Range(0, 365*24*3600*1e6-1).Draw(t, "us")) * time.Microsecond)
		var none time.Time
		times := [7]*time.Time{&at, &none, &at, &none, &none, &none, &none}
		text := appendTime(nil, at)
		want, err := time.Parse(time.RFC3339Nano, string(text))
		require.NoError(t, err)
		got, ok := quickTime(text)
		require.True(t, ok, "%s", text)
		assert.True(t, want.Equal(got), "%s: want %v, got %v", text, want, got)
		beyond := microsOf(times)
		back := [7]*time.Time{&got, new(time.Time), &want, new(time.Time), new(time.Time), new(time.Time), new(time.Time)}
		if beyond != "" {
			require.NoError(t, addMicros([]byte(beyond), back))
		}
		assert.True(t, got.Equal(at) && want.Equal(at))
	})
	for _, bad := range []string{"2027-02-30T00:00:00.000Z", "2027-13-01T00:00:00.000Z", "yesterday", "2027-01-01 00:00:00", "2027-01-01T24:00:00.000Z", "2027-01-01T0a:00:00.000Z"} {
		_, err := readTime([]byte(bad))
		assert.Error(t, err, bad)
	}
	got, err := readTime([]byte("2027-01-01T12:00:00+02:00"))
	require.NoError(t, err)
	assert.Equal(t, time.Date(2027, 1, 1, 10, 0, 0, 0, time.UTC), got)
	for _, bad := range []string{"1", "1,2,3,4,5,6", "1,2,3,4,5,6,7,8", "0,0,0,0,0,0,x", "0,0,0,0,0,0,1000", "-1,0,0,0,0,0,0"} {
		assert.Error(t, addMicros([]byte(bad), recordTimes(&logbook.Record{})), bad)
	}
}

func drawRecord(t *rapid.T, v vine.ID) logbook.Record {
	when := rapid.Custom(func(t *rapid.T) time.Time {
		if rapid.Bool().Draw(t, "none") {
			return time.Time{}
		}
		return time.UnixMicro(rapid.Int64Range(-2e15, 2e15).Draw(t, "us")).UTC()
	})
	word := rapid.SampledFrom([]string{"", "frost", "é \"x\""})
	number := rapid.Custom(func(t *rapid.T) *int {
		if rapid.Bool().Draw(t, "none") {
			return nil
		}
		n := rapid.IntRange(0, 400).Draw(t, "n")
		return &n
	})
	measured := rapid.Custom(func(t *rapid.T) logbook.Measured {
		if rapid.Bool().Draw(t, "none") {
			return logbook.Measured{}
		}
		return logbook.Measured{Value: rapid.Float64Range(-1e9, 1e9).Draw(t, "value"), At: when.Draw(t, "at"), Known: true}
	})
	r := logbook.Record{
		Vine: v, Block: 7, Season: rapid.IntRange(vine.MinSeason, vine.MaxSeason).Draw(t, "season"), Changed: rapid.Int64Range(1, 1<<40).Draw(t, "changed"),
		Condition: vine.Condition(rapid.IntRange(0, 8).Draw(t, "condition")), Cause: word.Draw(t, "cause"), SeenAt: when.Draw(t, "seen"),
		LookAgain: when.Draw(t, "look"), Planted: rapid.SampledFrom([]int{0, 2012}).Draw(t, "planted"),
		PruningWeight: measured.Draw(t, "weight"), CaneCount: measured.Draw(t, "canes"), Score: measured.Draw(t, "score"), Yield: measured.Draw(t, "yield"),
		ScoreScale: word.Draw(t, "scale"), NodesLeft: number.Draw(t, "nodes"), CanesLeft: number.Draw(t, "canes left"), SpursLeft: number.Draw(t, "spurs"),
		PrunedAt: when.Draw(t, "pruned"), PrunedBy: word.Draw(t, "by"), Progress: vine.Progress(rapid.IntRange(0, 4).Draw(t, "progress")),
		Notes: rapid.IntRange(0, 9).Draw(t, "notes"), Clashes: rapid.IntRange(0, 3).Draw(t, "clashes"),
	}
	if rapid.Bool().Draw(t, "detail") {
		r.Detail = []byte(`{"work":{"tying":"done"}}`)
	}
	return r
}

// TestRecords writes records to a table and packs them into memory; both give
// back what they were given.
func TestRecords(t *testing.T) {
	s, err := Open(t.Context(), filepath.Join(t.TempDir(), "x.gpkg"), Options{Create: true})
	require.NoError(t, err)
	defer s.Close()
	require.NoError(t, s.writer.exec("BEGIN")) // one commit, not hundreds
	defer s.writer.exec("ROLLBACK")
	rapid.Check(t, func(t *rapid.T) {
		require.NoError(t, s.writer.exec("DELETE FROM vine_state"))
		var records []logbook.Record
		for i := range rapid.IntRange(1, 90).Draw(t, "n") {
			records = append(records, drawRecord(t, vine.ID(i+1)))
		}
		require.NoError(t, saveRecords(s.writer, records))
		h := &heldStates{index: make(map[string]int)}
		i := 0
		err := s.writer.each("SELECT "+recordColumns+" FROM vine_state s ORDER BY id", func(st *sqlite3.Stmt) error {
			r, err := scanRecord(st, make(words))
			if err == nil && !reflect.DeepEqual(records[i], r) {
				err = fmt.Errorf("want %+v, got %+v", records[i], r)
			}
			at := len(h.data)
			h.add(r)
			u := unpacker{rest: h.data[at:], words: h.words}
			back := u.record()
			back.Vine, back.Block, back.Changed = r.Vine, r.Block, r.Changed // held elsewhere
			if err == nil && (!reflect.DeepEqual(r, back) || len(u.rest) > 0) {
				err = fmt.Errorf("packed: want %+v, got %+v", r, back)
			}
			i++
			return err
		})
		require.NoError(t, err)
		assert.Len(t, records, i)
	})
}

// TestFloats holds the rounding against its meaning: the nearest 32-bit float
// that does not cut the place off.
func TestFloats(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-180, 180).Draw(t, "v")
		down, up := floor32(v), ceil32(v)
		assert.LessOrEqual(t, float64(down), v)
		assert.GreaterOrEqual(t, float64(up), v)
		if down != up {
			assert.Equal(t, up, math.Nextafter32(down, float32(math.Inf(1))))
		}
	})
}

// TestPack packs indexes of sizes about the borders of nodes and levels.
func TestPack(t *testing.T) {
	s, err := Open(t.Context(), filepath.Join(t.TempDir(), "x.gpkg"), Options{Create: true})
	require.NoError(t, err)
	defer s.Close()
	c := s.writer
	require.NoError(t, c.Exec(`INSERT INTO block (id, code, name, variety, clone, rootstock, planted, row_spacing_m, vine_spacing_m, system, numbering_end)
		VALUES (1, '', '', '', '', '', 0, 0, 0, '', ''); INSERT INTO vine_row VALUES (1, NULL, 1, '', 0, 0, 0, NULL)`))
	require.NoError(t, c.exec("BEGIN")) // one commit, not thousands
	defer c.exec("ROLLBACK")
	have := 0
	for _, n := range []int{0, 1, 50, 51, 52, 102, 103, 2601, 2602, 5300} {
		for ; have < n; have++ {
			p := orb.Point{float64(have%71)*0.001 - 0.03, float64(have/71) * 0.001}
			require.NoError(t, c.exec("INSERT INTO vine VALUES (?, ?, 1, 1, ?, 0, 0, 0, NULL, NULL)", have+1, appendPoint(nil, p), have))
		}
		require.NoError(t, packIndex(c, "vine"))
		var check string
		_, err := c.one("SELECT rtreecheck('rtree_vine_geom')", func(s *sqlite3.Stmt) error { check = s.ColumnText(0); return nil })
		require.NoError(t, err)
		assert.Equal(t, "ok", check, "%d entries", n)
		got, err := c.number("SELECT count(*) FROM rtree_vine_geom WHERE minx >= -0.0305 AND maxx <= -0.0195 AND miny >= -0.0005")
		require.NoError(t, err)
		want := 0
		for i := range n {
			if i%71 <= 10 {
				want++
			}
		}
		assert.EqualValues(t, want, got, "%d entries", n)
		b, some, err := rootBounds(c, "vine")
		require.NoError(t, err)
		assert.Equal(t, n > 0, some)
		if n > 70 {
			assert.InDelta(t, -0.03, b.minx, 1e-6)
			assert.InDelta(t, 0.04, b.maxx, 1e-6)
		}
	}
}
