package server

import (
	"math"

	"courson/geo/krige"
	"courson/geo/vigour"
	"courson/geo/vine"
	"courson/server/findings"
	"courson/server/work"
)

// findingsJSON is everything that was found of a block in a season.
type findingsJSON struct {
	Block    vine.ID        `json:"block"`
	Code     string         `json:"code"`
	Name     string         `json:"name"`
	Variety  string         `json:"variety"`
	Planted  int            `json:"planted"`
	Leaf     int            `json:"leaf"`
	Season   int            `json:"season"`
	State    findings.State `json:"state"`
	Progress float64        `json:"progress"`
	Found    string         `json:"found"`
	Detail   string         `json:"detail"`
	Vigour   *vigourJSON    `json:"vigour"`
	Patches  *patchesJSON   `json:"patches"`
	Likely   *likelyJSON    `json:"likely"`
	Change   *changeJSON    `json:"change"`
}

type vigourJSON struct {
	Measured     int                  `json:"measured"`
	Calibrated   int                  `json:"calibrated"`
	Estimated    int                  `json:"estimated"`
	None         int                  `json:"none"`
	MeanKgM      float64              `json:"mean_kg_m"`
	SDKgM        float64              `json:"sd_kg_m"`
	Limits       [4]float64           `json:"limits"`
	Classes      [6]int               `json:"classes"`
	Histogram    []binJSON            `json:"histogram"`
	Calibrations []vigour.Calibration `json:"calibrations"`
	Kriging      krigingJSON          `json:"kriging"`
	Notes        []string             `json:"notes"`
	Unlikely     []oddityJSON         `json:"unlikely"`
	CaneMeanG    *float64             `json:"cane_mean_g"`
}

type krigingJSON struct {
	vigour.Kriging
	Fit fitJSON `json:"fit"`
}

type fitJSON struct {
	Model      string  `json:"model"`
	Nugget     float64 `json:"nugget"`
	PartSill   float64 `json:"psill"`
	RangeM     float64 `json:"range"`
	Anisotropy float64 `json:"anisotropy"` // range across the rows by that along them
}

type binJSON struct {
	From       float64 `json:"from"`
	To         float64 `json:"to"`
	Measured   int     `json:"measured"`
	Calibrated int     `json:"calibrated"`
	Estimated  int     `json:"estimated"`
}

type oddityJSON struct {
	ID       vine.ID       `json:"id"`
	Address  string        `json:"address"`
	Quantity vine.Quantity `json:"quantity"`
	Value    float64       `json:"value"`
	Unit     string        `json:"unit"`
	Why      string        `json:"why"`
}

// vigourOf describes the vigour of a block.
func vigourOf(f *work.Findings) *vigourJSON {
	v := f.Vigour
	out := &vigourJSON{Measured: v.Counts[vigour.Measured], Calibrated: v.Counts[vigour.Calibrated], Estimated: v.Counts[vigour.Estimated],
		Limits: v.Limits, Calibrations: v.Calibrations, Kriging: krigingJSON{v.Kriging, fitOf(v.Kriging.Fit)}, Notes: v.Notes,
		Histogram: histogramOf(v), Unlikely: []oddityJSON{}}
	if out.Calibrations == nil {
		out.Calibrations = []vigour.Calibration{}
	}
	if out.Notes == nil {
		out.Notes = []string{}
	}
	if out.Kriging.Leaves == nil {
		out.Kriging.Leaves = []vigour.LeafLevel{}
	}
	var all, canes moments
	for i, c := range f.Stand.Condition {
		if !c.Living() {
			continue
		}
		out.Classes[min(v.Class[i], 5)]++
		if v.Basis[i] == vigour.None {
			out.None++
			continue
		}
		all.add(float64(v.KgPerM[i]))
		if v.CaneG[i] >= 0 {
			canes.add(float64(v.CaneG[i]))
		}
	}
	out.MeanKgM, out.SDKgM = all.mean, all.sd()
	if canes.n > 0 {
		out.CaneMeanG = &canes.mean
	}
	for _, o := range v.Unlikely {
		out.Unlikely = append(out.Unlikely, oddityJSON{f.Stand.Ground.ID[o.Vine], f.Stand.Ground.Address(o.Vine).String(), o.Quantity, o.Value, o.Quantity.Unit(), o.Why})
	}
	return out
}

