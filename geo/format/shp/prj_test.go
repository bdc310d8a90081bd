package shp

import (
	"fmt"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/store/peers"
)

// The .prj of the supported systems as GDAL writes it, one of each kind, leads
// back to its code.
func TestParsePRJ_GDAL(t *testing.T) {
	for _, code := range []int{4326, 4258, 4283, 7844, 4167, 4171, 4269, 6318, 4277, 2154, 2193, 2227, 2270, 3763, 27700,
		3945, 6339, 7855, 25832, 26910, 28355, 32632, 32719} {
		text := peers.Run(t, "gdalsrsinfo", "-o", "wkt_esri", fmt.Sprintf("EPSG:%d", code))
		c, err := ParsePRJ(strings.TrimSpace(text))
		require.NoError(t, err, text)
		assert.Equal(t, code, c.Code, text)
	}
	c, err := ParsePRJ(strings.TrimSpace(peers.Run(t, "gdalsrsinfo", "-o", "wkt_esri", "EPSG:3857")))
	require.NoError(t, err)
	require.Equal(t, 3857, c.Code)
	c, err = ParsePRJ(strings.TrimSpace(peers.Run(t, "gdalsrsinfo", "-o", "wkt1", "EPSG:32719")))
	require.NoError(t, err)
	require.Equal(t, 32719, c.Code)
	for _, code := range []string{"EPSG:2056", "EPSG:5514", "EPSG:27572", "EPSG:3035"} { // oblique, Krovak, Paris, equal-area
		_, err := ParsePRJ(strings.TrimSpace(peers.Run(t, "gdalsrsinfo", "-o", "wkt_esri", code)))
		require.Error(t, err, code)
	}
}

func TestParsePRJ(t *testing.T) {
	utm := func(change ...string) string {
		return strings.NewReplacer(change...).Replace(`PROJCS["WGS_1984_UTM_Zone_32N",GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",500000.0],PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",9.0],PARAMETER["Scale_Factor",0.9996],PARAMETER["Latitude_Of_Origin",0.0],UNIT["Meter",1.0]]`)
	}
	c, err := ParsePRJ(utm())
	require.NoError(t, err)
	require.Equal(t, 32632, c.Code)
	c, err = ParsePRJ(utm("9.0]", "9.5]"))
	require.NoError(t, err)
	require.Equal(t, 0, c.Code, "no code, but usable")
	x, y := c.Forward(orb.Point{9.5, 0})
	require.InDelta(t, 500000, x, 1e-6)
	require.InDelta(t, 0, y, 1e-6)
	for _, b := range []struct{ text, want string }{
		{"", "word is missing"},
		{"hello", "neither degrees nor a projection"},
		{utm("]]", "]"), "bracket is not closed"},
		{utm("WGS_1984", "Bessel_1841"), "datum"},
		{utm("6378137.0", "6377397.155"), "ellipsoid"},
		{utm("Greenwich\",0.0", "Paris\",2.337"), "Paris"},
		{utm("Transverse_Mercator", "Krovak"), "Krovak"},
		{utm("Meter\",1.0", "Meter\",0"), "unit"},
		{utm("0.9996", "abc"), "no number"},
		{utm("Scale_Factor", "Azimuth"), "Azimuth"},
		{`PROJCRS["WGS 84 / UTM zone 32N",BASEGEOGCRS["WGS 84"]]`, "WKT 2"},
		{strings.Repeat("A[", 100), "too deep"},
	} {
		_, err := ParsePRJ(b.text)
		require.ErrorContains(t, err, b.want, b.text)
	}
}

// Every supported system has a code among those that are looked through.
func TestCodes(t *testing.T) {
	n := 0
	for _, code := range codes() {
		c, err := frame.EPSG(code)
		require.NoError(t, err)
		require.Equal(t, code, c.Code)
		n++
	}
	require.Greater(t, n, 200)
}
