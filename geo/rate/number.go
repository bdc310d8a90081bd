package rate

import (
	"fmt"

	"courson/geo/stand"
)

// Index says how well a number of zones suits.
type Index struct {
	Zones     int     `json:"zones"`
	Explained float64 `json:"explained"` // share of the variance between zones, 0 to 1, by the method
	// Of fuzzy c-means, whatever the method: least where zones are clearest.
	Performance     float64 `json:"performance"`      // FPI
	Entropy         float64 `json:"entropy"`          // NCE, H / (1 - k/n)
	ModifiedEntropy float64 `json:"modified_entropy"` // H / ln k
	Refused         string  `json:"refused"`          // why there are none; else empty
}

// Advice is what the indices say. It is no verdict: two zones that one can
// manage are better than four that one cannot.
type Advice struct {
	Indices       []Index  `json:"indices"`        // for 2 to 6 zones
	ByPerformance int      `json:"by_performance"` // zones with the least FPI; 0 none
	ByEntropy     int      `json:"by_entropy"`     // with the least NCE
	Text          []string `json:"text"`
	Points        int      `json:"points"` // vines that the indices rest on
}

// Number works out the indices for 2 to 6 zones, on at most 5,000 vines drawn by
// the seed. o.Zones is not looked at. Errors as of Make.
func Number(s *stand.Stand, columns []Column, o Options) (*Advice, error) {
	o.Zones = 2
	o, err := o.withDefaults()
	if err != nil {
		return nil, err
	}
	f, err := read(s, columns)
	if err != nil {
		return nil, err
	}
	f = f.thinned(o.Seed)
	a := &Advice{Points: len(f.vines)}
	for k := 2; k <= MostZones; k++ {
		a.Indices = append(a.Indices, indexOf(s, f, o, k))
	}
	a.choose()
	return a, nil
}

// indexOn is on how many vines indices rest; the mean of so many is known to one
// or two per cent of the standard deviation.
const indexOn = 5_000

// thinned keeps one vine of each of indexOn equal stretches.
func (f *features) thinned(seed uint64) *features {
	n := len(f.vines)
	if n <= indexOn {
		return f
	}
	t := *f
	t.vines, t.z = nil, nil
	for k := range indexOn {
		lo, hi := k*n/indexOn, (k+1)*n/indexOn
		i := lo + int((seed+uint64(k)*0x9e3779b97f4a7c15)>>33)%(hi-lo)
		t.vines, t.z = append(t.vines, f.vines[i]), append(t.z, f.z[i*f.d:i*f.d+f.d]...)
	}
	return &t
}

func indexOf(s *stand.Stand, f *features, o Options, k int) Index {
	x := Index{Zones: k}
	fuzzy, err := FuzzyMeans(f.z, f.d, k, o.Fuzziness, o.Starts, o.Seed)
	if err != nil {
		x.Refused = err.Error()
		return x
	}
	o.Zones = k
	m := &maker{s: s, f: f, o: o}
	if o.Method == FuzzyMethod {
		m.centres = fuzzy.Centres
	} else if m.centres, err = m.findCentres(k); err != nil {
		x.Refused = err.Error()
		return x
	}
	m.sortCentres()
	m.sortVines()
	x.Explained = m.share
	x.Performance, x.Entropy, x.ModifiedEntropy = fuzzy.Performance(), fuzzy.Entropy(), fuzzy.ModifiedEntropy()
	return x
}

func (a *Advice) choose() {
	var performance, entropy *Index
	for i := range a.Indices {
		x := &a.Indices[i]
		if x.Refused != "" {
			continue
		}
		if performance == nil || x.Performance < performance.Performance {
			performance = x
		}
		if entropy == nil || x.Entropy < entropy.Entropy {
			entropy = x
		}
	}
	if performance == nil {
		a.Text = append(a.Text, "There are too few different values for zones: "+a.Indices[0].Refused+".")
		return
	}
	a.ByPerformance, a.ByEntropy = performance.Zones, entropy.Zones
	if a.ByPerformance == a.ByEntropy {
		a.Text = append(a.Text, fmt.Sprintf("Zones are clearest with %d: both the fuzziness performance index (%.3f) and the normalised classification entropy (%.3f) are least.", a.ByPerformance, performance.Performance, entropy.Entropy))
	} else {
		a.Text = append(a.Text, fmt.Sprintf("The indices disagree: the fuzziness performance index is least with %d zones (%.3f), the normalised classification entropy with %d (%.3f).", a.ByPerformance, performance.Performance, a.ByEntropy, entropy.Entropy))
	}
	if x := a.Indices[0]; x.Refused == "" {
		a.Text = append(a.Text, fmt.Sprintf("2 zones explain %.0f %% of the variance between vines.", 100*x.Explained))
	}
	a.Text = append(a.Text, "2 or 3 zones are usual: choose as many as you would manage differently (common practice).")
}
