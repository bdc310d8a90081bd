package geojson

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/format"
)

// readAll reads everything there is to read: features, problems, and the error
// that ended it, if it was not the end of the file.
func readAll(data []byte, o Options) (features []Feature, problems []string, notices []string, final error) {
	d, err := NewDecoder(bytes.NewReader(data), o)
	if err != nil {
		return nil, nil, nil, err
	}
	for {
		f, err := d.Next()
		var bad *BadFeature
		switch {
		case errors.Is(err, io.EOF):
		case errors.As(err, &bad):
			problems = append(problems, err.Error())
			continue
		case err != nil:
			final = err
		default:
			features = append(features, f.clone())
			continue
		}
		for _, n := range d.Notices() {
			notices = append(notices, n.String())
		}
		return features, problems, notices, final
	}
}

// verdict is what we say to one of the inputs of testdata/geojson. Its README
// names their origin; the rules are those of RFC 7946.
type verdict struct {
	features int
	notice   string // part of the one notice; "" for none
	problem  string // part of the problem of a feature
	final    string // part of what ended the reading
}

var verdicts = map[string]verdict{
	"00-valid-point":                   {features: 1},
	"01-valid-polygon-hole-right-hand": {features: 1},
	"02-winding-clockwise-exterior":    {features: 1, notice: "feature 0, ring 0: turned round: outer rings run counter-clockwise"},
	"03-ring-unclosed":                 {features: 1, notice: "feature 0, ring 0: not closed"},
	"04-ring-three-positions":          {problem: "feature 0 (line 1), ring 0: a ring without area"},
	"05-lat-lon-swapped":               {problem: "latitude 145.3205 is impossible; the pairs look swapped"},
	"06-bbox-antimeridian":             {features: 1},
	"07-multipolygon-cut-at-180":       {features: 1},
	"08-longitude-over-180":            {problem: "longitude 180.01 is beyond 180"},
	"09-old-crs-named-epsg":            {features: 1, notice: "brought from EPSG:28355"},
	"10-old-crs-crs84":                 {features: 1},
	"11-old-crs-null":                  {features: 1, notice: "crs: null; coordinates are taken as longitude and latitude"},
	"12-projected-without-crs":         {problem: "352000 cannot be a longitude; it looks like projected metres"},
	"13-three-d":                       {features: 1, notice: "heights are left out"},
	"14-four-numbers":                  {features: 1, notice: "more than three numbers"},
	"15-mixed-2d-3d":                   {features: 1, notice: "heights are left out"},
	"16-null-geometry":                 {features: 1},
	"17-missing-geometry":              {features: 1, notice: "geometry: missing; read as null"},
	"18-properties-null":               {features: 1},
	"19-properties-missing":            {features: 1, notice: "properties: missing; read as null"},
	"20-empty-feature-collection":      {},
	"21-empty-coordinates":             {features: 1, notice: "no positions; read as null"},
	"22-bare-geometry":                 {features: 1, notice: "a geometry without a feature around it"},
	"23-bare-feature":                  {features: 1},
	"24-bare-array-of-features":        {final: "an array is not GeoJSON"},
	"25-geometrycollection":            {features: 1},
	"26-geometrycollection-nested":     {features: 1},
	"27-type-wrong-case":               {problem: `found "point"; wanted "Point", with these capitals`},
	"28-coordinates-as-strings":        {problem: `coordinates: not a number; found the text "145.3205"`},
	"29-coordinates-null":              {problem: "coordinates: not a number; found null"},
	"30-NaN":                           {problem: `coordinates: not a JSON number; found "NaN"`},
	"31-utf8-bom":                      {features: 1},
	"32-trailing-comma":                {features: 1, final: "line 1): not JSON: a comma with nothing after it"},
	"33-comments":                      {final: "line 1: not JSON"},
	"34-truncated":                     {final: "feature 0 (line 1): the file ends in the middle"},
	"35-duplicate-keys":                {problem: "property vine: the same name twice with different values; found 1 and 2"},
	"36-id-types":                      {features: 3},
	"37-id-object":                     {problem: "id: an id is a text or a number"},
	"38-nested-properties":             {features: 1},
	"39-mixed-property-types":          {features: 2},
	"40-big-integer":                   {features: 1},
	"41-newline-delimited":             {features: 2, notice: "one feature a line"},
	"42-rs-sequence":                   {features: 2, notice: "one feature a line"},
	"43-self-intersecting":             {problem: "the outline crosses or touches itself; found a crossing at [145.32185, -37.7281]"},
	"44-duplicate-points":              {features: 1},
	"45-linestring-one-position":       {problem: "a line has two positions or more; found 1"},
	"46-hole-outside":                  {problem: "ring 1: a hole outside its outer ring"},
	"47-latin1-bytes":                  {problem: "property name: a text that is not UTF-8"},
	"48-topojson":                      {final: "TopoJSON, not GeoJSON"},
	"49-esri-json":                     {problem: "type: not a feature; found no member of this name", final: "another dialect of JSON"},
	"50-exponent-and-many-digits":      {features: 1},
	"51-feature-type-missing":          {problem: "type: not a feature; found no member of this name"},
	"52-foreign-members":               {features: 1},
	"53-polygon-depth-wrong":           {problem: "coordinates of a Polygon not nested deeply enough"},
	"54-point-depth-wrong":             {problem: "coordinates of a Point nested too deeply"},
	"55-utf16":                         {final: "the file is written in UTF-16"},
	"56-empty-file":                    {final: "the file is empty"},
}

func TestVerdicts(t *testing.T) {
	files, err := filepath.Glob("../../../testdata/geojson/*.geojson")
	require.NoError(t, err)
	require.Len(t, files, 57)
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".geojson")
		t.Run(name, func(t *testing.T) {
			want, ok := verdicts[name]
			require.True(t, ok, "no verdict is written down")
			data, err := os.ReadFile(file)
			require.NoError(t, err)
			features, problems, notices, final := readAll(data, Options{})
			require.Len(t, features, want.features)
			one(t, want.problem, problems)
			one(t, want.notice, notices)
			if want.final == "" {
				require.NoError(t, final)
			} else {
				require.ErrorContains(t, final, want.final)
				var p *format.Problem
				require.ErrorAs(t, final, &p)
			}
		})
	}
}

// one checks that there is exactly one text holding part, or none for "".
func one(t *testing.T, part string, texts []string) {
	t.Helper()
	if part == "" {
		require.Empty(t, texts)
		return
	}
	require.Len(t, texts, 1)
	require.Contains(t, texts[0], part)
}

// Where ours is stricter than three other readers (testdata/geojson/README.md),
// it must still be right: what RFC 7946 calls legal is accepted.
func TestVerdicts_LegalIsAccepted(t *testing.T) {
	for _, name := range []string{"00-valid-point", "01-valid-polygon-hole-right-hand", "02-winding-clockwise-exterior", "06-bbox-antimeridian",
		"07-multipolygon-cut-at-180", "13-three-d", "16-null-geometry", "18-properties-null", "20-empty-feature-collection", "21-empty-coordinates",
		"22-bare-geometry", "23-bare-feature", "25-geometrycollection", "26-geometrycollection-nested", "50-exponent-and-many-digits", "52-foreign-members"} {
		v := verdicts[name]
		require.Empty(t, v.problem+v.final, name)
	}
}
