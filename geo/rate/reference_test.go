package rate

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The figures of this file: best partitions by enumeration of all of them or by
// an independent exact method, R 4.2.2 (kmeans; classInt 0.4-9; e1071 1.7-13
// cmeans; cluster 2.1.4) and scikit-learn 1.2.1; see testdata/README.md.

type naturalCase struct {
	K        int       `json:"k"`
	WithinSS float64   `json:"within_ss"`
	Sizes    []int     `json:"sizes"`
	Upper    []float64 `json:"upper_bounds"`
	Means    []float64 `json:"means"`
	GVF      float64   `json:"gvf"`
}

type fuzzyCase struct {
	M           float64     `json:"m"`
	Start       [][]float64 `json:"start"`
	Centres     [][]float64 `json:"centres"`
	Membership  [][]float64 `json:"membership"`
	Objective   float64     `json:"objective"`
	Coefficient float64     `json:"partition_coefficient"`
	Entropy     float64     `json:"partition_entropy_nat"`
	FPI         float64     `json:"FPI"`
	MPE         float64     `json:"MPE"`
	NCE         float64     `json:"NCE_H_over_1_minus_c_over_n"`
}

type expected struct {
	Oned struct {
		X       []float64     `json:"x"`
		TotalSS float64       `json:"total_ss"`
		Optimum []naturalCase `json:"optimum"`
	} `json:"oned"`
	Twod struct {
		Points   [][]float64 `json:"points"`
		WithinSS float64     `json:"within_ss"`
		Centres  [][]float64 `json:"centres"`
	} `json:"twod"`
	Bad struct {
		Start    [][]float64 `json:"start"`
		WithinSS float64     `json:"within_ss"`
		Labels   []int       `json:"labels"`
	} `json:"twod_lloyd_bad_start"`
	Fuzzy2D []fuzzyCase `json:"fcm_2d"`
	Fuzzy1D []fuzzyCase `json:"fcm_1d_sorted_x"`
}

func readExpected(t *testing.T) (e expected) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", "expected.json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &e))
	require.Len(t, e.Oned.X, 18)
	return e
}

func readColumn(t *testing.T, name string, parts ...string) (out []float64) {
	t.Helper()
	f, err := os.Open(filepath.Join(parts...))
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	at := -1
	for i, h := range lines[0] {
		if h == name {
			at = i
		}
	}
	require.GreaterOrEqual(t, at, 0, name)
	for _, line := range lines[1:] {
		v, err := strconv.ParseFloat(line[at], 64)
		require.NoError(t, err)
		out = append(out, v)
	}
	return out
}

func flat(points [][]float64) (out []float64) {
	for _, p := range points {
		out = append(out, p...)
	}
	return out
}

func TestNaturalBreaks_EqualsEnumeration(t *testing.T) {
	e := readExpected(t)
	got, err := NaturalBreaks(e.Oned.X, 6)
	require.NoError(t, err)
	require.Len(t, got, 6)
	for i, want := range e.Oned.Optimum {
		n := got[i]
		require.Equal(t, want.K, len(n.Sizes))
		assert.InDelta(t, want.WithinSS, n.WithinSS, 1e-12)
		assert.InDelta(t, e.Oned.TotalSS, n.TotalSS, 1e-12)
		assert.Equal(t, want.Sizes, n.Sizes)
		assert.Equal(t, want.Upper, n.Upper)
		assert.InDeltaSlice(t, want.Means, n.Means, 1e-12)
		assert.InDelta(t, want.GVF, n.Explained(), 1e-10)
	}
}

