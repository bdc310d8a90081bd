package shp

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/frame"
)

// system finds the coordinate system: that of the .prj, or the one stated for a
// file without.
func (r *reader) system(stated string) error {
	fail := func(what, found, wanted string, cause error) error {
		return &format.Problem{File: r.f.Name + ".prj", Feature: format.None, Field: "coordinate system", What: what, Found: found, Wanted: wanted, Cause: cause}
	}
	var said frame.CRS
	if stated != "" {
		var err error
		if said, err = frame.ParseCRS(stated); err != nil {
			return fail(err.Error(), format.Quote(stated), "a supported EPSG code", errors.Join(ErrNoCRS, err))
		}
	}
	text := strings.TrimSpace(strings.TrimPrefix(string(r.f.PRJ), "\xef\xbb\xbf"))
	switch {
	case text == "" && stated == "":
		return fail("the .prj is missing: nothing says in which coordinate system the numbers are", "", "the .prj beside the .shp, or the EPSG code stated", ErrNoCRS)
	case text == "":
		r.crs = said
	default:
		c, err := ParsePRJ(text)
		if err != nil {
			return fail("the coordinate system cannot be used: "+err.Error(), format.Quote(text), "one in the older form of a .prj (WKT 1) and on a supported datum and projection, or a file in longitude and latitude", errors.Join(ErrNoCRS, err))
		}
		if stated != "" && said.Code != c.Code {
			return fail("the file is in another coordinate system than was stated", fmt.Sprintf("%s (EPSG:%d)", c.Name, c.Code), fmt.Sprintf("EPSG:%d, or nothing stated", said.Code), nil)
		}
		r.crs = c
	}
	r.layer.CRS = r.crs
	if r.crs.Code != frame.WGS84LonLat.Code {
		note := fmt.Sprintf("brought from %s to longitude and latitude", r.crs.Name)
		if r.crs.Code != 0 {
			note = fmt.Sprintf("brought from EPSG:%d (%s) to longitude and latitude", r.crs.Code, r.crs.Name)
		}
		if r.crs.Datum.Assumed != "" {
			note += "; " + r.crs.Datum.Assumed
		}
		r.note("coordinate system", note, format.None)
	}
	return nil
}

// ParsePRJ reads the text of a .prj: WKT 1 as GIS programs write it (OGC 01-009,
// and the form of ESRI). Datum, projection and unit are taken from their
// parameters; where they are those of a supported EPSG code, the system with
// that code is given, else one with code 0. The error says what is not
// supported.
func ParsePRJ(text string) (frame.CRS, error) {
	n, err := parseWKT(text)
	if err != nil {
		return frame.CRS{}, err
	}
	switch strings.ToUpper(n.word) {
	case "GEOGCS":
		return geographic(n)
	case "PROJCS":
		return projected(n)
	case "COMPD_CS":
		if p, ok := n.child("PROJCS"); ok {
			return projected(p)
		}
		if g, ok := n.child("GEOGCS"); ok {
			return geographic(g)
		}
	case "GEOGCRS", "PROJCRS", "BOUNDCRS", "COMPOUNDCRS", "GEODCRS":
		return frame.CRS{}, fmt.Errorf("it is written as WKT 2")
	}
	return frame.CRS{}, fmt.Errorf("%.20q is neither degrees nor a projection", n.word)
}

// datums maps the names of datums, as plain letters and digits, to the EPSG code
// of their longitudes and latitudes.
func datums() map[string]int {
	return map[string]int{
		"wgs1984": 4326, "wgs84": 4326, "worldgeodeticsystem1984": 4326,
		"etrs1989": 4258, "europeanterrestrialreferencesystem1989": 4258,
		"gda1994": 4283, "geocentricdatumofaustralia1994": 4283,
		"gda2020": 7844, "geocentricdatumofaustralia2020": 7844,
		"nzgd2000": 4167, "newzealandgeodeticdatum2000": 4167,
		"rgf1993": 4171, "reseaugeodesiquefrancais1993": 4171, "reseaugeodesiquefrancais1993v1": 4171, "rgf1993v1": 4171,
		"northamerican1983": 4269, "northamericandatum1983": 4269,
		"nad19832011": 6318, "nad83nationalspatialreferencesystem2011": 6318,
		"osgb1936": 4277, "ordnancesurveyofgreatbritain1936": 4277,
	}
}

