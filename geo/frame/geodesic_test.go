package frame_test

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/frame"
)

// GeographicLib 2.1.2 (GeodSolve -i); PROJ geod, pyproj 3.4.1 and
// geographiclib-geodesic 2.2.0 agree to 3e-9 m.
func TestInverse_GeographicLib(t *testing.T) {
	for _, m := range table(t, "geodesic-inverse.csv") {
		el := frame.WGS84
		if m["ellipsoid"] == "GRS80" {
			el = frame.GRS80
		}
		a := orb.Point{num(t, m, "lon1"), num(t, m, "lat1")}
		b := orb.Point{num(t, m, "lon2"), num(t, m, "lat2")}
		g := el.Inverse(a, b)
		near(t, m["name"]+" distance", g.Distance, num(t, m, "s12_m"), 1e-7)
		near(t, m["name"]+" azimuth 1", turn(g.Azimuth1-num(t, m, "azi1_deg")), 0, 1e-10)
		near(t, m["name"]+" azimuth 2", turn(g.Azimuth2-num(t, m, "azi2_forward_deg")), 0, 1e-10)
		back := el.Inverse(b, a)
		near(t, m["name"]+" reversed", back.Distance, g.Distance, 1e-8)
		if g.Distance > 0 {
			end, az := el.Direct(a, g.Azimuth1, g.Distance)
			near(t, m["name"]+" direct", el.Distance(end, b), 0, 1e-8)
			near(t, m["name"]+" arrival", turn(az-g.Azimuth2+turn(end[0]-b[0])*math.Sin(b[1])), 0, 1e-6)
		}
	}
}

// GeographicLib 2.1.2 (GeodSolve).
func TestDirect_GeographicLib(t *testing.T) {
	for _, m := range table(t, "geodesic-direct.csv") {
		p, az := frame.WGS84.Direct(orb.Point{num(t, m, "lon1"), num(t, m, "lat1")}, num(t, m, "azi1_deg"), num(t, m, "s12_m"))
		near(t, "lon", p[0], num(t, m, "lon2"), 1e-13)
		near(t, "lat", p[1], num(t, m, "lat2"), 1e-13)
		near(t, "azimuth", turn(az-num(t, m, "azi2_deg")), 0, 1e-10)
	}
}

// GDA2020 Technical Manual v1.2, ICSM, 2018: Flinders Peak to Buninyong.
func TestInverse_GDA2020Manual(t *testing.T) {
	x := example(t, "Geodesic Flinders Peak to Buninyong (GRS80)")
	at := func(what string) orb.Point {
		e := example(t, what)
		return orb.Point{sexagesimal(t, e["lon"].(string)), sexagesimal(t, e["lat"].(string))}
	}
	g := frame.GRS80.Inverse(at("Flinders Peak, MGA zone 55"), at("Buninyong, MGA zone 54"))
	near(t, "distance", g.Distance, x["published_s"].(float64), 0.0006)
	near(t, "azimuth", turn(g.Azimuth1-sexagesimal(t, x["published_azimuth"].(string))), 0, 0.006/3600)
	near(t, "reverse", turn(g.Azimuth2+180-sexagesimal(t, x["published_reverse"].(string))), 0, 0.006/3600)
}

// GeographicLib 2.1.2 (Planimeter), PostGIS 3.3.2 geography.
func TestPolygonArea_GeographicLib(t *testing.T) {
	var all map[string]struct {
		WKT       string  `json:"wkt"`
		Area      float64 `json:"area_geographiclib_m2"`
		Perimeter float64 `json:"perimeter_geographiclib_m"`
	}
	readJSON(t, "polygon-areas.json", &all)
	require.Len(t, all, 5)
	for name, c := range all {
		pg := polygon(t, c.WKT)
		near(t, name+" area", frame.WGS84.PolygonArea(pg), c.Area, 1e-10*c.Area)
		var perimeter float64
		for _, r := range pg {
			_, p := frame.WGS84.RingArea(r)
			perimeter += p
			near(t, name+" length", frame.WGS84.Length(orb.LineString(r)), p, 1e-7)
		}
		near(t, name+" perimeter", perimeter, c.Perimeter, 1e-7)

		a, _ := frame.WGS84.RingArea(pg[0])
		back := pg[0].Clone()
		back.Reverse()
		b, _ := frame.WGS84.RingArea(back)
		near(t, name+" turned round", a, -b, 1e-6)
	}
	require.Equal(t, 0.0, frame.WGS84.MultiPolygonArea(nil))
}

