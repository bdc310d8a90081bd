package rate

import (
	"fmt"

	"courson/geo/stand"
)

// Agreement compares two ways of sorting the same vines.
type Agreement struct {
	Vines int // with a class in both
	// Rand is the adjusted Rand index: 1 where the classes are the same, 0 where
	// they agree as chance would have it, below 0 where less.
	Rand    float64
	Changed int     // vines whose number is another
	Table   [][]int // [a-1][b-1] vines of class a in the first and b in the second
}

// ChangedShare is the share of vines that changed, 0 to 1.
func (a *Agreement) ChangedShare() float64 {
	if a.Vines == 0 {
		return 0
	}
	return float64(a.Changed) / float64(a.Vines)
}

// Agree compares two columns of classes from 1 up, 0 being none (L. Hubert and P.
// Arabie, J. Classification 2, 1985, for the index). Columns of different length:
// ErrInput. Fewer than two vines with both: ErrFewValues. Where both put all vines
// in one class, the index is 1.
func Agree(a, b []uint8) (*Agreement, error) {
	if len(a) != len(b) {
		return nil, refuse(ErrInput, "classes of %d and of %d vines cannot be compared", len(a), len(b))
	}
	var out Agreement
	most := [2]int{}
	for i := range a {
		if a[i] > 0 && b[i] > 0 {
			most[0], most[1] = max(most[0], int(a[i])), max(most[1], int(b[i]))
		}
	}
	out.Table = make([][]int, most[0])
	for k := range out.Table {
		out.Table[k] = make([]int, most[1])
	}
	for i := range a {
		if a[i] == 0 || b[i] == 0 {
			continue
		}
		out.Vines++
		out.Table[a[i]-1][b[i]-1]++
		if a[i] != b[i] {
			out.Changed++
		}
	}
	if out.Vines < 2 {
		return nil, refuse(ErrFewValues, "%s in both: at least 2 are needed to compare", vines(out.Vines))
	}
	out.Rand = adjustedRand(out.Table, out.Vines)
	return &out, nil
}

func pairs(n int) float64 { return float64(n) * float64(n-1) / 2 }

func adjustedRand(table [][]int, n int) float64 {
	var cells, rows, columns float64
	sums := make([]int, len(table[0]))
	for _, row := range table {
		in := 0
		for k, c := range row {
			cells += pairs(c)
			in += c
			sums[k] += c
		}
		rows += pairs(in)
	}
	for _, c := range sums {
		columns += pairs(c)
	}
	expected := rows * columns / pairs(n)
	most := (rows + columns) / 2
	if most == expected {
		return 1 // one class in both, or every vine its own
	}
	return (cells - expected) / (most - expected)
}

// Season is one column cut into zones by itself.
type Season struct {
	Name      string
	Class     []uint8 // 1 the weakest; 0 no value
	Means     []float64
	Explained float64
}

// Pair is the agreement of two seasons, by their index.
type Pair struct {
	A, B int
	Agreement
}

// Stable says how zones last from one season to the next.
type Stable struct {
	Seasons []Season
	Pairs   []Pair
	// Vines have a class in every season; Always the same in all of them. Times is how often
	// a vine's class changed from one column to the next, 255 where it lacks one.
	Vines, Always int
	Times         []uint8
	Text          []string
}

// Stability cuts every column by itself into k zones by natural breaks and
// compares them. Classes are relative within a season: a season that is weaker
// everywhere changes nothing. Errors as of Make; fewer than two columns:
// ErrFewValues.
func Stability(s *stand.Stand, columns []Column, k int) (*Stable, error) {
	if len(columns) < 2 {
		return nil, refuse(ErrFewValues, "%d column: two seasons or more are needed to compare", len(columns))
	}
	var out Stable
	for _, c := range columns {
		season, err := seasonOf(s, c, k)
		if err != nil {
			return nil, err
		}
		out.Seasons = append(out.Seasons, season)
	}
	for a := range out.Seasons {
		for b := a + 1; b < len(out.Seasons); b++ {
			g, err := Agree(out.Seasons[a].Class, out.Seasons[b].Class)
			if err != nil {
				return nil, fmt.Errorf("%q and %q: %w", out.Seasons[a].Name, out.Seasons[b].Name, err)
			}
			out.Pairs = append(out.Pairs, Pair{a, b, *g})
			out.Text = append(out.Text, fmt.Sprintf("%s and %s: %d of %s (%.0f %%) change zone; adjusted Rand index %.2f.", out.Seasons[a].Name, out.Seasons[b].Name, g.Changed, vines(g.Vines), 100*g.ChangedShare(), g.Rand))
		}
	}
	out.count()
	return &out, nil
}

func seasonOf(s *stand.Stand, c Column, k int) (Season, error) {
	f, err := read(s, []Column{c})
	if err != nil {
		return Season{}, err
	}
	values := make([]float64, len(f.vines))
	for j, i := range f.vines {
		values[j] = float64(c.Values[i])
	}
	all, err := NaturalBreaks(values, k)
	if err != nil {
		return Season{}, fmt.Errorf("%q: %w", c.Name, err)
	}
	n := &all[k-1]
	season := Season{Name: c.Name, Class: make([]uint8, s.Ground.Len()), Means: n.Means, Explained: n.Explained()}
	for j, i := range f.vines {
		season.Class[i] = uint8(1 + n.Class(values[j]))
	}
	return season, nil
}

func (s *Stable) count() {
	s.Times = make([]uint8, len(s.Seasons[0].Class))
	for i := range s.Times {
		for k := range s.Seasons {
			if s.Seasons[k].Class[i] == 0 {
				s.Times[i] = 255
				break
			}
			if k > 0 && s.Seasons[k].Class[i] != s.Seasons[k-1].Class[i] {
				s.Times[i]++
			}
		}
		if s.Times[i] != 255 {
			s.Vines++
			if s.Times[i] == 0 {
				s.Always++
			}
		}
	}
}