// Jenks' Illinois data; classInt's styles "fisher" and "jenks" reach the same.
func TestNaturalBreaks_Illinois(t *testing.T) {
	x := readColumn(t, "jenks71", "testdata", "jenks71.csv")
	require.Len(t, x, 102)
	got, err := NaturalBreaks(x, 7)
	require.NoError(t, err)
	for _, want := range []naturalCase{
		{2, 25252.4223053, []int{73, 29}, []float64{64.28, 155.3}, nil, 0.611927564903},
		{3, 12217.8629058, []int{37, 51, 14}, []float64{46.13, 80.45, 155.3}, nil, 0.812239168495},
		{4, 6137.97094911, []int{35, 43, 19, 5}, []float64{41.2, 68.45, 100.1, 155.3}, nil, 0.90567331308},
		{5, 4466.76177362, []int{35, 33, 18, 11, 5}, []float64{41.2, 60.66, 77.29, 100.1, 155.3}, nil, 0.931356006266},
		{6, 3270.81000105, []int{10, 25, 33, 18, 11, 5}, []float64{28.71, 41.2, 60.66, 77.29, 100.1, 155.3}, nil, 0.949735071491},
		{7, 2268.28200105, []int{10, 25, 33, 18, 11, 4, 1}, []float64{28.71, 41.2, 60.66, 77.29, 100.1, 131.5, 155.3}, nil, 0.965141652195},
	} {
		n := got[want.K-1]
		assert.InEpsilon(t, want.WithinSS, n.WithinSS, 1e-9)
		assert.Equal(t, want.Sizes, n.Sizes)
		assert.Equal(t, want.Upper, n.Upper)
		assert.InDelta(t, want.GVF, n.Explained(), 1e-10)
	}
}

// Wheat yields of Mercer and Hall, J. Agric. Sci. 4, 1911; exact dynamic
// programming (simple-statistics 7.12.1 ckmeans and our own reference).
func TestNaturalBreaks_Wheat(t *testing.T) {
	x := readColumn(t, "yield", "..", "..", "testdata", "autocorrelation", "wheat-mercer-hall-1911.csv")
	require.Len(t, x, 500)
	got, err := NaturalBreaks(x, 6)
	require.NoError(t, err)
	for _, want := range []naturalCase{
		{2, 36.0687588406, []int{270, 230}, []float64{3.97, 5.16}, nil, 0.6558327008},
		{3, 18.9590107977, []int{120, 219, 161}, []float64{3.61, 4.17, 5.16}, nil, 0.8190935382},
		{4, 11.7800550108, []int{93, 180, 154, 73}, []float64{3.53, 3.99, 4.43, 5.16}, nil, 0.8875949756},
		{5, 7.65986516131, []int{61, 134, 139, 124, 42}, []float64{3.41, 3.8, 4.15, 4.56, 5.16}, nil, 0.926909736},
		{6, 5.37534699791, []int{41, 104, 128, 112, 88, 27}, []float64{3.3, 3.68, 3.99, 4.3, 4.66, 5.16}, nil, 0.9487085578},
	} {
		n := got[want.K-1]
		assert.InEpsilon(t, want.WithinSS, n.WithinSS, 1e-9)
		assert.Equal(t, want.Sizes, n.Sizes)
		assert.Equal(t, want.Upper, n.Upper)
		assert.InDelta(t, want.GVF, n.Explained(), 1e-9)
	}
}

func TestKMeans_EqualsBestOfAllPartitions(t *testing.T) {
	e := readExpected(t)
	z := flat(e.Twod.Points)
	for seed := range uint64(50) {
		p, err := KMeans(z, 2, 3, 10, seed)
		require.NoError(t, err)
		require.InDelta(t, e.Twod.WithinSS, p.WithinSS, 1e-11, "seed %d", seed)
		for c := range 3 { // members 1-4, 5-8, 9-11
			first := []int{0, 4, 8}[c]
			assert.InDeltaSlice(t, e.Twod.Centres[c], p.Centres[p.Class[first]], 1e-12)
			for i := first; i < min(first+4, 11); i++ {
				assert.Equal(t, p.Class[first], p.Class[i])
			}
		}
	}
}

// Lloyd's algorithm from a bad start stays in a local minimum: restarts matter.
func TestKMeans_BadStart(t *testing.T) {
	e := readExpected(t)
	p := &Partition{Centres: e.Bad.Start}
	p.run(flat(e.Twod.Points), 2, 0)
	assert.InDelta(t, e.Bad.WithinSS, p.WithinSS, 1e-10)
	for i, want := range e.Bad.Labels {
		assert.Equal(t, uint8(want-1), p.Class[i])
	}
}

