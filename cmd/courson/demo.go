package main

import (
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"syscall"

	"courson/cmd/courson/demoestate"
	"courson/store"
)

type demoCommand struct {
	serveFlags
	Data    string `placeholder:"FILE|postgres://…" help:"Where to keep the estate; without it a file that is gone at the end."`
	Addr    string `placeholder:"HOST:PORT" help:"Where to listen; this machine only. Without it 127.0.0.1:8480, or a free port where that is taken."`
	NoServe bool   `help:"Make the estate and stop."`
	Vines   int    `placeholder:"N" default:"60000" help:"About how many vines."`
	Seed    uint64 `placeholder:"N" default:"1" help:"Same seed, same estate."`
}

// Vines there may be in the invented estate.
const (
	fewestVines = 100
	mostVines   = 5_000_000
)

// Run makes the invented estate, unless it is there already, and serves it.
func (c *demoCommand) Run(p *program) (err error) {
	if c.Vines < fewestVines || c.Vines > mostVines {
		return fmt.Errorf("--vines %d: from %d to %d: %w", c.Vines, fewestVines, mostVines, errUsage)
	}
	if c.NoServe && c.Data == "" {
		return fmt.Errorf("--no-serve makes a file only where --data says which: %w", errUsage)
	}
	if c.Addr != "" {
		if err := loopbackOnly(c.Addr); err != nil {
			return err
		}
	}
	data := c.Data
	if data == "" {
		dir, err := os.MkdirTemp("", "courson-demo-")
		if err != nil {
			return fmt.Errorf("a place for the demo estate: %w", err)
		}
		defer os.RemoveAll(dir)
		data = filepath.Join(dir, "demo.gpkg")
	}
	st, err := dataFlags{Data: data, Estate: demoestate.Name}.open(p.ctx, p, true, false)
	if err != nil {
		return err
	}
	defer closeStore(st, &err)
	if err := c.make(p, st, data); err != nil || c.NoServe {
		return err
	}
	l, err := c.listen(p)
	if err != nil {
		return err
	}
	return c.serve(p, st, l)
}

// make fills an empty store; a store with the invented estate is left as it is.
func (c *demoCommand) make(p *program, st store.Store, data string) error {
	blocks, err := st.Blocks(p.ctx)
	if err != nil {
		return err
	}
	if len(blocks) > 0 {
		e, err := st.Estate(p.ctx)
		if err != nil {
			return err
		}
		if e.Name != demoestate.Name {
			return fmt.Errorf("%s holds %q already; the demo estate wants a place of its own", data, e.Name)
		}
		fmt.Fprintf(p.stdout, "%s: as it was left\n", e.Name)
		return nil
	}
	began := p.now()
	b := newBar(p.stderr, "making the invented estate", p.now)
	made, err := demoestate.Make(p.ctx, st, c.Seed, c.Vines, b.set)
	b.end()
	if err != nil {
		return err
	}
	fmt.Fprintf(p.stdout, "%s: %d blocks, %d rows, %d vines, %d records (made in %.1f s)\n", demoestate.Name,
		made.Blocks, made.Rows, made.Vines, made.Events, p.now().Sub(began).Seconds())
	return nil
}

// listen takes the usual port, or a free one where it is taken and none was asked for.
func (c *demoCommand) listen(p *program) (net.Listener, error) {
	if c.Addr != "" {
		return listen(p.ctx, c.Addr)
	}
	l, err := listen(p.ctx, defaultAddr)
	if errors.Is(err, syscall.EADDRINUSE) {
		fmt.Fprintf(p.stdout, "%s is taken; using a free port\n", defaultAddr)
		return listen(p.ctx, "127.0.0.1:0")
	}
	return l, err
}
