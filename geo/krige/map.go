package krige

import (
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
)

// chunk is how many places a goroutine takes at a time.
const chunk = 256

// Map estimates many places, shared over the processors: out[i] becomes the
// estimate at xs[i], ys[i]. The result does not depend on how many processors
// there are. A stop that answers true ends it with ErrStopped; it may be nil and
// is asked from several goroutines. Columns of different length: ErrLengths.
func (f *Field) Map(xs, ys []float64, out []Estimate, stop func() bool) error {
	return f.mapWith((*Worker).At, xs, ys, out, stop)
}

// MapSmooth is Map for the trend of the places, as Worker.Smooth gives it.
func (f *Field) MapSmooth(xs, ys []float64, out []Estimate, stop func() bool) error {
	return f.mapWith((*Worker).Smooth, xs, ys, out, stop)
}

func (f *Field) mapWith(at func(w *Worker, x, y float64) Estimate, xs, ys []float64, out []Estimate, stop func() bool) error {
	if len(xs) != len(ys) || len(xs) != len(out) {
		return fmt.Errorf("%d x, %d y and %d estimates: %w", len(xs), len(ys), len(out), ErrLengths)
	}
	done := inChunks(len(xs), stop, func() func(i int) {
		w := f.Worker()
		return func(i int) { out[i] = at(w, xs[i], ys[i]) }
	})
	if !done {
		return ErrStopped
	}
	return nil
}

// inChunks calls a function for 0 … n-1 on all processors, each goroutine with a
// function of its own that begin makes. False where it was stopped.
func inChunks(n int, stop func() bool, begin func() func(i int)) bool {
	var next atomic.Int64
	var stopped atomic.Bool
	var wg sync.WaitGroup
	for range max(1, min(runtime.GOMAXPROCS(0), (n+chunk-1)/chunk)) {
		wg.Go(func() {
			do := begin()
			for {
				lo := int(next.Add(chunk)) - chunk
				if lo >= n || stopped.Load() {
					return
				}
				if stop != nil && stop() {
					stopped.Store(true)
					return
				}
				for i := lo; i < min(n, lo+chunk); i++ {
					do(i)
				}
			}
		})
	}
	wg.Wait()
	return !stopped.Load()
}
