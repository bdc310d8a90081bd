package work

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"path"
	"slices"
	"strings"

	"courson/geo/layout"
	"courson/geo/replant"
	"courson/geo/vine"
)

// keepSurvey reports and keeps what was matched to a block.
func (m *merge) keepSurvey(s *surveyBlock) error {
	if len(s.points) == 0 {
		return nil
	}
	b := BlockPoints{Code: s.block.Code, Read: len(s.points), Shift: s.shift}
	k := m.keptHead(m.points[s.points[0]].file)
	k.Points = len(s.points)
	var p keptPoints
	has, taken := make([]bool, s.g.Len()), make([]bool, s.g.Len())
	for j, i := range s.points {
		in, v := &m.points[i], &s.found[j]
		m.keepPoint(&p, s, in, v)
		at := s.place(v.Row, v.Number)
		switch {
		case v.Quality <= layout.Notice && at >= 0:
			has[at], taken[at] = true, true
			b.count(v)
			if v.Same >= 0 {
				m.report.Points.list(m.matchItem(s, in, v, "twice", "another point stands for the same vine"))
			}
		case v.Quality == layout.Outside || at < 0:
			b.Aside++
			m.report.Points.list(m.matchItem(s, in, v, "set aside", v.Reason))
		default:
			b.Doubtful++
			has[at] = true
			m.report.Points.list(m.matchItem(s, in, v, "doubtful", v.Reason))
		}
		k.Day = max(k.Day, replant.Day(in.day))
	}
	k.Sure, k.Noticed, k.Doubtful, k.Aside = b.Sure, b.Noticed, b.Doubtful, b.Aside
	m.covered(s, &k, &b, has, taken)
	return m.keepBlock(s.block.ID, k, &p, b)
}

// keptHead begins the record of a survey.
func (m *merge) keptHead(file int) Kept {
	name := path.Base(m.fileName(file))
	k := Kept{Kind: m.job.As, Name: strings.TrimSuffix(name, path.Ext(name)), By: m.job.By, Made: m.now}
	if o := m.report.Points.Shift; o != nil && o.TakenOff {
		k.EastM, k.NorthM = o.EastM, o.NorthM
	}
	return k
}

// keepPoint adds a matched point to the columns.
func (m *merge) keepPoint(p *keptPoints, s *surveyBlock, in *pointIn, v *layout.Verdict) {
	id := func(number int) vine.ID {
		if at := s.place(v.Row, number); at >= 0 {
			return s.g.ID[at]
		}
		return 0
	}
	p.Lon, p.Lat = append(p.Lon, round(in.at[0], 9)), append(p.Lat, round(in.at[1], 9))
	p.Name, p.Fix = append(p.Name, m.names.text(in.name)), append(p.Fix, in.fix.String())
	p.ErrorM, p.Fit = append(p.ErrorM, round(in.errorM, 3)), append(p.Fit, int(v.Quality))
	p.Vine, p.Next = append(p.Vine, id(v.Number)), append(p.Next, nextID(s, v))
	p.AlongM, p.AsideM = append(p.AlongM, round(v.AlongM, 3)), append(p.AsideM, round(v.OffsetM, 3))
}

// nextID is the other place that a doubtful point may stand for, 0 none: in the
// same row, where it lies between two places.
func nextID(s *surveyBlock, v *layout.Verdict) vine.ID {
	if v.Quality != layout.Review {
		return 0
	}
	if at := s.place(v.Row, v.NextNumber); at >= 0 {
		return s.g.ID[at]
	}
	return 0
}

func round(v float64, digits int) float64 {
	f := math.Pow10(digits)
	return math.Round(v*f) / f
}

// covered finds the stretches that were measured, and their places without a
// point.
func (m *merge) covered(s *surveyBlock, k *Kept, b *BlockPoints, has, taken []bool) {
	for _, r := range s.of {
		row := s.g.Rows[r]
		spans := replant.Covered(has[row.First:row.First+row.Count], m.job.WholeRows)
		for _, span := range spans {
			from, to := row.First+int(span.From), row.First+int(span.To)
			k.Stretches = append(k.Stretches, [2]vine.ID{s.g.ID[from], s.g.ID[to-1]})
			b.Covered += to - from
			for i := from; i < to; i++ {
				if !taken[i] {
					b.Without++
					m.report.Points.without(s.g.Address(i).String())
				}
			}
		}
		if len(spans) > 0 {
			b.Rows++
		}
	}
	b.Places = s.g.Len()
}

// keepBlock keeps what a file says of a block, unless it is known.
func (m *merge) keepBlock(block vine.ID, k Kept, p *keptPoints, b BlockPoints) error {
	k.Season = m.cal.Season(dayTime(int32(k.Day), m.zone))
	k.Digest = pointsDigest(p, fmt.Sprintf("%d %t %.3f %.3f", k.Day, m.job.WholeRows, k.EastM, k.NorthM))
	became, err := keepEvidence(m.ctx, m.journal, block, k, p)
	if err != nil {
		return err
	}
	b.Day, b.Became = k.Day, [...]string{"unchanged", "made", "replaced"}[became]
	rep := m.report.Points
	switch became {
	case keptNew:
		rep.Made += k.Points
	case keptInstead:
		rep.Replaced += k.Points
	case keptBefore:
		rep.Unchanged += k.Points
	}
	rep.add(b)
	return nil
}

// pointsDigest tells the same points again, in whatever order they come.
func pointsDigest(p *keptPoints, more string) string {
	lines := make([]string, len(p.Vine))
	for i := range lines {
		var x, y, e, s float64
		if len(p.Lon) > 0 {
			x, y = p.Lon[i], p.Lat[i]
		}
		if len(p.ErrorM) > 0 {
			e = p.ErrorM[i]
		}
		if len(p.Score) > 0 {
			s = p.Score[i]
		}
		lines[i] = fmt.Sprintf("%.8f %.8f %.3f %.4f %d", x, y, e, s, p.Vine[i])
	}
	slices.Sort(lines)
	h := sha256.New()
	for _, l := range lines {
		fmt.Fprintln(h, l)
	}
	fmt.Fprint(h, more)
	return hex.EncodeToString(h.Sum(nil)[:16])
}
