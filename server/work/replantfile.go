package work

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"courson/geo/replant"
	"courson/geo/stand"
	"courson/geo/vine"
)

// ReplantLine is a place that is a candidate, or on its way to a new plant.
type ReplantLine struct {
	Vine      int // index in the ground
	Candidate *replant.Candidate
	Place     *replant.Place
	Walk      int // which one it is on a walk back and forth through the rows, from 1
}

// Lines gives the candidates and the places on their way, in the order of the
// ground.
func (r *Replants) Lines() []ReplantLine {
	g := r.Stand.Ground
	at := map[int]*ReplantLine{}
	line := func(i int) *ReplantLine {
		if at[i] == nil {
			at[i] = &ReplantLine{Vine: i}
		}
		return at[i]
	}
	for k := range r.Candidates {
		line(r.Candidates[k].Vine).Candidate = &r.Candidates[k]
	}
	for k := range r.Places {
		if i, ok := g.IndexOf(r.Places[k].Vine); ok && r.Places[k].Stage != replant.Withdrawn {
			line(i).Place = &r.Places[k]
		}
	}
	n := 0
	for _, i := range (replant.Walk{BackForth: true}).Order(g) {
		if l := at[i]; l != nil {
			n++
			l.Walk = n
		}
	}
	out := make([]ReplantLine, 0, n)
	for i := range g.Len() {
		if l := at[i]; l != nil {
			out = append(out, *l)
		}
	}
	return out
}

// replantField is one column of the file.
type replantField struct {
	name string
	of   func(r *Replants, l ReplantLine) any
}

var replantFields = []replantField{
	{"address", func(r *Replants, l ReplantLine) any { return r.Stand.Ground.Address(l.Vine).String() }},
	{"courson_id", func(r *Replants, l ReplantLine) any { return r.Stand.Ground.ID[l.Vine] }},
	{"block", func(r *Replants, _ ReplantLine) any { return r.Block.Code }},
	{"variety", func(r *Replants, _ ReplantLine) any { return r.Block.Variety }},
	{"clone", func(r *Replants, _ ReplantLine) any { return r.Block.Clone }},
	{"rootstock", func(r *Replants, _ ReplantLine) any { return r.Block.Rootstock }},
	{"walk", func(_ *Replants, l ReplantLine) any { return l.Walk }},
	{"stands", func(r *Replants, l ReplantLine) any { return r.Findings.Verdicts[l.Vine].State.String() }},
	{"what", ofCandidate(func(c *replant.Candidate) any { return c.Action.String() })},
	{"stage", ofPlace(func(p *replant.Place) any { return p.Stage.String() })},
	{"since", ofPlace(func(p *replant.Place) any { return p.Since.String() })},
	{"batch", ofPlace(func(p *replant.Place) any { return p.Batch })},
	{"reason", ofCandidate(func(c *replant.Candidate) any { return c.Text })},
}

func ofCandidate(of func(*replant.Candidate) any) func(*Replants, ReplantLine) any {
	return func(_ *Replants, l ReplantLine) any {
		if l.Candidate == nil {
			return nil
		}
		return of(l.Candidate)
	}
}

func ofPlace(of func(*replant.Place) any) func(*Replants, ReplantLine) any {
	return func(_ *Replants, l ReplantLine) any {
		if l.Place == nil {
			return nil
		}
		return of(l.Place)
	}
}

// WriteReplants writes a line for every candidate and every place on its way: as a
// table with positions in degrees, or as GeoJSON (RFC 7946).
func WriteReplants(w io.Writer, form Form, blocks []*Replants) error {
	switch form {
	case Table:
		return replantTable(w, blocks)
	case GeoJSON:
		return replantGeoJSON(w, blocks)
	}
	return fmt.Errorf("replants cannot be written as %q (geojson, csv)", form)
}

func replantTable(w io.Writer, blocks []*Replants) error {
	out := csv.NewWriter(w)
	head := []string{}
	for _, f := range replantFields {
		head = append(head, f.name)
	}
	if err := out.Write(append(head, "lon", "lat")); err != nil {
		return err
	}
	for _, r := range blocks {
		for _, l := range r.Lines() {
			cells := []string{}
			for _, f := range replantFields {
				cells = append(cells, cellOf(f.of(r, l)))
			}
			lon, lat := stand.Degrees(r.Stand.Ground.WX[l.Vine], r.Stand.Ground.WY[l.Vine])
			if err := out.Write(append(cells, fmt.Sprintf("%.8f", lon), fmt.Sprintf("%.8f", lat))); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}

func replantGeoJSON(w io.Writer, blocks []*Replants) error {
	all := geojson.NewFeatureCollection()
	for _, r := range blocks {
		for _, l := range r.Lines() {
			lon, lat := stand.Degrees(r.Stand.Ground.WX[l.Vine], r.Stand.Ground.WY[l.Vine])
			feature := geojson.NewFeature(orb.Point{to(lon, 8), to(lat, 8)})
			feature.ID = r.Stand.Ground.ID[l.Vine]
			for _, f := range replantFields {
				feature.Properties[f.name] = f.of(r, l)
			}
			all.Append(feature)
		}
	}
	return json.NewEncoder(w).Encode(all)
}

// RowOfVine gives the label and the lasting id of a place's row, and its number.
func (r *Replants) RowOfVine(i int) (label string, row vine.ID, number int) {
	g := r.Stand.Ground
	at := g.Rows[g.Row[i]]
	return strings.TrimSpace(at.Label), at.ID, int(g.Number[i])
}
