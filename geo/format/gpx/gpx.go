// Package gpx reads GPX 1.0 and 1.1 (the GPS Exchange Format, an open schema):
// waypoints as points, routes and tracks as lines, a track of several segments
// as a line of several parts. Places are longitude and latitude on WGS 84.
package gpx

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"

	"github.com/paulmach/orb"

	"courson/geo/format"
)

// Options of reading.
type Options struct{ Limits format.Limits }

// The names of the layers.
const (
	Waypoints = "waypoints"
	Routes    = "routes"
	Tracks    = "tracks"
)

const (
	mostBytes    = 512 << 20
	mostFeatures = 2_000_000
)

// Read reads a GPX file: up to three layers, waypoints, routes and tracks, those
// that are there. A point needs no time. Errors are *format.Problem, or what the
// reader said.
func Read(r io.Reader, o Options) ([]format.FeatureSet, []format.Notice, error) {
	l := o.Limits
	if l.MaxBytes <= 0 {
		l.MaxBytes = mostBytes
	}
	in, err := format.Unpack(r, l)
	if err != nil {
		return nil, nil, err
	}
	g := &reader{m: format.NewMarkup(in)}
	if err := g.read(); err != nil {
		return nil, g.notices.List(), err
	}
	var out []format.FeatureSet
	for _, l := range g.layers {
		if len(l.Features) > 0 {
			out = append(out, l)
		}
	}
	return out, g.notices.List(), nil
}

type reader struct {
	m       *format.Markup
	layers  [3]format.FeatureSet
	count   int
	notices format.Notices
}

func (g *reader) read() error {
	g.layers[0].Name, g.layers[1].Name, g.layers[2].Name = Waypoints, Routes, Tracks
	name, _, _, err := g.m.Next()
	if errors.Is(err, io.EOF) || err == nil && name != "gpx" {
		return &format.Problem{Feature: format.None, What: "not a GPX file", Found: format.Quote(name), Wanted: "a file that begins with the element gpx"}
	}
	for err == nil {
		var begins bool
		var e *format.Element
		name, begins, attr, next := g.m.Next()
		if errors.Is(next, io.EOF) {
			return nil
		}
		if err = next; err != nil || !begins {
			continue
		}
		if e, err = g.m.Element(name, attr); err == nil {
			err = g.take(e)
		}
	}
	return err
}

func (g *reader) take(e *format.Element) error {
	if g.count++; g.count > mostFeatures {
		return &format.Problem{Feature: format.None, What: "too many waypoints, routes and tracks", Wanted: fmt.Sprintf("at most %d", mostFeatures), Cause: format.ErrTooLarge}
	}
	switch e.Name {
	case "wpt":
		return g.waypoint(e)
	case "rte":
		return g.route(e)
	case "trk":
		return g.track(e)
	}
	return nil
}

func (g *reader) waypoint(e *format.Element) error {
	l := &g.layers[0]
	p, err := g.place(e, len(l.Features), Waypoints)
	if err != nil {
		return err
	}
	f := format.Feature{Geometry: p}
	words(&f, e)
	for _, name := range []string{"time", "fix", "sat", "hdop", "sym", "ele"} {
		if v := e.Words(name); v != "" {
			f.Set(name, v)
		}
	}
	l.Features = append(l.Features, f)
	return nil
}

// words takes up what all three have.
func words(f *format.Feature, e *format.Element) {
	for _, name := range []string{"name", "desc", "cmt", "type"} {
		f.Set(name, e.Words(name))
	}
}

func (g *reader) route(e *format.Element) error {
	l := &g.layers[1]
	line, err := g.line(e, "rtept", len(l.Features), Routes)
	if err != nil {
		return err
	}
	f := format.Feature{}
	if len(line) > 0 {
		f.Geometry = line
	}
	words(&f, e)
	l.Features = append(l.Features, f)
	return nil
}

func (g *reader) track(e *format.Element) error {
	l := &g.layers[2]
	var parts orb.Collection
	for _, s := range e.Inner {
		if s.Name != "trkseg" {
			continue
		}
		line, err := g.line(s, "trkpt", len(l.Features), Tracks)
		if err != nil {
			return err
		}
		switch len(line) {
		case 0:
		case 1:
			g.notices.Add("", Tracks, len(l.Features), s.Line, "a segment of one point is left out")
		default:
			parts = append(parts, line)
		}
	}
	f := format.Feature{Geometry: format.Join(parts)}
	words(&f, e)
	l.Features = append(l.Features, f)
	return nil
}

func (g *reader) line(e *format.Element, point string, feature int, layer string) (orb.LineString, error) {
	var out orb.LineString
	for _, c := range e.Inner {
		if c.Name != point {
			continue
		}
		p, err := g.place(c, feature, layer)
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

// place reads the attributes lat and lon.
func (g *reader) place(e *format.Element, feature int, layer string) (orb.Point, error) {
	var p orb.Point
	for i, name := range []string{"lon", "lat"} {
		v, err := strconv.ParseFloat(e.Attr[name], 64)
		if err != nil || !(math.Abs(v) <= []float64{180, 90}[i]) {
			return p, &format.Problem{Feature: feature, Line: e.Line, Field: layer + ", " + name, What: "not a place", Found: format.Quote(e.Attr[name]), Wanted: "degrees on WGS 84, such as 45.21"}
		}
		p[i] = v
	}
	return p, nil
}
