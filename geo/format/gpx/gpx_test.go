package gpx

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/format"
)

const walk = "../../../testdata/import/o42_waypoints_route_two_segments.gpx"

// Case O-42: three waypoints, a route, a track of two segments, times on some
// points only. The places of the waypoints are those of vines 2-5 and 6-10 of the
// base scene, as its README has them.
func TestRead_AllThree(t *testing.T) {
	f, err := os.Open(walk)
	require.NoError(t, err)
	defer f.Close()
	layers, notices, err := Read(f, Options{})
	require.NoError(t, err)
	require.Empty(t, notices)
	require.Len(t, layers, 3)
	for i, want := range []struct {
		name string
		n    int
	}{{Waypoints, 3}, {Routes, 1}, {Tracks, 1}} {
		require.Equal(t, want.name, layers[i].Name)
		require.Len(t, layers[i].Features, want.n)
	}
	dead := layers[0].Features[1]
	require.Equal(t, "dead", dead.Get("name"))
	require.Equal(t, "row 6 vine 10", dead.Get("desc"))
	require.Equal(t, "2025-01-20T09:12:00Z", dead.Get("time"))
	require.Nil(t, layers[0].Features[0].Get("time"))
	require.Equal(t, orb.Point{11.370150757, 45.21005601}, dead.Geometry)
	track := layers[2].Features[0].Geometry.(orb.MultiLineString)
	require.Len(t, track, 2)
	require.Len(t, track[0], 5)
	require.Len(t, layers[1].Features[0].Geometry, 4)
}

func TestRead_Refuses(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"", "not a GPX file"},
		{"<kml/>", `not a GPX file; found "kml"`},
		{"<gpx><wpt lat='91' lon='1'/></gpx>", `feature 0 (line 1), waypoints, lat: not a place; found "91"`},
		{"<gpx><wpt lat='1'/></gpx>", "waypoints, lon: not a place"},
		{"<gpx><trk><trkseg><trkpt lat='NaN' lon='1'/></trkseg></trk></gpx>", "tracks, lat: not a place"},
		{"<gpx><wpt lat='1' lon='1'>", "not well-formed XML"},
	} {
		_, _, err := Read(strings.NewReader(c.text), Options{})
		require.ErrorContains(t, err, c.want)
	}
	layers, notices, err := Read(strings.NewReader("<gpx><trk><trkseg><trkpt lat='1' lon='1'/></trkseg></trk></gpx>"), Options{})
	require.NoError(t, err)
	require.Nil(t, layers[0].Features[0].Geometry)
	require.Equal(t, "a segment of one point is left out", notices[0].Text)
}

func FuzzRead(f *testing.F) {
	b, err := os.ReadFile(walk)
	require.NoError(f, err)
	f.Add(b)
	f.Fuzz(func(t *testing.T, b []byte) {
		layers, _, err := Read(bytes.NewReader(b), Options{Limits: format.Limits{MaxBytes: 1 << 20}})
		if err != nil {
			require.Nil(t, layers)
		}
	})
}