func letters(s string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(s) {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// geographic reads a GEOGCS.
func geographic(n node) (frame.CRS, error) {
	var c frame.CRS
	d, ok := n.child("DATUM")
	if !ok {
		return c, fmt.Errorf("it names no datum")
	}
	code, ok := datums()[letters(strings.TrimPrefix(d.text(0), "D_"))]
	if !ok {
		return c, fmt.Errorf("the datum %q is not supported", d.text(0))
	}
	c, err := frame.EPSG(code)
	if err != nil {
		return c, err
	}
	s, ok := d.child("SPHEROID")
	if !ok {
		return c, fmt.Errorf("the datum has no ellipsoid")
	}
	a, err := s.number(1)
	if err != nil {
		return c, err
	}
	inverse, err := s.number(2)
	if err != nil {
		return c, err
	}
	el := c.Datum.Ellipsoid
	if math.Abs(a-el.A) > 0.01 || math.Abs(inverse-el.InvF) > 1e-4 {
		return c, fmt.Errorf("the ellipsoid %q (%v, %v) is not that of the datum %s", s.text(0), a, inverse, c.Datum.Name)
	}
	if p, ok := n.child("PRIMEM"); ok {
		if v, err := p.number(1); err != nil || v != 0 {
			return c, fmt.Errorf("longitudes are counted from %q", p.text(0))
		}
	}
	if u, ok := n.child("UNIT"); ok {
		if v, err := u.number(1); err != nil || math.Abs(v-math.Pi/180) > 1e-9 {
			return c, fmt.Errorf("angles are in %q, not in degrees", u.text(0))
		}
	}
	return c, nil
}

// projected reads a PROJCS.
func projected(n node) (frame.CRS, error) {
	g, ok := n.child("GEOGCS")
	if !ok {
		return frame.CRS{}, fmt.Errorf("it names no datum")
	}
	geo, err := geographic(g)
	if err != nil {
		return geo, err
	}
	u, ok := n.child("UNIT")
	if !ok {
		return geo, fmt.Errorf("it names no unit of length")
	}
	unit, err := u.number(1)
	if err != nil || !(unit > 0) || math.IsInf(unit, 0) {
		return geo, fmt.Errorf("the unit %q is none of length", u.text(0))
	}
	c := frame.CRS{Name: n.text(0), Datum: geo.Datum, UnitM: unit, Unit: unitName(unit)}
	p, ok := n.child("PROJECTION")
	if !ok {
		return c, fmt.Errorf("it names no projection")
	}
	v, err := parameters(n, unit)
	if err != nil {
		return c, err
	}
	if c.Projection, err = projection(letters(p.text(0)), p.text(0), v, geo.Datum.Ellipsoid); err != nil {
		return c, err
	}
	return named(c, v), nil
}

func unitName(m float64) string {
	switch {
	case m == 1:
		return "metre"
	case math.Abs(m-frame.Foot) < 1e-9:
		return "foot"
	case math.Abs(m-frame.USSurveyFoot) < 1e-9:
		return "US survey foot"
	}
	return fmt.Sprintf("%v m", m)
}

// values are the parameters of a projection: degrees, metres.
type values struct {
	lat0, lon0, lat1, lat2, k0, east, north float64
	has1, has2                              bool
	other                                   string
}

func parameters(n node, unit float64) (values, error) {
	v := values{k0: 1}
	for _, a := range n.args {
		if !strings.EqualFold(a.word, "PARAMETER") {
			continue
		}
		x, err := a.number(1)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			return v, fmt.Errorf("the parameter %q has no number", a.text(0))
		}
		switch letters(a.text(0)) {
		case "latitudeoforigin", "latitudeofcenter":
			v.lat0 = x
		case "centralmeridian", "longitudeofcenter", "longitudeoforigin":
			v.lon0 = x
		case "standardparallel1":
			v.lat1, v.has1 = x, true
		case "standardparallel2":
			v.lat2, v.has2 = x, true
		case "scalefactor":
			v.k0 = x
		case "falseeasting":
			v.east = x * unit
		case "falsenorthing":
			v.north = x * unit
		default:
			if x != 0 {
				v.other = a.text(0)
			}
		}
	}
	if !(math.Abs(v.lat0) <= 90 && math.Abs(v.lat1) < 90 && math.Abs(v.lat2) < 90 && math.Abs(v.lon0) <= 180 && v.k0 > 0.5 && v.k0 < 2) {
		return v, fmt.Errorf("a parameter of the projection is out of range")
	}
	return v, nil
}

// projection builds the projection of the parameters.
func projection(word, name string, v values, el frame.Ellipsoid) (frame.Projection, error) {
	if v.other != "" {
		return nil, fmt.Errorf("the parameter %q of the projection %s is not known", v.other, name)
	}
	switch word {
	case "transversemercator", "gausskruger":
		return frame.NewTransverseMercator(el, v.lat0, v.lon0, v.k0, v.east, v.north), nil
	case "lambertconformalconic", "lambertconformalconic1sp", "lambertconformalconic2sp":
		if !v.has2 || v.lat1 == v.lat2 {
			if v.has1 && v.lat1 != v.lat0 || v.lat0 == 0 {
				return nil, fmt.Errorf("a conic with its parallel away from its origin is not supported")
			}
			return frame.NewLambert1SP(el, v.lat0, v.lon0, v.k0, v.east, v.north), nil
		}
		if !v.has1 || v.lat1 == -v.lat2 || v.k0 != 1 {
			return nil, fmt.Errorf("the parallels of the conic make no cone")
		}
		return frame.NewLambert2SP(el, v.lat1, v.lat2, v.lat0, v.lon0, v.east, v.north), nil
	case "mercatorauxiliarysphere":
		if v == (values{k0: 1, has1: v.has1}) {
			return frame.PseudoMercator{}, nil
		}
	}
	return nil, fmt.Errorf("the projection %s is not supported", name)
}

// named gives the system its EPSG code where a supported one puts places where it
// does, to a millimetre.
func named(c frame.CRS, v values) frame.CRS {
	lat := v.lat0
	if v.has1 {
		lat = v.lat1
	}
	for _, code := range codes() {
		known, err := frame.EPSG(code)
		if err != nil || known.Projection == nil || known.Datum.Code != c.Datum.Code || math.Abs(known.UnitM-c.UnitM) > 1e-9 {
			continue
		}
		same := true
		for _, d := range [3][2]float64{{0, 0.2}, {1.3, 1.5}, {-2.1, -0.7}} {
			p := orb.Point{v.lon0 + d[0], min(max(lat+d[1], -89), 89)}
			x0, y0 := c.Forward(p)
			x1, y1 := known.Forward(p)
			same = same && math.Hypot(x1-x0, y1-y0)*c.UnitM < 1e-3
		}
		if same {
			return known
		}
	}
	return c
}

// codes are the EPSG codes of the supported systems.
func codes() (out []int) {
	for _, s := range frame.Supported() {
		var first, last int
		n, _ := fmt.Sscanf(s, "%d-%d", &first, &last)
		if n == 1 {
			last = first
		}
		for c := first; n > 0 && c <= last; c++ {
			out = append(out, c)
		}
	}
	return out
}
