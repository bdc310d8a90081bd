package work

import (
	"fmt"
	"math"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/layout"
)

// runPoints holds points against the blocks, rows and places that are stored.
func (m *merge) runPoints() error {
	if err := m.loadEstate(); err != nil {
		return err
	}
	nowhere := where{file: 0, feature: format.None}
	if len(m.blocks) == 0 {
		m.problem(nowhere, "", "there are no blocks to hold points against", "", "blocks, rows and vines imported first")
		return nil
	}
	m.checkPointDays()
	m.report.Points = &PointsReport{Kind: m.job.As, Read: len(m.points)}
	if m.problems > 0 || len(m.points) == 0 {
		return nil
	}
	if m.job.As == Detections {
		return m.runDetections()
	}
	return m.runSurvey()
}

// checkPointDays gives every point its day.
func (m *merge) checkPointDays() {
	stated := int32(noDay)
	if !m.job.Date.IsZero() {
		stated = int32(m.job.Date.Unix() / 86400)
	}
	last := int32(m.now.AddDate(0, 0, 2).Unix() / 86400)
	for i := range m.points {
		p := &m.points[i]
		if p.day == noDay {
			p.day = stated
		}
		switch {
		case p.day == noDay:
			m.ask(p.where, format.Question{Option: "date"}, string(csv.RecordedOn), "points without their day", "nothing", "the day stated: 2027-01-31; or a column \"date\"")
			return
		case p.day > last:
			m.problem(p.where, string(csv.RecordedOn), "a day that is still to come", dateText(p.day), "a day up to today")
			return
		}
	}
}

// runSurvey matches trunks: to rows first, then along the row.
func (m *merge) runSurvey() error {
	blocks, err := m.surveyBlocks()
	if err != nil || m.problems > 0 {
		return err
	}
	if err := m.matchAll(blocks); err != nil || m.problems > 0 {
		return err
	}
	for _, s := range blocks {
		if err := s.checkShift(m.points, Surveyed, nil); err != nil {
			return err
		}
	}
	moved := m.settleShift(blocks)
	if m.problems > 0 {
		return nil
	}
	for _, s := range blocks {
		moved = m.settleErrors(s) || moved
	}
	if moved {
		if err := m.matchAll(blocks); err != nil || m.problems > 0 {
			return err
		}
	}
	for _, s := range blocks {
		if err := m.keepSurvey(s); err != nil {
			return err
		}
	}
	m.tellNowhere(blocks)
	return nil
}

// Chosen by us: a claimed error is not believed where the points scatter aside of
// their rows by three times as much, and by more than trunks stand out of line.
const (
	scatterTimes = 3
	scatterLeast = 0.15 // m
)

// settleErrors holds what receivers claim against the scatter of the points aside
// of their rows: points that claim less get that error, and so do points that
// claim none. It reports whether the points must be matched anew.
func (m *merge) settleErrors(s *surveyBlock) (changed bool) {
	scatter := s.shift.SpreadAsideM
	if scatter == 0 {
		return false
	}
	more, none := 0, 0
	for _, i := range s.points {
		switch p := &m.points[i]; {
		case p.errorM == 0:
			p.errorM = scatter
			none++
		case scatter > max(scatterLeast, scatterTimes*p.errorM):
			p.errorM = scatter
			more++
		}
	}
	nowhere := where{file: 0, feature: format.None}
	if more > 0 {
		m.notice(nowhere, "error", fmt.Sprintf("block %s: %d points claim less than they scatter aside of their rows: taken as %.2f m", s.block.Code, more, scatter))
	}
	if none > 0 {
		m.notice(nowhere, "error", fmt.Sprintf("block %s: %d points claim no error: %.2f m read from their scatter aside of the rows", s.block.Code, none, scatter))
	}
	return more+none > 0
}

// surveyBlocks reads the blocks that points may be of.
func (m *merge) surveyBlocks() (out []*surveyBlock, err error) {
	named, all := map[string]bool{}, false
	for i := range m.points {
		code := m.pointBlock(&m.points[i])
		named[code] = true
		all = all || code == ""
	}
	for code := range named {
		if code != "" && m.byCode[code] == nil {
			m.problem(where{file: 0, feature: format.None}, string(csv.Block), "a block that is not known", format.Quote(code), "the code of a block that is stored")
		}
	}
	for _, b := range m.blocks {
		if !all && !named[b.Code] {
			continue
		}
		s, problem, err := readSurveyBlock(m.ctx, m.tx, b.Block)
		if err != nil {
			return nil, err
		}
		if problem != "" {
			m.problem(where{file: 0, feature: format.None}, string(csv.Block), problem, "", "rows with their line and spacing")
		}
		if s != nil {
			out = append(out, s)
		}
	}
	return out, nil
}