func TestFuzzyMeans_EqualsReference(t *testing.T) {
	e := readExpected(t)
	try := func(z []float64, d int, want fuzzyCase) {
		for _, f := range []*Fuzzy{fuzzyFrom(z, d, want.Start, want.M), fromKMeans(t, z, d, len(want.Start), want.M)} {
			order := make([]int, len(want.Centres))
			for c := range order {
				order[c], _ = nearest(want.Centres[c], f.Centres)
				assert.InDeltaSlice(t, want.Centres[c], f.Centres[order[c]], 1e-8)
			}
			for i, shares := range want.Membership {
				for c, share := range shares {
					assert.InDelta(t, share, f.Membership[i*len(order)+order[c]], 1e-7, "point %d, class %d", i, c)
				}
			}
			assert.InEpsilon(t, want.Objective, f.Objective, 1e-8)
			assert.InDelta(t, want.Coefficient, f.PartitionCoefficient(), 1e-8)
			assert.InDelta(t, want.Entropy, f.PartitionEntropy(), 1e-8)
			assert.InDelta(t, want.FPI, f.Performance(), 1e-8)
			assert.InDelta(t, want.MPE, f.ModifiedEntropy(), 1e-8)
			assert.InDelta(t, want.NCE, f.Entropy(), 1e-8)
		}
	}
	for _, c := range e.Fuzzy2D {
		try(flat(e.Twod.Points), 2, c)
	}
	require.Len(t, e.Fuzzy1D, 3)
	// The file lists memberships for rising x.
	x := []float64{0.3, 0.31, 0.42, 0.44, 0.45, 0.47, 0.61, 0.63, 0.64, 0.66, 0.69, 0.79, 0.81, 0.82, 0.83, 0.86, 0.88, 0.95}
	for _, c := range e.Fuzzy1D {
		try(x, 1, c)
	}
}

func fromKMeans(t *testing.T, z []float64, d, k int, m float64) *Fuzzy {
	t.Helper()
	f, err := FuzzyMeans(z, d, k, m, 10, 1)
	require.NoError(t, err)
	return f
}

// A start on a point is distance 0: the point belongs to it whole, and to two at
// the same place by halves.
func TestMemberships_OnACentre(t *testing.T) {
	u := make([]float64, 3)
	memberships([]float64{1, 2}, [][]float64{{0, 0}, {1, 2}, {5, 5}}, 2, u)
	assert.Equal(t, []float64{0, 1, 0}, u)
	memberships([]float64{1, 2}, [][]float64{{1, 2}, {1, 2}, {5, 5}}, 1.5, u)
	assert.Equal(t, []float64{0.5, 0.5, 0}, u)
}

// The examples printed in the documentation of scikit-learn's
// adjusted_rand_score (0.57, 0, -0.5; 1 for the same classes under other names).
func TestAgree_EqualsScikitLearn(t *testing.T) {
	for _, c := range []struct {
		a, b []uint8
		want float64
	}{
		{[]uint8{1, 1, 2, 2}, []uint8{1, 1, 2, 3}, 0.57},
		{[]uint8{1, 1, 2, 3}, []uint8{1, 1, 2, 2}, 0.57},
		{[]uint8{1, 1, 1, 1}, []uint8{1, 2, 3, 4}, 0},
		{[]uint8{1, 1, 2, 2}, []uint8{1, 2, 1, 2}, -0.5},
		{[]uint8{1, 1, 2, 2}, []uint8{2, 2, 1, 1}, 1},
		{[]uint8{1, 1, 1}, []uint8{1, 1, 1}, 1},
	} {
		g, err := Agree(c.a, c.b)
		require.NoError(t, err)
		assert.InDelta(t, c.want, g.Rand, 0.005)
	}
}

// The index is 0 on average over all orders of one of the columns: what chance
// would give is taken off exactly (Hubert and Arabie 1985; by enumeration).
func TestAgree_NoneByChance(t *testing.T) {
	a := []uint8{1, 1, 1, 2, 2, 3, 3}
	b := []uint8{1, 2, 2, 2, 1, 3, 1}
	var sum, n float64
	var try func(k int)
	try = func(k int) {
		if k == len(b) {
			g, err := Agree(a, b)
			require.NoError(t, err)
			sum, n = sum+g.Rand, n+1
			return
		}
		for i := k; i < len(b); i++ {
			b[k], b[i] = b[i], b[k]
			try(k + 1)
			b[k], b[i] = b[i], b[k]
		}
	}
	try(0)
	assert.Equal(t, 5040.0, n)
	assert.InDelta(t, 0, sum/n, 1e-12)
}
