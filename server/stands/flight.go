package stands

import (
	"context"
	"fmt"
	"runtime/debug"
	"sync"
)

// flight lets callers who want the same thing at the same time share one
// computation. Unlike x/sync's singleflight it stops the work when the last
// caller has gone, lets a caller leave early, and turns a panic into an error
// for those who waited.
type flight[K comparable, V any] struct {
	mu    sync.Mutex
	calls map[K]*flightCall[V]
}

type flightCall[V any] struct {
	done    chan struct{}
	val     V
	err     error
	waiters int
	cancel  context.CancelFunc
}

// PanicError is a panic caught in a goroutine that worked for a request.
type PanicError struct {
	Value any
	Stack []byte
}

func (e *PanicError) Error() string { return fmt.Sprintf("panic: %v", e.Value) }

// do runs f for key k, or waits for the run of it that is under way. It returns
// early with the context's error when ctx ends.
func (f *flight[K, V]) do(ctx context.Context, k K, fn func(context.Context) (V, error)) (V, error) {
	f.mu.Lock()
	if f.calls == nil {
		f.calls = make(map[K]*flightCall[V])
	}
	c, ok := f.calls[k]
	if !ok {
		work, cancel := context.WithCancel(context.WithoutCancel(ctx))
		c = &flightCall[V]{done: make(chan struct{}), cancel: cancel}
		f.calls[k] = c
		go f.run(work, k, c, fn)
	}
	c.waiters++
	f.mu.Unlock()

	select {
	case <-c.done:
		return c.val, c.err
	case <-ctx.Done():
		f.leave(k, c)
		var none V
		return none, ctx.Err()
	}
}

// run does the work and lets the callers go.
func (f *flight[K, V]) run(ctx context.Context, k K, c *flightCall[V], fn func(context.Context) (V, error)) {
	defer func() {
		if p := recover(); p != nil {
			c.err = &PanicError{Value: p, Stack: debug.Stack()}
		}
		f.forget(k, c)
		close(c.done)
		c.cancel()
	}()
	c.val, c.err = fn(ctx)
}

// leave counts one caller out; the last one stops the work.
func (f *flight[K, V]) leave(k K, c *flightCall[V]) {
	f.mu.Lock()
	defer f.mu.Unlock()
	c.waiters--
	if c.waiters > 0 {
		return
	}
	c.cancel()
	if f.calls[k] == c {
		delete(f.calls, k)
	}
}

func (f *flight[K, V]) forget(k K, c *flightCall[V]) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.calls[k] == c {
		delete(f.calls, k)
	}
}