// A ring round the pole holds the pole: the cap north of a parallel made of
// many short edges is nearly the zone of the ellipsoid between latitudes, whose
// area is known in closed form (Snyder, USGS Professional Paper 1395, eq. 3-12).
func TestRingArea_RoundPole(t *testing.T) {
	e := math.Sqrt(1 - math.Pow(1-1/frame.WGS84.InvF, 2))
	q := func(lat float64) float64 {
		s := math.Sin(lat * math.Pi / 180)
		return (1 - e*e) * (s/(1-e*e*s*s) + math.Atanh(e*s)/e)
	}
	want := math.Pi * frame.WGS84.A * frame.WGS84.A * (q(90) - q(80))
	for _, south := range []bool{false, true} {
		var r orb.Ring
		for i := range 3600 {
			lon, lat := float64(i)/10-180, 80.0
			if south {
				lat = -80
			}
			r = append(r, orb.Point{lon, lat})
		}
		a, _ := frame.WGS84.RingArea(r)
		near(t, "cap", math.Abs(a)/want, 1, 2e-6)
	}
}

// quadrature gives the area between a geodesic and the equator by summing
// strips: the closed form of the area between equator and parallel (Snyder,
// eq. 3-12), integrated over longitude by Simpson's rule at places found with
// Direct. It knows nothing of the area series.
func quadrature(el frame.Ellipsoid, a orb.Point, azimuth, s float64) float64 {
	e := math.Sqrt(1 - math.Pow(1-1/el.InvF, 2))
	strip := func(lat float64) float64 {
		sp := math.Sin(lat * math.Pi / 180)
		return el.A * el.A * (1 - e*e) / 2 * (sp/(1-e*e*sp*sp) + math.Atanh(e*sp)/e)
	}
	// dλ = sin α ds / (ν cos φ)
	rate := func(t float64) float64 {
		p, az := el.Direct(a, azimuth, t)
		sp, cp := math.Sincos(p[1] * math.Pi / 180)
		nu := el.A / math.Sqrt(1-e*e*sp*sp)
		return strip(p[1]) * math.Sin(az*math.Pi/180) / (nu * cp)
	}
	const n = 2000
	h := s / n
	sum := rate(0) + rate(s)
	for i := 1; i < n; i++ {
		sum += rate(float64(i)*h) * float64(2+2*(i%2))
	}
	return sum * h / 3
}

// The area series against plain integration, over long edges where every term
// counts: the triangle's area is the sum of its edges' strips.
func TestRingArea_Quadrature(t *testing.T) {
	for _, r := range []orb.Ring{
		{{0, 0}, {40, 10}, {15, 55}},
		{{-70, -50}, {-20, -35}, {-60, 5}},
		{{100, 20}, {160, 25}, {140, 70}},
	} {
		got, _ := frame.WGS84.RingArea(r)
		var want float64
		for i, p := range r {
			g := frame.WGS84.Inverse(p, r[(i+1)%len(r)])
			want -= quadrature(frame.WGS84, p, g.Azimuth1, g.Distance)
		}
		near(t, "area", got/want, 1, 1e-10)
	}
}

func TestInverse_AwkwardPairs(t *testing.T) {
	half := math.Pi * frame.WGS84.A // more than any geodesic
	for _, c := range []struct {
		name string
		a, b orb.Point
	}{
		{"poles", orb.Point{0, 90}, orb.Point{77, -90}},
		{"pole to itself", orb.Point{0, 90}, orb.Point{77, 90}},
		{"antipodes on the equator", orb.Point{0, 0}, orb.Point{180, 0}},
		{"antipodes", orb.Point{10, 30}, orb.Point{-170, -30}},
		{"almost antipodes on the equator", orb.Point{0, 0}, orb.Point{179.7, 0}},
		{"a hair apart", orb.Point{5, 45}, orb.Point{5, 45 + 1e-15}},
		{"longitudes written differently", orb.Point{190, -16}, orb.Point{-170, -16}},
	} {
		g := frame.WGS84.Inverse(c.a, c.b)
		require.False(t, math.IsNaN(g.Distance+g.Azimuth1+g.Azimuth2), c.name)
		require.GreaterOrEqual(t, g.Distance, 0.0, c.name)
		require.Less(t, g.Distance, half, c.name)
		end, _ := frame.WGS84.Direct(c.a, g.Azimuth1, g.Distance)
		near(t, c.name+" arrives", frame.WGS84.Distance(end, c.b), 0, 2e-8)
	}
	require.Zero(t, frame.WGS84.Distance(orb.Point{190, -16}, orb.Point{-170, -16}))
}

// Where a geodesic goes and how long it is agree, anywhere on Earth.
func TestGeodesic_ThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := orb.Point{rapid.Float64Range(-180, 180).Draw(t, "lon1"), rapid.Float64Range(-90, 90).Draw(t, "lat1")}
		b := orb.Point{rapid.Float64Range(-180, 180).Draw(t, "lon2"), rapid.Float64Range(-90, 90).Draw(t, "lat2")}
		g := frame.WGS84.Inverse(a, b)
		end, _ := frame.WGS84.Direct(a, g.Azimuth1, g.Distance)
		if d := frame.WGS84.Distance(end, b); !(d < 1e-7) {
			t.Fatalf("%v to %v: arrives %g m off", a, b, d)
		}
		if d := g.Distance - frame.WGS84.Distance(b, a); math.Abs(d) > 1e-8 {
			t.Fatalf("%v to %v: way back differs by %g m", a, b, d)
		}
	})
}
