package work

import (
	"github.com/paulmach/orb/geojson"

	"courson/geo/rate"
)

// ZonesView is a block cut into zones, with their rates where they were asked
// for, as pages and other programs read it.
type ZonesView struct {
	Season    int                        `json:"season"`
	Code      string                     `json:"code"`
	Method    string                     `json:"method"`
	Columns   []rate.Scaling             `json:"columns"`
	Explained float64                    `json:"explained"`
	Kept      float64                    `json:"kept"` // the same after smoothing and snapping
	Changed   int                        `json:"changed"`
	SureBy    string                     `json:"sure_by"`
	Zones     []rate.Zone                `json:"zones"`
	Sure      []SureView                 `json:"sure"`
	Small     []rate.Small               `json:"small"`
	Notes     []string                   `json:"notes"`
	Remedy    *rate.Remedy               `json:"remedy"` // null: all zones are left, or nothing helps
	Advice    *rate.Advice               `json:"advice"`
	Stable    *StableView                `json:"stable"` // null: one column
	Rates     *RatesView                 `json:"rates"`  // null: zones alone
	Ground    *geojson.FeatureCollection `json:"ground"`
}

// SureView counts the vines of a zone by how sure it is that they belong to it.
type SureView struct {
	Zone int `json:"zone"`
	// Vines below 0.5, from there below 0.7, from there below 0.9, and from there up.
	Vines [4]int `json:"vines"`
	None  int    `json:"none"` // without a value
}

// StableView says how zones last from one column to the next.
type StableView struct {
	Vines  int        `json:"vines"`
	Always int        `json:"always"`
	Times  []int      `json:"times"` // entry k: vines whose zone changed k times
	Pairs  []PairView `json:"pairs"`
	Text   []string   `json:"text"`
}

// PairView is two columns side by side.
type PairView struct {
	A       string  `json:"a"`
	B       string  `json:"b"`
	Vines   int     `json:"vines"`
	Changed int     `json:"changed"`
	Rand    float64 `json:"rand"`
}

// RatesView is the rates of all zones.
type RatesView struct {
	Material string          `json:"material"`
	Kind     string          `json:"kind"`
	Aim      string          `json:"aim"`
	Unit     rate.Unit       `json:"unit"`
	Zones    []rate.ZoneRate `json:"zones"`
	AreaM2   float64         `json:"area_m2"`
	Mean     float64         `json:"mean"`
	Total    float64         `json:"total"`
	Measure  string          `json:"measure"`
	Cost     float64         `json:"cost"`
	Uniform  rate.Same       `json:"uniform"`
	Cautions []string        `json:"cautions"`
	Notes    []string        `json:"notes"`
	Terminal []string        `json:"terminal"` // what a terminal would turn down
	Mended   []string        `json:"mended"`   // what is changed before task data are written
}

// View gives what was found in this form.
func (r *Rated) View() *ZonesView {
	z := r.Zones
	v := &ZonesView{Season: r.Stand.Season, Code: r.Block.Code, Method: z.Options.Method.String(), Columns: z.Scale, Explained: z.Explained, Kept: z.Kept, Changed: z.Changed,
		SureBy: z.SureBy, Zones: z.List, Sure: r.sure(), Small: filledList(z.Small), Notes: filledList(z.Notes), Remedy: z.Remedy, Advice: r.Advice, Ground: r.GeoJSON()}
	if r.Stable != nil {
		v.Stable = stableView(r.Stable)
	}
	if p := r.Rates; p != nil {
		v.Rates = &RatesView{p.Material.Name, p.Material.Kind.String(), p.Aim.String(), p.Unit, p.Zones, p.AreaM2, p.Mean, p.Total, p.Measure, p.Cost, p.Uniform, p.Cautions, filledList(p.Notes), []string{}, []string{}}
		mended, faults := r.Terminal()
		for _, n := range mended {
			v.Rates.Mended = append(v.Rates.Mended, n.String())
		}
		for _, fault := range faults {
			v.Rates.Terminal = append(v.Rates.Terminal, fault.Error())
		}
	}
	return v
}

func filledList[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

func (r *Rated) sure() []SureView {
	out := make([]SureView, len(r.Zones.List))
	for k := range out {
		out[k].Zone = k + 1
	}
	for i, p := range r.Zones.Sure {
		switch k := int(r.Zones.Zone[i]) - 1; {
		case k < 0 || !r.Stand.Condition[i].Living():
		case p < 0:
			out[k].None++
		default:
			bin := 0
			for _, limit := range [...]float32{0.5, 0.7, 0.9} {
				if p >= limit {
					bin++
				}
			}
			out[k].Vines[bin]++
		}
	}
	return out
}

func stableView(s *rate.Stable) *StableView {
	v := &StableView{Vines: s.Vines, Always: s.Always, Times: make([]int, len(s.Seasons)), Text: filledList(s.Text)}
	for _, n := range s.Times {
		if int(n) < len(v.Times) {
			v.Times[n]++
		}
	}
	for i := range s.Pairs {
		p := &s.Pairs[i]
		v.Pairs = append(v.Pairs, PairView{s.Seasons[p.A].Name, s.Seasons[p.B].Name, p.Vines, p.Changed, p.Rand})
	}
	return v
}
