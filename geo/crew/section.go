package crew

import (
	"fmt"
	"slices"
	"sort"

	"courson/geo/stand"
	"courson/geo/vine"
)

// Sections are the vines of a row by the posts they stand between. Section and
// slot are a second address, quicker to find than the 38th of 60 trunks; they are
// counted from a named end.
type Sections struct {
	numbers []int // of the row's vines, rising
	first   []int // index of each section's first vine
}

// Even gives sections of so many positions each, counted from the end that
// numbers begin at; numbers are the row's, rising from 1. The last section may be
// shorter. The error wraps ErrSection.
func Even(numbers []int, perSection int) (Sections, error) {
	if perSection < 1 {
		return Sections{}, wrong(ErrSection, "vines per section", perSection, "1 and up")
	}
	return cut(numbers, func(i int) int { return (numbers[i] - 1) / perSection })
}

// ByPosts gives sections by the distances of vines and posts along the row, in
// metres from the end that numbers begin at; both rise. A vine at a post belongs
// to the section that begins there. Sections without a vine are not counted. The
// error wraps ErrSection.
func ByPosts(numbers []int, vinesM, postsM []float64) (Sections, error) {
	if len(vinesM) != len(numbers) {
		return Sections{}, wrong(ErrSection, "distances of vines", len(vinesM), fmt.Sprintf("%d, one per vine", len(numbers)))
	}
	if !slices.IsSorted(vinesM) || !slices.IsSorted(postsM) {
		return Sections{}, wrong(ErrSection, "distances", "some that fall", "rising ones")
	}
	return cut(numbers, func(i int) int {
		return sort.Search(len(postsM), func(k int) bool { return postsM[k] > vinesM[i] })
	})
}

// cut begins a section wherever the number that of gives changes.
func cut(numbers []int, of func(i int) int) (Sections, error) {
	s := Sections{numbers: slices.Clone(numbers)}
	for i, n := range numbers {
		if n < 1 || i > 0 && n <= numbers[i-1] {
			return Sections{}, wrong(ErrSection, "vine number", n, "numbers that rise from 1")
		}
		if i == 0 || of(i) != of(i-1) {
			s.first = append(s.first, i)
		}
	}
	return s, nil
}

// Count is the number of sections.
func (s Sections) Count() int { return len(s.first) }

// end is the index after the last vine of a section.
func (s Sections) end(section int) int {
	if section+1 < len(s.first) {
		return s.first[section+1]
	}
	return len(s.numbers)
}

// Place gives section and slot of a vine, both from 1 and from the named end. The
// error wraps ErrSection where the row has no such vine.
func (s Sections) Place(number int, from End) (section, slot int, err error) {
	i, ok := slices.BinarySearch(s.numbers, number)
	if !ok {
		return 0, 0, wrong(ErrSection, "vine", number, "a number of the row")
	}
	k := sort.SearchInts(s.first, i+1) - 1
	if from == FromFar {
		return len(s.first) - k, s.end(k) - i, nil
	}
	return k + 1, i - s.first[k] + 1, nil
}

// Number gives the vine at a section and slot from the named end. The error wraps
// ErrSection where there is none.
func (s Sections) Number(section, slot int, from End) (int, error) {
	if section < 1 || section > len(s.first) {
		return 0, wrong(ErrSection, "section", section, fmt.Sprintf("1 to %d", len(s.first)))
	}
	k := section - 1
	if from == FromFar {
		k = len(s.first) - section
	}
	if n := s.end(k) - s.first[k]; slot < 1 || slot > n {
		return 0, wrong(ErrSection, fmt.Sprintf("slot of section %d", section), slot, fmt.Sprintf("1 to %d", n))
	}
	if from == FromFar {
		return s.numbers[s.end(k)-slot], nil
	}
	return s.numbers[s.first[k]+slot-1], nil
}

// Numbers gives the numbers of the vines in row r of a ground.
func Numbers(g *stand.Ground, r int) []int {
	row := g.Rows[r]
	out := make([]int, row.Count)
	for k := range out {
		out[k] = int(g.Number[row.First+k])
	}
	return out
}

// Chainages gives the distances of the vines in row r along it, in metres from the
// end that numbers begin at; nil where the ground has none.
func Chainages(g *stand.Ground, r int) []float64 {
	if len(g.Chainage) != g.Len() {
		return nil
	}
	row := g.Rows[r]
	out := make([]float64, row.Count)
	for k := range out {
		out[k] = float64(g.Chainage[row.First+k])
	}
	return out
}

// CheckPoint is something in a row that shows where one stands.
type CheckPoint struct {
	Number  int    `json:"number"`
	What    string `json:"what"` // missing, dead or replanted
	Section int    `json:"section"`
	Slot    int    `json:"slot"`
}

// String says it in words.
func (p CheckPoint) String() string {
	return fmt.Sprintf("vine %d %s: section %d, slot %d", p.Number, p.What, p.Section, p.Slot)
}

// CheckPoints lists what stands out in row r, in walking order from the named
// end: vines missing, dead or replanted. Of those nearer to each other than apart
// positions only the first stays; 0: all. The error wraps ErrSection.
func CheckPoints(st *stand.Stand, r int, s Sections, from End, apart int) (out []CheckPoint, err error) {
	row := st.Ground.Rows[r]
	for k := range row.Count {
		i := row.First + k
		if from == FromFar {
			i = row.First + row.Count - 1 - k
		}
		c, n := st.Condition[i], int(st.Ground.Number[i])
		if c != vine.Missing && c != vine.Dead && c != vine.Replanted {
			continue
		}
		if len(out) > 0 && max(n-out[len(out)-1].Number, out[len(out)-1].Number-n) < apart {
			continue
		}
		p := CheckPoint{Number: n, What: c.String()}
		if p.Section, p.Slot, err = s.Place(n, from); err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}
