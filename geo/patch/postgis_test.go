package patch

import (
	"context"
	"courson/store/peers"
	"fmt"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// wkt writes an outline as MULTIPOLYGON.
func wkt(o Outline) string {
	var polygons []string
	for _, p := range o {
		var rings []string
		for _, r := range p {
			rings = append(rings, wktRing(r))
		}
		polygons = append(polygons, "("+strings.Join(rings, ",")+")")
	}
	if len(polygons) == 0 {
		return "MULTIPOLYGON EMPTY"
	}
	return "MULTIPOLYGON(" + strings.Join(polygons, ",") + ")"
}

func wktRing(r []XY) string {
	var places []string
	for _, p := range r {
		places = append(places, fmt.Sprintf("%.6f %.6f", p.X, p.Y))
	}
	return "(" + strings.Join(places, ",") + ")"
}

// compareUnion asks PostGIS whether the outline is valid and how far, in m², it
// is from ST_Union of the shapes.
func compareUnion(t require.TestingT, c *pgx.Conn, got Outline, shapes [][]XY) (differenceM2, lengthM float64) {
	var each []string
	for _, s := range shapes {
		each = append(each, "POLYGON("+wktRing(append(append([]XY{}, s...), s[0]))+")")
	}
	var valid bool
	var reason string
	require.NoError(t, c.QueryRow(context.Background(), `WITH o AS (SELECT ST_GeomFromText($1) AS g),
		u AS (SELECT ST_UnaryUnion(ST_Collect(ST_MakeValid(ST_GeomFromText(w)))) AS g FROM unnest($2::text[]) w)
		SELECT ST_IsValid(o.g), ST_IsValidReason(o.g), ST_Area(ST_SymDifference(o.g, u.g)), ST_Perimeter(u.g) FROM o, u`,
		wkt(got), each).Scan(&valid, &reason, &differenceM2, &lengthM))
	require.True(t, valid, "%s: %s", reason, wkt(got))
	return differenceM2, lengthM
}

// TestPostGIS_Union: outlines are those of ST_Union but for the rounding to whole
// millimetres.
func TestPostGIS_Union(t *testing.T) {
	c := peers.PostGIS(t, "patch")
	rapid.Check(t, func(t *rapid.T) {
		shapes := anyCells(t)
		difference, length := compareUnion(t, c, union(shapes, 0), shapes)
		require.LessOrEqual(t, difference, 0.0015*length+1e-6)
	})
}

// TestPostGIS_Outlines: the outline of a patch is the union of the ground cells
// of its vines as PostGIS joins them, each drawn by itself.
func TestPostGIS_Outlines(t *testing.T) {
	c := peers.PostGIS(t, "patch")
	for _, s := range scenes {
		t.Run(s.name, func(t *testing.T) {
			b := withPatch(t, s.scene, 3)
			f := findOne(t, b)
			plan, err := layOut(b.Stand.Ground)
			require.NoError(t, err)
			require.NotEmpty(t, f.Patches)
			for _, p := range f.Patches {
				var cells [][]XY
				for _, i := range p.Vines {
					from, to := plan.ends(i)
					side := plan.dir[i].left().times(s.rowM / 2)
					cells = append(cells, []XY{from.minus(side), to.minus(side), to.plus(side), from.plus(side)})
				}
				difference, length := compareUnion(t, c, p.Outline, cells)
				// Rows drawn straight within 1/50 of their spacing, both sides.
				tolerance := 0.0015 * length
				if s.radiusM > 0 || s.jitterM > 0 {
					tolerance = s.rowM / 50 * length
				}
				assert.LessOrEqual(t, difference, tolerance, "of %.1f m²", p.AreaM2)
			}
		})
	}
}