func fitOf(f krige.Fit) fitJSON {
	m := f.Model
	return fitJSON{Model: string(m.Shape), Nugget: m.Nugget, PartSill: m.Sill, RangeM: m.Range, Anisotropy: m.Ratio}
}

// binKg is the width of the bars of the histogram, kg/m.
const binKg = 0.05

// histogramOf counts vines by vigour and by where the value is from.
func histogramOf(v *vigour.Result) []binJSON {
	out := []binJSON{}
	for i, basis := range v.Basis {
		if basis == vigour.None {
			continue
		}
		k := max(0, int(math.Floor(float64(v.KgPerM[i])/binKg)))
		k = min(k, 99)
		for len(out) <= k {
			n := float64(len(out))
			out = append(out, binJSON{From: math.Round(n*binKg*100) / 100, To: math.Round((n+1)*binKg*100) / 100})
		}
		switch basis {
		case vigour.Measured:
			out[k].Measured++
		case vigour.Calibrated:
			out[k].Calibrated++
		default:
			out[k].Estimated++
		}
	}
	return out
}

// moments keeps mean and spread as values come.
type moments struct {
	n        int
	mean, m2 float64
}

func (m *moments) add(v float64) {
	m.n++
	d := v - m.mean
	m.mean += d / float64(m.n)
	m.m2 += d * (v - m.mean)
}

// sd is the standard deviation of a sample, 0 below two values.
func (m *moments) sd() float64 {
	if m.n < 2 {
		return 0
	}
	return math.Sqrt(m.m2 / float64(m.n-1))
}

type patchesJSON struct {
	Quantity   vine.Quantity `json:"quantity"`
	Label      string        `json:"label"`
	Unit       string        `json:"unit"`
	Rate       float64       `json:"rate"`
	Refused    string        `json:"refused"`
	Moran      *moranJSON    `json:"moran"`
	Structured bool          `json:"structured"`
	Judged     int           `json:"judged"`
	Tested     int           `json:"tested"`
	Scattered  int           `json:"scattered"`
	List       []patchJSON   `json:"list"`
}

type moranJSON struct {
	I        float64 `json:"i"`
	Expected float64 `json:"expected"`
	Z        float64 `json:"z"`
	P        float64 `json:"p"`
	N        int     `json:"n"`
}

type patchJSON struct {
	ID             string     `json:"id"`
	Kind           string     `json:"kind"`
	Vines          int        `json:"vines"`
	Found          int        `json:"found"`
	Living         int        `json:"living"`
	Gaps           int        `json:"gaps"`
	GapShare       float64    `json:"gap_share"`
	Unseen         int        `json:"unseen"`
	Hectares       float64    `json:"hectares"`
	RowM           float64    `json:"row_m"`
	Expected       float64    `json:"expected"`
	Mean           float64    `json:"mean"`
	Shortfall      float64    `json:"shortfall"`
	ShortfallShare float64    `json:"shortfall_share"`
	LeafMedian     float64    `json:"leaf_median"`
	LeafLeast      int        `json:"leaf_least"`
	LeafMost       int        `json:"leaf_most"`
	Z              float64    `json:"z"`
	Q              float64    `json:"q"`
	Center         [2]float64 `json:"center"`
	Bounds         [4]float64 `json:"bounds"`
	Since          *sinceJSON `json:"since"`
}

type sinceJSON struct {
	Pairs       int     `json:"pairs"`
	Percent     float64 `json:"percent"`
	RestPercent float64 `json:"rest_percent"`
}

// patchesOf describes what was tested, nil where nothing was measured.
func patchesOf(f *work.Findings) *patchesJSON {
	p := f.Patches
	if p == nil {
		return nil
	}
	out := &patchesJSON{Quantity: f.Tested.Quantity, Label: f.Tested.Label, Unit: f.Tested.Unit, Rate: f.Search.Rate,
		Judged: p.Judged, Scattered: p.Scattered, List: []patchJSON{}}
	if p.Refused != nil {
		out.Refused = p.Refused.Error()
		return out
	}
	out.Structured = p.Structured()
	out.Moran = &moranJSON{p.Moran.I, p.Moran.Expected, p.Moran.Z, p.Moran.P, p.Moran.N}
	for _, tested := range p.Tested {
		if tested {
			out.Tested++
		}
	}
	for i := range p.Patches {
		out.List = append(out.List, onePatch(f, i))
	}
	return out
}

