package runs

import (
	"fmt"
	"math"
	"slices"
)

// Splitter cuts rows into runs. It keeps its working memory from row to row, so
// one Splitter serves one goroutine.
type Splitter[I comparable] struct {
	options Options[I]

	vines []int          // row index of each vine that takes part
	known []candidate[I] // instructions of the row in order of first sight
	own   []int          // of each vine that takes part, its own instruction in known
	fits  []int64        // misfit of vine v under instruction k, at v*len(known)+k
	allow []float64      // allowance of each vine, for the goals with a limit
	best  []int64        // of the goals' tables
	given []int          // instruction chosen for each vine
}

// candidate is an instruction that vines may be given. A pinned one is for
// pinned vines only.
type candidate[I comparable] struct {
	instruction I
	pinned      bool
}

// New makes a Splitter.
func New[I comparable](o Options[I]) (*Splitter[I], error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	return &Splitter[I]{options: o}, nil
}

// Row splits one row. Instructions are those that ordinary vines of this row
// have; vines stand in the order in which they are walked.
//
// Of divisions that are equally good (Balance: equal cost, of which the fewest
// runs are taken; the other goals: equal runs and misfit) the one is taken that
// goes on with the instruction at hand where another changes it, at the first
// vine where they differ. Where both change, or at the first vine, that
// instruction is taken that the last run of ordinary vines had, else the one that
// comes first in the row.
//
// With a limit: where a vine fits no instruction of the row within the limit,
// its allowance is the least misfit that any gives it, and Over is set if a run
// lies over the limit by that. A mean over the limit by less than 1e-9 nodes is
// within it.
func (s *Splitter[I]) Row(vines []Vine[I]) (Split[I], error) {
	if len(vines) > maxVines {
		return Split[I]{}, fmt.Errorf("%w: a row of %d vines (at most %d)", ErrVine, len(vines), maxVines)
	}
	if err := s.load(vines); err != nil {
		return Split[I]{}, err
	}
	if s.options.Goal == Balance {
		s.balance()
	} else {
		s.fewest()
	}
	return s.collect(vines), nil
}

// Row splits a single row.
func Row[I comparable](vines []Vine[I], o Options[I]) (Split[I], error) {
	s, err := New(o)
	if err != nil {
		return Split[I]{}, err
	}
	return s.Row(vines)
}

// impossible is the misfit of an instruction that a vine must not get.
const impossible = math.MaxInt64 / 4

// load lists who takes part, which instructions there are and how they fit.
func (s *Splitter[I]) load(vines []Vine[I]) error {
	s.vines, s.known, s.own = s.vines[:0], s.known[:0], s.own[:0]
	for i, v := range vines {
		if v.Part > Free {
			return fmt.Errorf("%w: vine %d has part %d", ErrVine, v.Number, v.Part)
		}
		if v.Part == Free || v.Part == Pinned && s.options.Through {
			continue
		}
		c := candidate[I]{v.Instruction, v.Part == Pinned}
		k := slices.Index(s.known, c)
		if k < 0 {
			k = len(s.known)
			s.known = append(s.known, c)
		}
		s.vines, s.own = append(s.vines, i), append(s.own, k)
	}
	s.fits = s.fits[:0]
	for v, i := range s.vines {
		for k, c := range s.known {
			m, err := s.misfit(vines[i], c, s.own[v] == k)
			if err != nil {
				return err
			}
			s.fits = append(s.fits, m)
		}
	}
	return nil
}

func (s *Splitter[I]) misfit(v Vine[I], c candidate[I], own bool) (int64, error) {
	switch {
	case v.Part == Pinned && own:
		return 0, nil
	case v.Part == Pinned || c.pinned:
		return impossible, nil
	case s.options.Misfit != nil:
		m := s.options.Misfit(c.instruction, v)
		if m < 0 || m > maxMisfit {
			return 0, fmt.Errorf("%w: vine %d has a misfit of %d nodes under %v (0 to %d)", ErrVine, v.Number, m, c.instruction, maxMisfit)
		}
		return int64(m), nil
	}
	nodes := s.options.Nodes(c.instruction)
	if nodes < 0 || nodes > maxMisfit || v.Nodes < 0 || v.Nodes > maxMisfit {
		return 0, fmt.Errorf("%w: vine %d wants %d nodes and %v leaves %d (0 to %d)", ErrVine, v.Number, v.Nodes, c.instruction, nodes, maxMisfit)
	}
	return int64(max(nodes-v.Nodes, v.Nodes-nodes)), nil
}

// collect turns the chosen instruction of each vine into runs.
func (s *Splitter[I]) collect(vines []Vine[I]) Split[I] {
	out := Split[I]{Vines: len(s.vines)}
	for v, i := range s.vines {
		k := s.given[v]
		m := int(s.fits[v*len(s.known)+k])
		if v == 0 || s.given[v-1] != k {
			out.Runs = append(out.Runs, Run[I]{From: i, Instruction: s.known[k].instruction, Pinned: s.known[k].pinned})
		}
		r := &out.Runs[len(out.Runs)-1]
		r.To, r.Vines, r.Misfit, r.Greatest = i, r.Vines+1, r.Misfit+m, max(r.Greatest, m)
		out.Misfit, out.Greatest = out.Misfit+m, max(out.Greatest, m)
	}
	for _, r := range out.Runs {
		switch s.options.Goal {
		case MeanUnder:
			out.Over = out.Over || float64(r.Misfit) > s.options.Limit*float64(r.Vines)+slack
		case GreatestUnder:
			out.Over = out.Over || float64(r.Greatest) > s.options.Limit+slack
		}
	}
	if s.options.Through {
		out = addPinned(out, vines)
	}
	return out
}

// addPinned adds the runs of pinned vines that others go through: neighbours of
// the same instruction, with no ordinary vine between, wear one mark.
func addPinned[I comparable](out Split[I], vines []Vine[I]) Split[I] {
	going := false
	for i, v := range vines {
		switch {
		case v.Part == Ordinary:
			going = false
		case v.Part == Pinned:
			out.Vines++
			if last := len(out.Runs) - 1; going && out.Runs[last].Instruction == v.Instruction {
				out.Runs[last].To, out.Runs[last].Vines = i, out.Runs[last].Vines+1
				continue
			}
			out.Runs = append(out.Runs, Run[I]{From: i, To: i, Instruction: v.Instruction, Pinned: true, Vines: 1})
			going = true
		}
	}
	slices.SortStableFunc(out.Runs, func(a, b Run[I]) int { return a.From - b.From })
	return out
}
