package server

import (
	"testing"
	"time"
	_ "time/tzdata" // of our own, wherever the tests run

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
)

// A season lasts as long as the calendar says that its days belong to it.
func TestSeasonTime_IsTheCalendars(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		zone := rapid.SampledFrom([]string{"UTC", "Europe/Berlin", "America/Los_Angeles", "Pacific/Auckland"}).Draw(t, "zone")
		z, err := time.LoadLocation(zone)
		require.NoError(t, err)
		cal := vine.Hemisphere(rapid.Bool().Draw(t, "south"), z)
		at := time.Unix(rapid.Int64Range(0, 4_000_000_000).Draw(t, "at"), 0)
		span := seasonTime(cal, cal.Season(at))
		if at.Before(span.from) || !at.Before(span.to) {
			t.Fatalf("%s lies in season %d, which lasts from %s to %s", at, cal.Season(at), span.from, span.to)
		}
		if got := cal.Season(span.from); got != cal.Season(at) {
			t.Fatalf("season %d begins in season %d", cal.Season(at), got)
		}
		if got := cal.Season(span.to); got != cal.Season(at)+1 {
			t.Fatalf("after season %d comes %d", cal.Season(at), got)
		}
	})
}

// Common practice: harvest 2028 in the south is prepared in the winter of 2027,
// that of 2027 in the north in the winter of 2026-27.
func TestPickSeason_South(t *testing.T) {
	cal := vine.Hemisphere(true, time.UTC)
	span := seasonSpan{list: []int{2025, 2026, 2027}, current: 2027, open: 2027}
	for _, c := range []struct {
		datetime string
		want     int // 0: none
	}{
		{"2027-04-30T23:59:59Z", 2027}, {"2027-05-01T00:00:00Z", 2028}, {"2024-05-01", 2025}, {"2024-04-30", 0},
		{"2026-01-01/2026-12-31", 2027}, // four months of 2026, eight of 2027
		{"2028-06-01", 0}, {"2025-01-01/..", 2027}, {"../2025-12-31", 2026}, {"2027-08-01/..", 2028},
		{"2025-05-01/2027-04-30", 2027}, // both whole: the one to open
		{"2024-05-01/2026-04-30", 2026}, // both whole: the later
		{"2024-05-01t00:00:00z", 2025},  // small letters
		{"2026-12-31T23:59:60Z", 2027},  // a leap second
		{"2026-12-31T23:59:59.999999999+14:00", 2027},
	} {
		asked, err := readDatetime(c.datetime, time.UTC)
		require.NoError(t, err, c.datetime)
		got, ok := span.pickSeason(cal, asked)
		assert.Equal(t, c.want != 0, ok, c.datetime)
		assert.Equal(t, c.want, got, c.datetime)
	}
}

// A box and a segment meet if any of many points along it lies in the box.
func TestBox_MeetsSegment(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := func(name string) float64 { return float64(rapid.IntRange(-8, 8).Draw(t, name)) }
		p, q := orb.Point{n("px"), n("py")}, orb.Point{n("qx"), n("qy")}
		x, y := n("x"), n("y")
		b := boxOf(x, y, x+float64(rapid.IntRange(0, 4).Draw(t, "w")), y+float64(rapid.IntRange(0, 4).Draw(t, "h")))
		sampled := false
		for _, side := range []float64{b.Min[0] - p[0], b.Max[0] - p[0]} {
			sampled = sampled || inAt(b, p, q, side, q[0]-p[0])
		}
		for _, side := range []float64{b.Min[1] - p[1], b.Max[1] - p[1]} {
			sampled = sampled || inAt(b, p, q, side, q[1]-p[1])
		}
		for _, end := range []orb.Point{p, q} {
			sampled = sampled || orb.Bound(b).Contains(end)
		}
		if got := b.meetsSegment(p, q); got != sampled {
			t.Fatalf("%v to %v and %v: %t", p, q, b, got)
		}
	})
}

// inAt tells whether the point of the segment at the share a/d lies in the box.
func inAt(b ogcBox, p, q orb.Point, a, d float64) bool {
	if d == 0 || a/d < 0 || a/d > 1 {
		return false
	}
	const slack = 1e-9
	at := orb.Point{p[0] + (q[0]-p[0])*a/d, p[1] + (q[1]-p[1])*a/d}
	return orb.Bound(b).Pad(slack).Contains(at)
}

func TestBox_MeetsArea(t *testing.T) {
	square := func(x0, y0, x1, y1 float64) orb.Ring {
		return orb.Ring{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}, {x0, y0}}
	}
	area := orb.MultiPolygon{{square(0, 0, 10, 10), square(4, 4, 8, 8)}, {square(20, 0, 21, 1)}}
	for _, c := range []struct {
		name string
		box  ogcBox
		want bool
	}{
		{"within the area", boxOf(1, 1, 2, 2), true},
		{"around all", boxOf(-1, -1, 30, 30), true},
		{"over the border", boxOf(9, 9, 12, 12), true},
		{"touching a corner", boxOf(10, 10, 12, 12), true},
		{"in the hole", boxOf(5, 5, 6, 6), false},
		{"hole and area", boxOf(5, 5, 9, 6), true},
		{"between the parts", boxOf(12, 0, 15, 1), false},
		{"the other part", boxOf(20.2, 0.2, 20.3, 0.3), true},
		{"a point within", boxOf(2, 2, 2, 2), true},
	} {
		assert.Equal(t, c.want, areaWithin(area, []ogcBox{c.box}), c.name)
	}
}

func TestReadBBox(t *testing.T) {
	over, err := readBBox("170,-40,-175,-30")
	require.NoError(t, err)
	assert.Equal(t, []ogcBox{boxOf(170, -40, 180, -30), boxOf(-180, -40, -175, -30)}, over)
	six, err := readBBox("8,49,-100,9,50,400")
	require.NoError(t, err)
	assert.Equal(t, []ogcBox{boxOf(8, 49, 9, 50)}, six)
	line, err := readBBox("8,49,8,50")
	require.NoError(t, err)
	assert.Equal(t, []ogcBox{boxOf(8, 49, 8, 50)}, line)
}
