package gpkg

import (
	"context"
	"errors"
	"sync"
)

// pool lends out connections that read. It opens them as they are needed and
// keeps them.
type pool struct {
	path  string
	how   access
	slots chan struct{}

	mu     sync.Mutex
	idle   []*conn
	closed bool
}

func newPool(path string, how access) *pool {
	if how != immutable {
		how = readOnly
	}
	return &pool{path: path, how: how, slots: make(chan struct{}, readers)}
}

// get waits for a connection.
func (p *pool) get(ctx context.Context) (*conn, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	select {
	case p.slots <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	c, err := p.take()
	if err != nil {
		<-p.slots
	}
	return c, err
}

func (p *pool) take() (*conn, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.closed {
		return nil, errClosed
	}
	if n := len(p.idle); n > 0 {
		c := p.idle[n-1]
		p.idle = p.idle[:n-1]
		return c, nil
	}
	return dial(p.path, p.how, readerSetup()...)
}

// put gives a connection back.
func (p *pool) put(c *conn) {
	p.mu.Lock()
	if p.closed {
		c.Close()
	} else {
		p.idle = append(p.idle, c)
	}
	p.mu.Unlock()
	<-p.slots
}

// close closes the connections that lie idle now and the others as they come
// back.
func (p *pool) close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.closed = true
	var errs []error
	for _, c := range p.idle {
		errs = append(errs, c.Close())
	}
	p.idle = nil
	return errors.Join(errs...)
}

// spare opens a connection beside the pool; the caller closes it.
func (p *pool) spare() (*conn, error) { return dial(p.path, p.how, readerSetup()...) }
