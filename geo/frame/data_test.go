package frame_test

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkt"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
)

const data = "../../testdata/geodesy/"

// table reads a CSV file into one map per line; lines that start with # are
// left out.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(data + name)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(lines), 1, "%s has no lines", name)
	var out []map[string]string
	for _, l := range lines[1:] {
		m := map[string]string{}
		for i, k := range lines[0] {
			m[k] = l[i]
		}
		out = append(out, m)
	}
	return out
}

func num(t *testing.T, m map[string]string, key string) float64 {
	t.Helper()
	s, ok := m[key]
	require.True(t, ok, "no column %s", key)
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err, key)
	return v
}

func code(t *testing.T, m map[string]string, key string) int {
	t.Helper()
	return int(num(t, m, key))
}

func readJSON(t *testing.T, name string, into any) {
	t.Helper()
	b, err := os.ReadFile(data + name)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, into))
}

func polygon(t *testing.T, s string) orb.Polygon {
	t.Helper()
	pg, err := wkt.UnmarshalPolygon(s)
	require.NoError(t, err)
	return pg
}

func system(t *testing.T, code int) frame.CRS {
	t.Helper()
	c, err := frame.EPSG(code)
	require.NoError(t, err)
	return c
}

// near fails where got and want differ by more than tol.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g, off by %.3g, allowed %.3g", what, got, want, got-want, tol)
	}
}

// turn is an angle difference brought into ±180.
func turn(d float64) float64 { return math.Remainder(d, 360) }

// sexagesimal reads 24d22'54.433"N and -37d57'03.72030".
func sexagesimal(t *testing.T, s string) float64 {
	t.Helper()
	sign := 1.0
	if strings.HasPrefix(s, "-") || strings.HasSuffix(s, "S") || strings.HasSuffix(s, "W") {
		sign = -1
	}
	f := strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(`-d'"NSEW`, r) })
	require.Len(t, f, 3, s)
	var v float64
	for i, scale := range []float64{1, 60, 3600} {
		x, err := strconv.ParseFloat(f[i], 64)
		require.NoError(t, err)
		v += x / scale
	}
	return sign * v
}
