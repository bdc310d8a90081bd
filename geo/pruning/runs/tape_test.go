package runs_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/pruning/runs"
)

func splitAll(t require.TestingT, o options, texts ...string) (rows [][]vine, splits []runs.Split[load]) {
	o.Nodes = nodesOf
	for _, text := range texts {
		s, err := runs.Row(row(text), o)
		require.NoError(t, err)
		rows, splits = append(rows, row(text)), append(splits, s)
	}
	return rows, splits
}

func TestTape(t *testing.T) {
	rows, splits := splitAll(t, options{Change: 3}, "2222.b1111", "11112222")
	marks, err := runs.MarksFor(splits, runs.UsualMarks(), map[load]runs.Mark{back: {Word: "white", Color: "#ffffff"}})
	require.NoError(t, err)
	got, err := runs.Tape("12", rows[0], splits[0], marks)
	require.NoError(t, err)
	orange, blue := runs.UsualMarks()[1], runs.UsualMarks()[2]
	require.Equal(t, []runs.Piece[load]{
		{Row: "12", From: 1, To: 4, Mark: orange, Instruction: two, Vines: 4},
		{Row: "12", From: 6, To: 6, Mark: runs.Mark{Word: "white", Color: "#ffffff"}, Instruction: back, Vines: 1, Pinned: true},
		{Row: "12", From: 7, To: 10, Mark: blue, Instruction: one, Vines: 4},
	}, got)
	require.Equal(t, []int{2, 2, 1}, []int{marks.Key()[0].Runs, marks.Key()[1].Runs, marks.Key()[2].Runs})
	require.Equal(t, 8, marks.Key()[0].Vines)
}

// Vines are walked as they are given: from the far end the numbers fall.
func TestTape_FromTheFarEnd(t *testing.T) {
	vines := row("1122")
	for i := range vines {
		vines[i].Number = 4 - i
	}
	s, err := runs.Row(vines, options{Nodes: nodesOf})
	require.NoError(t, err)
	marks, err := runs.MarksFor([]runs.Split[load]{s}, runs.UsualMarks(), nil)
	require.NoError(t, err)
	got, err := runs.Tape("1", vines, s, marks)
	require.NoError(t, err)
	require.Equal(t, []int{4, 3, 2, 1}, []int{got[0].From, got[0].To, got[1].From, got[1].To})
}

func TestMarksFor_Refuses(t *testing.T) {
	rows, splits := splitAll(t, options{}, "12s")
	_, err := runs.MarksFor(splits, runs.UsualMarks()[:2], nil)
	require.ErrorIs(t, err, runs.ErrFewMarks)
	_, err = runs.MarksFor(splits, runs.UsualMarks(), map[load]runs.Mark{one: {Word: "red"}, two: {Word: "red"}})
	require.ErrorIs(t, err, runs.ErrOption)
	marks, err := runs.MarksFor(splits[:0], nil, nil)
	require.NoError(t, err)
	_, err = runs.Tape("1", rows[0], splits[0], marks)
	require.ErrorIs(t, err, runs.ErrFewMarks)
	full, err := runs.MarksFor(splits, runs.UsualMarks(), nil)
	require.NoError(t, err)
	_, err = runs.Tape("1", rows[0][:1], splits[0], full)
	require.ErrorIs(t, err, runs.ErrVine)
}

// One mark, one instruction, all over the block.
func TestMarksFor_OneMarkOneInstruction(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var splits []runs.Split[load]
		for range rapid.IntRange(1, 6).Draw(t, "rows") {
			s, err := runs.Row(anyRow(t, 12), options{Nodes: nodesOf, Change: 1})
			require.NoError(t, err)
			splits = append(splits, s)
		}
		marks, err := runs.MarksFor(splits, runs.UsualMarks(), map[load]runs.Mark{{1, 8}: {Word: "blue"}})
		require.NoError(t, err)
		means := map[string]load{}
		for _, s := range splits {
			for _, r := range s.Runs {
				mark, ok := marks.Of(r.Instruction)
				require.True(t, ok)
				if other, seen := means[mark.Word]; seen {
					require.Equal(t, other, r.Instruction)
				}
				means[mark.Word] = r.Instruction
				require.Equal(t, r.Instruction == load{1, 8}, mark.Word == "blue")
			}
		}
	})
}
