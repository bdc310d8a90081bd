package postgis

import (
	"iter"
)

// pile gathers many large values without ever moving them.
type pile[T any] [][]T

const pileStep = 1024

func (p *pile[T]) add(v T) {
	last := len(*p) - 1
	if last < 0 || len((*p)[last]) == pileStep {
		*p, last = append(*p, make([]T, 0, pileStep)), last+1
	}
	(*p)[last] = append((*p)[last], v)
}

func (p pile[T]) len() int {
	if len(p) == 0 {
		return 0
	}
	return (len(p)-1)*pileStep + len(p[len(p)-1])
}

func (p pile[T]) at(i int) *T { return &p[i/pileStep][i%pileStep] }

func (p pile[T]) all() iter.Seq[T] {
	return func(yield func(T) bool) {
		for _, part := range p {
			for _, v := range part {
				if !yield(v) {
					return
				}
			}
		}
	}
}

// handOut gives a sequence of what load reads, each time it is gone through.
func handOut[T any](what string, load func() (iter.Seq[T], error)) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		loaded, err := load()
		if err != nil {
			var none T
			yield(none, fail(what, err))
			return
		}
		for v := range loaded {
			if !yield(v, nil) {
				return
			}
		}
	}
}