// pointBlock is the code that a point or the job names, "" for none.
func (m *merge) pointBlock(p *pointIn) string {
	if code := m.names.text(p.block); code != "" {
		return code
	}
	return m.job.Block
}

// matchAll matches every point, and gives those that may be of several blocks to
// the one where they fit best.
func (m *merge) matchAll(blocks []*surveyBlock) error {
	type best struct {
		block int32
		rank  float64
	}
	bests := make([]best, len(m.points))
	for i := range bests {
		bests[i] = best{-1, math.Inf(1)}
	}
	for k, s := range blocks {
		if err := m.match(s); err != nil || m.problems > 0 {
			return err
		}
		for j, i := range s.points {
			if r := rankOf(&s.found[j]); r < bests[i].rank {
				bests[i] = best{int32(k), r}
			}
		}
	}
	for k, s := range blocks {
		n := 0
		for j, i := range s.points {
			if bests[i].block == int32(k) {
				s.points[n], s.found[n] = i, s.found[j]
				n++
			}
		}
		s.points, s.found = s.points[:n], s.found[:n]
		s.sortOutTwice()
	}
	return nil
}

// rankOf puts verdicts of different blocks in order: what stands for a place
// before what does not, then the nearest.
func rankOf(v *layout.Verdict) float64 {
	rank := math.Abs(v.OffsetM) + v.BeyondM
	if v.Row < 0 || v.Quality == layout.Outside {
		return rank + 1e6
	}
	return rank
}

// sortOutTwice notes anew which points stand for the same place, now that points
// of other blocks are gone.
func (s *surveyBlock) sortOutTwice() {
	taken := map[[2]int]int{}
	for j := range s.found {
		v := &s.found[j]
		v.Same = -1
		if v.Quality > layout.Notice || v.Number == 0 {
			continue
		}
		key := [2]int{v.Row, v.Number}
		if first, ok := taken[key]; ok {
			v.Same = first
			continue
		}
		taken[key] = j
	}
}

// match matches the points that may be of a block.
func (m *merge) match(s *surveyBlock) (err error) {
	s.points = s.points[:0]
	var fixes []layout.Fix
	for i := range m.points {
		p := &m.points[i]
		if p.addressable && m.job.As == Detections {
			continue // the file names its place
		}
		if code := m.pointBlock(p); code != s.block.Code && (code != "" || !s.bound.Contains(p.at)) {
			continue
		}
		fix := layout.Fix{Point: p.at, ErrorM: p.errorM}
		if label := m.names.text(p.row); label != "" && (m.pointBlock(p) == s.block.Code || len(m.blocks) == 1) {
			r, ok := s.label[label]
			if !ok {
				m.problem(p.where, string(csv.Row), fmt.Sprintf("block %s has no row of this label", s.block.Code), format.Quote(label), "a row that is stored, or nothing")
				return nil
			}
			p.statedRow, fix.Row = r, r+1
		}
		s.points = append(s.points, i)
		fixes = append(fixes, fix)
	}
	if s.found, err = layout.Locate(s.rows, fixes, s.reach); err != nil {
		return fmt.Errorf("block %s: %w", s.block.Code, err)
	}
	for j, i := range s.points {
		m.doubt(&m.points[i], &s.found[j])
	}
	return nil
}

// doubt lowers the quality of a match by what the point says of itself.
func (m *merge) doubt(p *pointIn, v *layout.Verdict) {
	switch {
	case p.fix == fixNone && v.Quality < layout.Poor:
		v.Quality, v.Reason = layout.Poor, "the receiver had no valid position"
	case p.statedRow >= 0 && p.number != noNumber && v.Number != int(p.number) && v.Quality < layout.Review:
		v.Quality, v.Reason = layout.Review, fmt.Sprintf("the file says vine %d, the point lies nearest to vine %d", p.number, v.Number)
	}
}

// tellNowhere lists the points that are near no block.
func (m *merge) tellNowhere(blocks []*surveyBlock) {
	near := make([]bool, len(m.points))
	for _, s := range blocks {
		for _, i := range s.points {
			near[i] = true
		}
	}
	rep := m.report.Points
	for i, ok := range near {
		if ok {
			continue
		}
		rep.Outside++
		rep.list(m.pointItem(&m.points[i], "outside", "near no block"))
	}
	if rep.Outside == rep.Read {
		m.problem(where{file: 0, feature: format.None}, "geometry", "no point lies near a block", fmt.Sprintf("%d points", rep.Read), "points of blocks that are stored; another coordinate system may have to be stated (EPSG:n)")
	}
}
