package work

import (
	"cmp"
	"fmt"
	"slices"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/layout"
	"courson/geo/replant"
)

// detected is a detection at its place.
type detected struct {
	point int // index
	place int // in the ground; -1 none
	day   int32
	found *layout.Verdict // nil where the file names the place
}

// runDetections brings detections to places: those that the file names, else the
// nearest. A detection that lies between two places, or away from all, is told and
// not kept.
func (m *merge) runDetections() error {
	blocks, err := m.surveyBlocks()
	if err != nil || m.problems > 0 {
		return err
	}
	named, err := m.namedPlaces(blocks)
	if err != nil || m.problems > 0 {
		return err
	}
	if err := m.matchAll(blocks); err != nil || m.problems > 0 {
		return err
	}
	if err := m.settleDetectionShift(blocks, named); err != nil || m.problems > 0 {
		return err
	}
	for _, s := range blocks {
		list := named[s]
		for j, i := range s.points {
			if p := &m.points[i]; !p.addressable {
				list = append(list, detected{point: i, place: s.place(s.found[j].Row, s.found[j].Number), day: p.day, found: &s.found[j]})
			}
		}
		if err := m.keepDetections(s, list); err != nil {
			return err
		}
		for _, d := range list { // so that they are not told as near no block
			if d.found == nil {
				s.points = append(s.points, d.point)
			}
		}
	}
	m.tellNowhere(blocks)
	return nil
}

// settleDetectionShift looks for a shift of the whole file as for a survey, where
// any place rests on a position, and matches anew what was moved.
func (m *merge) settleDetectionShift(blocks []*surveyBlock, named map[*surveyBlock][]detected) error {
	for _, s := range blocks {
		if len(s.points) == 0 {
			continue
		}
		if err := s.checkShift(m.points, Detections, named[s]); err != nil {
			return err
		}
	}
	if !m.settleShift(blocks) || m.problems > 0 {
		return nil
	}
	return m.matchAll(blocks)
}

// namedPlaces finds the places that the file itself names.
func (m *merge) namedPlaces(blocks []*surveyBlock) (map[*surveyBlock][]detected, error) {
	out := map[*surveyBlock][]detected{}
	for i := range m.points {
		p := &m.points[i]
		if !p.addressable {
			continue
		}
		s, place := m.namedPlace(blocks, p)
		if s == nil {
			m.problem(p.where, string(csv.Address), "a place that is not known", m.placeText(p), "block, row and vine of a place that is stored, or a position")
			return nil, nil
		}
		out[s] = append(out[s], detected{point: i, place: place, day: p.day})
	}
	return out, nil
}

func (m *merge) namedPlace(blocks []*surveyBlock, p *pointIn) (*surveyBlock, int) {
	for _, s := range blocks {
		if p.id != 0 {
			if i, ok := s.g.IndexOf(p.id); ok {
				return s, i
			}
			continue
		}
		if code := m.pointBlock(p); code != s.block.Code && (code != "" || len(m.blocks) > 1) {
			continue
		}
		if r, ok := s.label[m.names.text(p.row)]; ok {
			if i := s.place(r, int(p.number)); i >= 0 {
				return s, i
			}
		}
	}
	return nil, -1
}

func (m *merge) placeText(p *pointIn) string {
	if p.id != 0 {
		return fmt.Sprint(p.id)
	}
	return format.Quote(fmt.Sprintf("%s/%s/%d", m.pointBlock(p), m.names.text(p.row), p.number))
}

// keepDetections keeps the detections of a block, those of each day for
// themselves.
func (m *merge) keepDetections(s *surveyBlock, list []detected) error {
	slices.SortStableFunc(list, func(a, b detected) int { return cmp.Compare(a.day, b.day) })
	for len(list) > 0 {
		n := 1
		for n < len(list) && list[n].day == list[0].day {
			n++
		}
		if err := m.keepDetectionDay(s, list[:n]); err != nil {
			return err
		}
		list = list[n:]
	}
	return nil
}

func (m *merge) keepDetectionDay(s *surveyBlock, list []detected) error {
	b := BlockPoints{Code: s.block.Code, Read: len(list), Places: s.g.Len()}
	k := m.keptHead(m.points[list[0].point].file)
	k.Day = replant.Day(list[0].day)
	var p keptPoints
	for _, d := range list {
		in := &m.points[d.point]
		switch {
		case d.found != nil && d.found.Quality > layout.Notice && d.found.Quality != layout.Outside:
			b.Doubtful++
			m.report.Points.list(m.matchItem(s, in, d.found, "doubtful", d.found.Reason))
			continue
		case d.place < 0 || d.found != nil && d.found.Quality == layout.Outside:
			b.Aside++
			m.report.Points.list(m.matchItem(s, in, d.found, "set aside", d.found.Reason))
			continue
		}
		b.Sure++
		p.Vine, p.Score = append(p.Vine, s.g.ID[d.place]), append(p.Score, round(in.score, 4))
	}
	k.Points, k.Sure, k.Doubtful, k.Aside = len(p.Vine), b.Sure, b.Doubtful, b.Aside
	if k.Points == 0 {
		m.report.Points.add(b)
		return nil
	}
	return m.keepBlock(s.block.ID, k, &p, b)
}
