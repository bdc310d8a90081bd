package replant

import "fmt"

// Said is the last that one source said of a position, and what would hold by that
// source alone.
type Said struct {
	Source Source  `json:"source"`
	Day    Day     `json:"day"`
	By     string  `json:"by"` // who, or which survey or images
	Text   string  `json:"text"`
	Score  float32 `json:"score,omitempty"` // of a detection
	State  State   `json:"state"`           // by this source alone
}

// Said tells what each source said of a position, in the order of the sources;
// those that said nothing are left out.
func (f *Findings) Said(i int) (out []Said) {
	by := f.BySource(i)
	add := func(s Said) {
		s.State = by[s.Source].State
		out = append(out, s)
	}
	w := f.w
	if list := w.sightings.of(i); len(list) > 0 {
		s := &w.e.Sightings[list[len(list)-1]]
		add(Said{Source: FromCrews, Day: s.Day, By: s.By, Text: "seen " + stateOf(s).String() + ifText(s.Confirmed, ", after a look to decide")})
	}
	if list := w.records.of(i); len(list) > 0 {
		r := &w.e.Records[list[len(list)-1]]
		add(Said{Source: FromRecords, Day: r.Day, Text: r.Kind.String()})
	}
	if s, ok := w.surveySaid(i); ok {
		add(s)
	}
	if list := w.detections.of(i); len(list) > 0 {
		d := &w.e.Detections[list[len(list)-1]]
		add(Said{Source: FromDetections, Day: d.Day, By: d.Source, Text: d.text(), Score: d.Score})
	}
	return out
}

// surveySaid tells what the latest survey of a place found.
func (w *work) surveySaid(i int) (Said, bool) {
	trunk, cover, doubt := w.trunk[i]-1, w.covered[i]-1, w.doubt[i]-1
	day := func(k int32) Day {
		if k < 0 {
			return 0
		}
		return w.trunkDay(k)
	}
	said := func(k int32, text string) (Said, bool) {
		s := &w.e.Surveys[k]
		return Said{Source: FromSurveys, Day: s.Day, By: s.Name, Text: text}, true
	}
	switch {
	case trunk >= 0 && (cover < 0 || day(trunk) >= w.e.Surveys[cover].Day):
		t := &w.e.Trunks[trunk]
		return said(t.Survey, fmt.Sprintf("a trunk %.2f m along and %.2f m aside of the place (%s)", t.AlongM, t.AsideM, t.Fit))
	case cover >= 0 && doubt >= 0 && day(doubt) == w.e.Surveys[cover].Day:
		return said(cover, fmt.Sprintf("no sure trunk, a doubtful point (%s)", w.e.Trunks[doubt].Fit))
	case cover >= 0 && w.sure(i, cover):
		return said(cover, "no trunk, where every trunk was measured")
	case cover >= 0:
		return said(cover, "no trunk, among points that are not good enough to tell")
	case doubt >= 0:
		return said(w.e.Trunks[doubt].Survey, fmt.Sprintf("a doubtful point (%s)", w.e.Trunks[doubt].Fit))
	}
	return Said{}, false
}