func onePatch(f *work.Findings, i int) patchJSON {
	p := &f.Patches.Patches[i]
	d := f.PatchPlace(i)
	j := patchJSON{ID: d.ID, Kind: p.Kind.String(), Vines: len(p.Vines), Found: p.Found, Living: p.Living, Gaps: p.Gaps, GapShare: p.GapShare(),
		Unseen: p.Unseen, Hectares: p.Hectares(), RowM: p.RowM, Expected: p.Expected, Mean: p.Mean, Shortfall: p.Shortfall,
		ShortfallShare: p.ShortfallShare, LeafMedian: p.LeafMedian, LeafLeast: p.LeafLeast, LeafMost: p.LeafMost, Z: p.Z, Q: p.Q,
		Center: d.Center, Bounds: d.Bounds}
	if p.Since != nil {
		j.Since = &sinceJSON{p.Since.Pairs, p.Since.Percent, p.Since.RestPercent}
	}
	return j
}

type likelyJSON struct {
	Refused  string            `json:"refused"`
	LimitKgM float64           `json:"limit_kg_m"`
	Level    float64           `json:"level"`
	Measured int               `json:"measured"`
	List     []likelyPatchJSON `json:"list"`
}

type likelyPatchJSON struct {
	ID               string     `json:"id"`
	Vines            int        `json:"vines"`
	Estimated        int        `json:"estimated"`
	Measured         int        `json:"measured"`
	Living           int        `json:"living"`
	Gaps             int        `json:"gaps"`
	Hectares         float64    `json:"hectares"`
	RowM             float64    `json:"row_m"`
	Probability      float64    `json:"probability"`
	LeastProbability float64    `json:"least_probability"`
	Center           [2]float64 `json:"center"`
	Bounds           [4]float64 `json:"bounds"`
}

// likelyOf describes areas that a sample makes likely to be weak; nil where
// every vine was seen.
func likelyOf(f *work.Findings) *likelyJSON {
	l := f.Likely
	if l == nil {
		return nil
	}
	out := &likelyJSON{LimitKgM: f.LimitKg, Level: f.Search.Level, Measured: l.Measured, List: []likelyPatchJSON{}}
	if l.Refused != nil {
		out.Refused = l.Refused.Error()
	}
	for i := range l.Patches {
		p, d := &l.Patches[i], f.LikelyPlace(i)
		out.List = append(out.List, likelyPatchJSON{ID: d.ID, Vines: len(p.Vines), Estimated: p.Estimated, Measured: p.Measured, Living: p.Living,
			Gaps: p.Gaps, Hectares: p.Hectares(), RowM: p.RowM, Probability: p.Probability, LeastProbability: p.LeastProbability,
			Center: d.Center, Bounds: d.Bounds})
	}
	return out
}

type changeJSON struct {
	Since      int           `json:"since"`
	Quantity   vine.Quantity `json:"quantity"`
	Label      string        `json:"label"`
	Unit       string        `json:"unit"`
	Ranks      bool          `json:"ranks"`
	Why        string        `json:"why"`
	Pairs      int           `json:"pairs"`
	Lost       int           `json:"lost"`
	Replanted  int           `json:"replanted"`
	All        groupJSON     `json:"all"`
	ByLeaf     []groupJSON   `json:"by_leaf"`
	ByCultivar []groupJSON   `json:"by_cultivar"`
}

// changeJSONOf describes a change, nil where there is none.
func changeJSONOf(c *work.Change) *changeJSON {
	if c == nil {
		return nil
	}
	out := &changeJSON{Since: c.Since, Quantity: c.Quantity.Quantity, Label: c.Quantity.Label, Unit: c.Quantity.Unit, Ranks: c.Ranks, Why: c.Why,
		All: groupOf(c.All), ByLeaf: groupsOf(c.ByLeaf), ByCultivar: groupsOf(c.ByCultivar)}
	for _, b := range c.Blocks {
		out.Pairs += b.Pairs
		out.Lost += b.Lost
		out.Replanted += b.Replanted
	}
	return out
}
