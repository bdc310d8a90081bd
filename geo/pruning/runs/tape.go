package runs

import (
	"cmp"
	"fmt"
	"slices"
)

// Mark is what hangs in the row: a word that can be said and printed, and a
// colour as #rrggbb that goes with it. The word alone is enough to tell marks
// apart, in print and for those who do not see the colour.
type Mark struct {
	Word  string `json:"word"`
	Color string `json:"color"`
}

// UsualMarks gives colours in which tape for marking is commonly sold; the order
// is ours: neighbours in the list are easy to tell apart in low light.
func UsualMarks() []Mark {
	return []Mark{
		{"white", "#ffffff"}, {"orange", "#ff7f00"}, {"blue", "#1f5fbf"}, {"yellow", "#ffd800"},
		{"pink", "#ff5fa2"}, {"green", "#1f9e4a"}, {"red", "#d62828"}, {"violet", "#7a3fa0"},
		{"white and red", "#ffffff"}, {"white and black", "#ffffff"}, {"yellow and black", "#ffd800"},
	}
}

// Marks tells which mark an instruction has all over a block.
type Marks[I comparable] struct {
	list []Meaning[I]
}

// Meaning is a line of the key: what a mark says, and how much of it there is.
type Meaning[I comparable] struct {
	Mark        Mark
	Instruction I
	Runs, Vines int // in the block
}

// MarksFor gives every instruction in the rows of a block a mark of its own.
// Those in hanging keep theirs (marks that are out in the block already); the
// others take what is left of the list in order, the instruction with the most
// runs first, of equal ones the one that comes first in the block.
func MarksFor[I comparable](rows []Split[I], list []Mark, hanging map[I]Mark) (*Marks[I], error) {
	m := &Marks[I]{list: meanings(rows)}
	taken := map[string]bool{}
	for instruction, mark := range hanging {
		if mark.Word == "" || taken[mark.Word] {
			return nil, fmt.Errorf("%w: mark %q of %v has no word or hangs for two instructions", ErrOption, mark.Word, instruction)
		}
		taken[mark.Word] = true
	}
	next := 0
	for k := range m.list {
		if mark, ok := hanging[m.list[k].Instruction]; ok {
			m.list[k].Mark = mark
			continue
		}
		for next < len(list) && (list[next].Word == "" || taken[list[next].Word]) {
			next++
		}
		if next == len(list) {
			return nil, fmt.Errorf("%w: %d instructions in the block and %d marks; add marks or split into fewer instructions", ErrFewMarks, len(m.list), len(list))
		}
		m.list[k].Mark = list[next]
		taken[list[next].Word] = true
	}
	return m, nil
}

// meanings counts runs and vines of every instruction, most runs first.
func meanings[I comparable](rows []Split[I]) (out []Meaning[I]) {
	at := map[I]int{}
	for _, row := range rows {
		for _, r := range row.Runs {
			k, ok := at[r.Instruction]
			if !ok {
				k = len(out)
				at[r.Instruction] = k
				out = append(out, Meaning[I]{Instruction: r.Instruction})
			}
			out[k].Runs++
			out[k].Vines += r.Vines
		}
	}
	slices.SortStableFunc(out, func(a, b Meaning[I]) int { return cmp.Compare(b.Runs, a.Runs) })
	return out
}

// Of gives the mark of an instruction; ok is false for one that no row has.
func (m *Marks[I]) Of(instruction I) (mark Mark, ok bool) {
	for _, l := range m.list {
		if l.Instruction == instruction {
			return l.Mark, true
		}
	}
	return Mark{}, false
}

// Key is what each mark means, the most frequent first.
func (m *Marks[I]) Key() []Meaning[I] { return slices.Clone(m.list) }

// Piece is one line of the list for whoever hangs the marks.
type Piece[I comparable] struct {
	Row         string
	From, To    int // number of the first and last vine, both included
	Mark        Mark
	Instruction I
	Vines       int
	Pinned      bool
}

// Tape lists where to hang which mark in a row that was split.
func Tape[I comparable](row string, vines []Vine[I], split Split[I], marks *Marks[I]) ([]Piece[I], error) {
	out := make([]Piece[I], 0, len(split.Runs))
	for _, r := range split.Runs {
		mark, ok := marks.Of(r.Instruction)
		if !ok {
			return nil, fmt.Errorf("row %s: %w: none for %v", row, ErrFewMarks, r.Instruction)
		}
		if r.From < 0 || r.To < r.From || r.To >= len(vines) {
			return nil, fmt.Errorf("row %s: %w: a run from %d to %d in a row of %d", row, ErrVine, r.From, r.To, len(vines))
		}
		out = append(out, Piece[I]{row, vines[r.From].Number, vines[r.To].Number, mark, r.Instruction, r.Vines, r.Pinned})
	}
	return out, nil
}
