package frame

import (
	"fmt"
	"strconv"
)

// Parameters of the systems follow the EPSG geodetic parameter data set
// (IOGP), as PROJ 9.1.1 gives them; testdata/geodesy/systems.csv checks each.

// family is a run of EPSG codes that are zones of one system.
type family struct {
	first, last int
	name        string
	make        func(code int) CRS
}

// single is one system.
type single struct {
	code  int
	name  string
	datum Datum
	unit  string
	unitM float64
	make  func(el Ellipsoid) Projection
}

// EPSG gives the system of an EPSG code, or *UnknownCRSError.
func EPSG(code int) (CRS, error) {
	for _, f := range families() {
		if code >= f.first && code <= f.last {
			return f.make(code), nil
		}
	}
	for _, s := range singles() {
		if s.code == code {
			c := CRS{Code: code, Name: s.name, Datum: s.datum, Unit: s.unit, UnitM: s.unitM}
			if s.make != nil {
				c.Projection = s.make(s.datum.Ellipsoid)
			}
			return c, nil
		}
	}
	return CRS{}, &UnknownCRSError{Given: "EPSG:" + strconv.Itoa(code)}
}

// Supported lists the systems for people, in order of code within each kind.
func Supported() []string {
	var out []string
	for _, f := range families() {
		out = append(out, fmt.Sprintf("%d-%d (%s)", f.first, f.last, f.name))
	}
	for _, s := range singles() {
		out = append(out, fmt.Sprintf("%d (%s)", s.code, s.name))
	}
	return out
}

// utmFamily is a family of UTM zones: code minus base is the zone, counted on
// from 60 to 1 again.
func utmFamily(first, last, base int, south bool, datum Datum, name string) family {
	return family{first, last, name + " zones", func(code int) CRS {
		zone := (code-base-1+60)%60 + 1
		return CRS{Code: code, Name: fmt.Sprintf("%s zone %d", name, zone), Datum: datum,
			Unit: "metre", UnitM: 1, Projection: UTM(datum.Ellipsoid, zone, south)}
	}}
}

func families() []family {
	return []family{
		utmFamily(32601, 32660, 32600, false, datumWGS84, "WGS 84 / UTM north"),
		utmFamily(32701, 32760, 32700, true, datumWGS84, "WGS 84 / UTM south"),
		utmFamily(25828, 25838, 25800, false, datumETRS89, "ETRS89 / UTM north"),
		utmFamily(28348, 28358, 28300, true, datumGDA94, "GDA94 / MGA"),
		utmFamily(7846, 7859, 7800, true, datumGDA2020, "GDA2020 / MGA"),
		utmFamily(26901, 26923, 26900, false, datumNAD83, "NAD83 / UTM north"),
		utmFamily(6328, 6348, 6329, false, datumNAD83of2011, "NAD83(2011) / UTM north"),
		{3942, 3950, "RGF93 / CC zones", func(code int) CRS {
			lat := float64(code - 3900)
			return CRS{Code: code, Name: fmt.Sprintf("RGF93 / CC%d", code-3900), Datum: datumRGF93,
				Unit: "metre", UnitM: 1,
				Projection: NewLambert2SP(GRS80, lat-0.75, lat+0.75, lat, 3, 1700000, (lat-41)*1e6+200000)}
		}},
	}
}

// dms is degrees and minutes.
func dms(d, m float64) float64 { return d + m/60 }

func singles() []single {
	out := []single{
		{4326, "WGS 84", datumWGS84, "degree", 0, nil},
		{4258, "ETRS89", datumETRS89, "degree", 0, nil},
		{4283, "GDA94", datumGDA94, "degree", 0, nil},
		{7844, "GDA2020", datumGDA2020, "degree", 0, nil},
		{4167, "NZGD2000", datumNZGD2000, "degree", 0, nil},
		{4171, "RGF93", datumRGF93, "degree", 0, nil},
		{4269, "NAD83", datumNAD83, "degree", 0, nil},
		{6318, "NAD83(2011)", datumNAD83of2011, "degree", 0, nil},
		{4277, "OSGB36", datumOSGB36, "degree", 0, nil},
		{3857, "WGS 84 / Pseudo-Mercator", datumWGS84, "metre", 1,
			func(Ellipsoid) Projection { return PseudoMercator{} }},
		{2193, "NZGD2000 / New Zealand Transverse Mercator 2000", datumNZGD2000, "metre", 1,
			func(el Ellipsoid) Projection { return NewTransverseMercator(el, 0, 173, 0.9996, 1600000, 10000000) }},
		{2154, "RGF93 / Lambert-93", datumRGF93, "metre", 1,
			func(el Ellipsoid) Projection { return NewLambert2SP(el, 49, 44, 46.5, 3, 700000, 6600000) }},
		{3763, "ETRS89 / Portugal TM06", datumETRS89, "metre", 1,
			func(el Ellipsoid) Projection {
				return NewTransverseMercator(el, 39+40/60.+5.73/3600, -(8 + 7/60. + 59.19/3600), 1, 0, 0)
			}},
		{27700, "OSGB36 / British National Grid", datumOSGB36, "metre", 1,
			func(el Ellipsoid) Projection { return NewTransverseMercator(el, 49, -2, 0.9996012717, 400000, -100000) }},
	}
	return append(out, statePlane()...)
}

// statePlane lists state plane zones in feet.
func statePlane() []single {
	zone := func(code int, name, unit string, unitM, lat1, lat2, lat0, lon0, falseEast, falseNorth float64) single {
		return single{code, "NAD83 / " + name, datumNAD83, unit, unitM, func(el Ellipsoid) Projection {
			return NewLambert2SP(el, lat1, lat2, lat0, lon0, falseEast*unitM, falseNorth*unitM)
		}}
	}
	us := func(code int, name string, lat1, lat2, lat0, lon0, falseEast, falseNorth float64) single {
		return zone(code, name+" (ftUS)", "US survey foot", USSurveyFoot, lat1, lat2, lat0, lon0, falseEast, falseNorth)
	}
	ft := func(code int, name string, lat1, lat2, lat0, lon0, falseEast float64) single {
		return zone(code, name+" (ft)", "foot", Foot, lat1, lat2, lat0, lon0, falseEast, 0)
	}
	const caEast, caNorth, waEast = 6561666.667, 1640416.667, 1640416.667
	return []single{
		us(2225, "California zone 1", dms(41, 40), 40, dms(39, 20), -122, caEast, caNorth),
		us(2226, "California zone 2", dms(39, 50), dms(38, 20), dms(37, 40), -122, caEast, caNorth),
		us(2227, "California zone 3", dms(38, 26), dms(37, 4), dms(36, 30), -dms(120, 30), caEast, caNorth),
		us(2228, "California zone 4", dms(37, 15), 36, dms(35, 20), -119, caEast, caNorth),
		us(2229, "California zone 5", dms(35, 28), dms(34, 2), dms(33, 30), -118, caEast, caNorth),
		us(2230, "California zone 6", dms(33, 53), dms(32, 47), dms(32, 10), -dms(116, 15), caEast, caNorth),
		us(2285, "Washington North", dms(48, 44), dms(47, 30), 47, -dms(120, 50), waEast, 0),
		us(2286, "Washington South", dms(47, 20), dms(45, 50), dms(45, 20), -dms(120, 30), waEast, 0),
		ft(2269, "Oregon North", 46, dms(44, 20), dms(43, 40), -dms(120, 30), 8202099.738),
		ft(2270, "Oregon South", 44, dms(42, 20), dms(41, 40), -dms(120, 30), 4921259.843),
	}
}
