package work

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"courson/geo/layout"
	"courson/geo/replant"
)

// PointsReport tells what became of points that were held against the places on
// the map.
type PointsReport struct {
	Kind Kind `json:"kind"`
	Read int  `json:"read"`
	// Of the points: those taken for a place, surely or with notice, since they are
	// not close to it or not exact; of both, those of a place that another point
	// stands for; those that a person must look at; those that stand for no place;
	// those near no block.
	Sure     int `json:"sure"`
	Noticed  int `json:"noticed"`
	Twice    int `json:"twice"`
	Doubtful int `json:"doubtful"`
	Aside    int `json:"aside"`
	Outside  int `json:"outside"`
	// Of the places within measured stretches: those for which no point was taken.
	Covered int `json:"covered"`
	Without int `json:"without"`

	Made      int `json:"made"` // points kept
	Replaced  int `json:"replaced"`
	Unchanged int `json:"unchanged"`

	Shift  *ShiftOffer   `json:"shift,omitempty"` // nil: none found
	Blocks []BlockPoints `json:"blocks"`

	Items       []PointItem `json:"items"` // the first of those that are doubtful or set aside
	MoreItems   int         `json:"more_items,omitempty"`
	NoPoint     []string    `json:"no_point"` // addresses of the first places without one
	MoreNoPoint int         `json:"more_no_point,omitempty"`
}

// BlockPoints is the same of one block.
type BlockPoints struct {
	Code     string        `json:"code"`
	Day      replant.Day   `json:"day"`
	Became   string        `json:"became"` // made, replaced, unchanged
	Read     int           `json:"read"`
	Sure     int           `json:"sure"`
	Noticed  int           `json:"noticed"`
	Twice    int           `json:"twice"`
	Doubtful int           `json:"doubtful"`
	Aside    int           `json:"aside"`
	Places   int           `json:"places"`
	Rows     int           `json:"rows"` // with a measured stretch
	Covered  int           `json:"covered"`
	Without  int           `json:"without"`
	Shift    replant.Shift `json:"shift"`

	// How far points taken lie from their places at most, m.
	MostAlongM float64 `json:"most_along_m"`
	MostAsideM float64 `json:"most_aside_m"`
}

// ShiftOffer is how all points seem to be moved. It is applied only where that is
// answered.
type ShiftOffer struct {
	EastM    float64  `json:"east_m"`
	NorthM   float64  `json:"north_m"`
	Blocks   []string `json:"blocks"`
	Text     string   `json:"text"`
	TakenOff bool     `json:"taken_off"`
}

// PointItem is one point that a person should look at.
type PointItem struct {
	Became  string  `json:"became"` // doubtful, twice, set aside, outside
	Why     string  `json:"why"`
	Name    string  `json:"name,omitempty"`
	Lon     float64 `json:"lon"`
	Lat     float64 `json:"lat"`
	Fix     string  `json:"fix,omitempty"`
	ErrorM  float64 `json:"error_m,omitempty"`
	Nearest string  `json:"nearest,omitempty"` // address of the nearest place
	Next    string  `json:"next,omitempty"`    // of the other place, or the other row, that it may be of
	File    string  `json:"file"`
	Feature *int    `json:"feature,omitempty"`
	Line    int     `json:"line,omitempty"`
}

func (r *PointsReport) list(it PointItem) {
	if len(r.Items) >= mostItems {
		r.MoreItems++
		return
	}
	r.Items = append(r.Items, it)
}

func (r *PointsReport) without(address string) {
	if len(r.NoPoint) >= mostItems {
		r.MoreNoPoint++
		return
	}
	r.NoPoint = append(r.NoPoint, address)
}

func (r *PointsReport) add(b BlockPoints) {
	r.Sure, r.Noticed, r.Twice = r.Sure+b.Sure, r.Noticed+b.Noticed, r.Twice+b.Twice
	r.Doubtful, r.Aside = r.Doubtful+b.Doubtful, r.Aside+b.Aside
	r.Covered, r.Without = r.Covered+b.Covered, r.Without+b.Without
	if i := slices.IndexFunc(r.Blocks, func(o BlockPoints) bool { return o.Code == b.Code && o.Day == b.Day }); i < 0 {
		r.Blocks = append(r.Blocks, b)
	}
}

