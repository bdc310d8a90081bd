package work

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"

	"courson/geo/pruning"
	"courson/geo/pruning/runs"
	"courson/geo/stand"
	"courson/geo/vine"
)

// RunsJob says how rows are cut into runs of one instruction.
type RunsJob struct {
	Goal   runs.Goal
	Change float64 // price of one more run, nodes; for runs.Balance
	Limit  float64 // misfit allowed, nodes per vine; for the other goals
	Words  int     // most different instructions in a block, what stands alone aside; 0: no limit
}

// DefaultRuns are few enough to be called down a row: six instructions in a
// block, another one where it saves ten nodes of misfit or more; chosen by us.
func DefaultRuns() RunsJob { return RunsJob{Goal: runs.Balance, Change: 10, Limit: 2, Words: 6} }

// caneStep is what one cane more or less counts beside its nodes; chosen by us: a
// cane of 12 is another job than two of 6.
const caneStep = 2

// Runs is a block's plan in stretches of row.
type Runs struct {
	Code   string
	Season int
	Key    []runs.Meaning[pruning.Instruction]
	Rows   []RowRuns
	Runs   int
	Misfit float64 // mean over the vines of ordinary runs, nodes
}

// RowRuns is one row's.
type RowRuns struct {
	Row    vine.ID
	Label  string
	Pieces []runs.Piece[pruning.Instruction]
}

// CutRuns cuts the rows of a block into runs of one instruction and lists where
// to hang which mark. Errors wrap runs.ErrOption and runs.ErrFewMarks.
func CutRuns(s *stand.Stand, plan map[vine.ID]Planned, job RunsJob) (*Runs, error) {
	splitter, err := runs.New(runs.Options[pruning.Instruction]{Goal: job.Goal, Change: job.Change, Limit: job.Limit, Through: true, Misfit: misfitOf})
	if err != nil {
		return nil, err
	}
	if job.Words > 0 {
		plan = inWords(s, plan, fewWords(s, plan, job.Words))
	}
	g := s.Ground
	out := &Runs{Code: g.Code, Season: s.Season}
	rows := make([][]runs.Vine[pruning.Instruction], len(g.Rows))
	splits := make([]runs.Split[pruning.Instruction], len(g.Rows))
	vines, misfit := 0, int64(0)
	for k, row := range g.Rows {
		rows[k] = runVines(s, row, plan)
		if splits[k], err = splitter.Row(rows[k]); err != nil {
			return nil, fmt.Errorf("row %s of block %s: %w", row.Label, g.Code, err)
		}
		for _, r := range splits[k].Runs {
			if !r.Pinned {
				vines, misfit = vines+r.Vines, misfit+int64(r.Misfit)
			}
		}
		out.Runs += len(splits[k].Runs)
	}
	marks, err := runs.MarksFor(splits, manyMarks(), nil)
	if err != nil {
		return nil, err
	}
	out.Key = marks.Key()
	for k, row := range g.Rows {
		pieces, err := runs.Tape(row.Label, rows[k], splits[k], marks)
		if err != nil {
			return nil, err
		}
		out.Rows = append(out.Rows, RowRuns{Row: row.ID, Label: row.Label, Pieces: pieces})
	}
	out.Misfit = float64(misfit) / float64(max(1, vines))
	return out, nil
}

// manyMarks gives the usual marks and then pairs of them: two tapes on one stake.
func manyMarks() []runs.Mark {
	plain := runs.UsualMarks()
	out := plain
	for i, a := range plain[:pairable] {
		for _, b := range plain[i+1 : pairable] {
			out = append(out, runs.Mark{Word: a.Word + " with " + b.Word, Color: a.Color})
		}
	}
	return out
}

// pairable is how many of the usual marks are of one colour.
const pairable = 8

// misfitOf is how far an instruction is from what a vine should get, nodes.
func misfitOf(run pruning.Instruction, v runs.Vine[pruning.Instruction]) int {
	return abs(run.Nodes()-v.Nodes) + caneStep*abs(int(run.Canes)-int(v.Instruction.Canes))
}

// inWords gives every ordinary vine the word next to its own instruction; what it
// should carry stays its own.
func inWords(s *stand.Stand, plan map[vine.ID]Planned, list []pruning.Instruction) map[vine.ID]Planned {
	out := make(map[vine.ID]Planned, len(plan))
	for i, id := range s.Ground.ID {
		p, ok := plan[id]
		if !ok {
			continue
		}
		if ordinary(s, i, p) {
			p.Nodes = p.Instruction.Nodes()
			p.Instruction = nearest(list, p.Instruction)
		}
		out[id] = p
	}
	return out
}

// ordinary tells whether a vine takes the instruction of the run it stands in:
// not what is cut back, built, decided by hand or looked at first.
func ordinary(s *stand.Stand, i int, p Planned) bool {
	return s.Condition[i].Living() && !p.Instruction.Nothing() && p.Instruction.CutBack == 0 && p.Instruction.Trunk == 0 &&
		p.Flags&(pruning.FlagLookFirst|pruning.FlagOverride) == 0
}

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}

// runVines gives the vines of a row: gaps and vines without a plan are free;
// what is cut back, built or looked at first keeps an instruction of its own.
func runVines(s *stand.Stand, row stand.Row, plan map[vine.ID]Planned) []runs.Vine[pruning.Instruction] {
	out := make([]runs.Vine[pruning.Instruction], row.Count)
	for k := range row.Count {
		i := row.First + k
		p, planned := plan[s.Ground.ID[i]]
		v := runs.Vine[pruning.Instruction]{Number: int(s.Ground.Number[i]), Part: runs.Free}
		if planned && s.Condition[i].Living() && !p.Instruction.Nothing() {
			v.Part, v.Instruction, v.Nodes = runs.Pinned, p.Instruction, p.Nodes
			if ordinary(s, i, p) {
				v.Part = runs.Ordinary
			}
		}
		out[k] = v
	}
	return out
}

// ParseGoal reads balance, mean or greatest.
func ParseGoal(text string) (runs.Goal, error) {
	switch text {
	case "balance", "":
		return runs.Balance, nil
	case "mean":
		return runs.MeanUnder, nil
	case "greatest":
		return runs.GreatestUnder, nil
	}
	return 0, errors.New("goal is balance, mean or greatest")
}

// WriteRuns writes the list of marks as a table.
func WriteRuns(w io.Writer, list []*Runs) error {
	out := csv.NewWriter(w)
	if err := out.Write([]string{"block", "season", "row", "from_vine", "to_vine", "vines", "mark", "instruction", "alone"}); err != nil {
		return err
	}
	for _, r := range list {
		for _, row := range r.Rows {
			for _, p := range row.Pieces {
				if err := out.Write([]string{r.Code, strconv.Itoa(r.Season), row.Label, strconv.Itoa(p.From), strconv.Itoa(p.To), strconv.Itoa(p.Vines),
					p.Mark.Word, p.Instruction.String(), strconv.FormatBool(p.Pinned)}); err != nil {
					return err
				}
			}
		}
	}
	out.Flush()
	return out.Error()
}
