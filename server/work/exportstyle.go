package work

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"courson/geo/format"
	"courson/geo/format/shp"
	"courson/geo/format/sld"
	"courson/geo/stand"
	"courson/geo/tile"
)

// themed is a theme of the map that a layer can be drawn by.
type themed struct {
	theme  tile.Theme
	column string
	by     sld.By
}

// plainTheme is for layers that the map draws alike.
const plainTheme tile.Theme = "plain"

func themedOf(k Kind) []themed {
	switch k {
	case Blocks, Rows:
		return []themed{{plainTheme, "", sld.ByNone}}
	case Vines:
		return []themed{{tile.ThemeCondition, "status", sld.ByKey}, {tile.ThemeProgress, "progress", sld.ByKey}, {tile.ThemeLoad, "nodes", sld.ByRange}}
	case VigourLayer:
		return []themed{{tile.ThemeVigour, "vigour_class", sld.ByCode}, {tile.ThemeCondition, "condition", sld.ByKey}, {tile.ThemeDoubt, "doubt", sld.ByKey},
			{tile.ThemeChange, "change", sld.ByKey}, {tile.ThemePatches, "patch", sld.ByKey}, {tile.ThemeLoad, "load", sld.ByKey},
			{tile.ThemeFollowUps, "follow_up", sld.ByKey}, {tile.ThemeProgress, "progress", sld.ByKey}}
	case PatchLayer:
		return []themed{{tile.ThemePatches, "kind", sld.ByKey}}
	case ZoneLayer:
		return []themed{{tile.ThemeZones, "zone", sld.ByCode}}
	case PlanLayer:
		return []themed{{tile.ThemeLoad, "nodes_planned", sld.ByRange}}
	case ProgressLayer:
		return []themed{{tile.ThemeProgress, "progress", sld.ByKey}}
	}
	return nil
}

// StyleThemes gives the themes that a layer can be drawn by, the first by default;
// none for a layer that the map does not draw.
func StyleThemes(k Kind) (out []string) {
	for _, t := range themedOf(k) {
		out = append(out, string(t.theme))
	}
	return out
}

// StyleOf writes the style of a layer by a theme, "" the first: Styled Layer
// Descriptor 1.1.0. short is for field names as shapefiles have them.
func StyleOf(l *format.Layer, k Kind, theme string, short bool) ([]byte, error) {
	all := themedOf(k)
	i := slices.IndexFunc(all, func(t themed) bool { return theme == "" || string(t.theme) == theme })
	if i < 0 && len(all) == 0 {
		return nil, fmt.Errorf("the map does not draw %s: there is no style", k)
	} else if i < 0 {
		return nil, fmt.Errorf("%s have no style %q (%s)", k, theme, strings.Join(StyleThemes(k), ", "))
	}
	t := all[i]
	s := sld.Style{Layer: l.Name, Name: string(t.theme), Shape: l.Shape, Legend: legendFor(k, t.theme), Column: fieldName(l, t.column, short), By: t.by}
	if k == Blocks {
		s.Label = fieldName(l, "block", short)
	}
	var b bytes.Buffer
	if err := sld.Write(&b, s); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// legendFor is the legend of the page, without what the layer has none of.
func legendFor(k Kind, theme tile.Theme) tile.Legend {
	if theme == plainTheme {
		return tile.Legend{Title: string(k), Classes: []tile.Class{{Key: string(plainTheme), Label: string(k), Light: tile.InkLight, Line: "solid"}}}
	}
	limits := stand.DefaultVigourLimits()
	l := tile.Legends(limits[:])[theme]
	if k == PatchLayer || k == ZoneLayer {
		l.Classes = slices.DeleteFunc(slices.Clone(l.Classes), func(c tile.Class) bool { return c.Key == "none" || c.Key == "plain" })
	}
	return l
}

func fieldName(l *format.Layer, column string, short bool) string {
	if !short {
		return column
	}
	names := make([]string, len(l.Columns))
	for i, c := range l.Columns {
		names[i] = c.Name
	}
	if i := slices.Index(names, column); i >= 0 {
		return shp.Names(names)[i]
	}
	return column
}

// stylesBeside are the files of a layer's styles as they go into a shapefile's
// zip: the first beside the shapes by their name.
func stylesBeside(l *format.Layer, k Kind) (out []shp.Extra, err error) {
	for i, theme := range StyleThemes(k) {
		body, err := StyleOf(l, k, theme, true)
		if err != nil {
			return nil, err
		}
		name := l.Name + ".sld"
		if i > 0 {
			name = l.Name + "_" + theme + ".sld"
		}
		out = append(out, shp.Extra{Name: name, Body: body})
	}
	return out, nil
}