// count counts a point that was taken for a place.
func (b *BlockPoints) count(v *layout.Verdict) {
	if v.Quality == layout.Clear {
		b.Sure++
	} else {
		b.Noticed++
	}
	if v.Same >= 0 {
		b.Twice++
	}
	b.MostAlongM = max(b.MostAlongM, math.Abs(v.AlongM))
	b.MostAsideM = max(b.MostAsideM, math.Abs(v.OffsetM))
}

// pointItem describes a point.
func (m *merge) pointItem(p *pointIn, became, why string) PointItem {
	it := PointItem{Became: became, Why: why, Name: m.names.text(p.name), Lon: p.at[0], Lat: p.at[1], Fix: p.fix.String(), ErrorM: p.errorM, File: m.fileName(p.file), Line: p.line}
	if p.feature >= 0 {
		it.Feature = &p.feature
	}
	return it
}

// matchItem describes a point and what it may stand for.
func (m *merge) matchItem(s *surveyBlock, p *pointIn, v *layout.Verdict, became, why string) PointItem {
	it := m.pointItem(p, became, why)
	if at := s.place(v.Row, v.Number); at >= 0 {
		it.Nearest = s.g.Address(at).String()
	} else if v.Row >= 0 {
		it.Nearest = s.block.Code + "/" + s.g.Rows[s.of[v.Row]].Label
	}
	between := v.NextRow >= 0 && v.NextOffsetM < s.reach.RowM
	switch at := s.place(v.Row, v.NextNumber); {
	case strings.HasPrefix(v.Reason, "between two places") && at >= 0:
		it.Next = s.g.Address(at).String()
	case v.Quality >= layout.Review && between:
		it.Next = s.block.Code + "/" + s.g.Rows[s.of[v.NextRow]].Label
	}
	return it
}

// write tells the same to people.
func (r *PointsReport) write(t *textWriter) {
	if r.Kind == Surveyed {
		t.line("points: %d sure, %d taken with notice (not close to their place, or not exact), %d of both of a vine that another point stands for, %d doubtful, %d set aside, %d near no block", r.Sure, r.Noticed, r.Twice, r.Doubtful, r.Aside, r.Outside)
		t.line("places: %d of %d within measured stretches have no point", r.Without, r.Covered)
	} else {
		t.line("detections: %d at a place, %d doubtful, %d set aside, %d near no block", r.Sure, r.Doubtful, r.Aside, r.Outside)
	}
	for _, b := range r.Blocks {
		if r.Kind == Surveyed {
			t.line("  block %s, %s: %d points for %d places in %d rows, %d without a point; at most %.2f m along and %.2f m aside; %s. %s", b.Code, b.Day, b.Read, b.Places, b.Rows, b.Without, b.MostAlongM, b.MostAsideM, b.Became, b.Shift.Text)
			continue
		}
		t.line("  block %s, %s: %d detections, %d at a place; %s", b.Code, b.Day, b.Read, b.Sure, b.Became)
	}
	for _, it := range r.Items {
		t.line("  %s", it)
	}
	if r.MoreItems > 0 {
		t.line("  and %d more", r.MoreItems)
	}
	if len(r.NoPoint) > 0 {
		more := ""
		if r.MoreNoPoint > 0 {
			more = fmt.Sprintf(" and %d more", r.MoreNoPoint)
		}
		t.line("  no point: %s%s", strings.Join(r.NoPoint, ", "), more)
	}
}

// String tells of a point in one line.
func (it PointItem) String() string {
	text := fmt.Sprintf("%s: ", it.Became)
	if it.Name != "" {
		text += it.Name + " "
	}
	text += fmt.Sprintf("at %.8f %.8f", it.Lon, it.Lat)
	if it.Nearest != "" {
		text += ", nearest " + it.Nearest
	}
	if it.Next != "" {
		text += ", else " + it.Next
	}
	switch {
	case it.Feature != nil:
		text += fmt.Sprintf(" (%s, feature %d)", it.File, *it.Feature)
	case it.Line > 0:
		text += fmt.Sprintf(" (%s, line %d)", it.File, it.Line)
	}
	return text + because(it.Why)
}
