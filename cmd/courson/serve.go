package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/url"

	"courson/server"
	"courson/store"
)

// defaultAddr is where the map is served, this machine only.
const defaultAddr = "127.0.0.1:8480"

// serveFlags are common to serve and demo.
type serveFlags struct {
	BaseMap            string   `placeholder:"URL|FOLDER|ZIP" help:"Picture under the vines: an XYZ address with {z}, {x}, {y}, or a folder or zip of z/x/y.png on this machine." env:"COURSON_BASE_MAP"`
	BaseMapAttribution string   `placeholder:"TEXT" help:"Whose picture it is; shown on the map." env:"COURSON_BASE_MAP_ATTRIBUTION"`
	BaseMapMaxZoom     int      `placeholder:"N" help:"Deepest zoom the picture has." env:"COURSON_BASE_MAP_MAX_ZOOM"`
	Host               []string `placeholder:"NAME" help:"Further host names that this server answers to." env:"COURSON_HOST"`
	PublicURL          string   `name:"public-url" placeholder:"URL" help:"How clients reach this server where a proxy stands before it." env:"COURSON_PUBLIC_URL"`
	Memory             int64    `placeholder:"MIB" default:"1024" help:"Memory for vines held ready, in MiB." env:"COURSON_MEMORY"`
}

type serveCommand struct {
	dataFlags
	serveFlags
	Addr        string `placeholder:"HOST:PORT" default:"127.0.0.1:8480" help:"Where to listen; this machine only." env:"COURSON_ADDR"`
	PrintConfig bool   `help:"Print the settings it would run with, and stop."`
}

// Run serves an estate until the program is told to stop.
func (c *serveCommand) Run(p *program) (err error) {
	if c.PrintConfig {
		return c.print(p)
	}
	if err := loopbackOnly(c.Addr); err != nil {
		return err
	}
	st, err := c.open(p.ctx, p, false, false)
	if err != nil {
		return err
	}
	defer closeStore(st, &err)
	l, err := listen(p.ctx, c.Addr)
	if err != nil {
		return err
	}
	return c.serve(p, st, l)
}

// loopbackOnly refuses to listen beyond this machine: the map has no access
// control of its own yet, and records must not be writable by strangers.
func loopbackOnly(addr string) error {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return fmt.Errorf("--addr %s: write it as HOST:PORT, such as %s: %w", addr, defaultAddr, errUsage)
	}
	if host == "localhost" {
		return nil
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsLoopback() {
		return nil
	}
	return fmt.Errorf("--addr %s: refused: there are no users yet, so anyone who reaches this address could read and change the records; "+
		"listen on %s and put a proxy that asks for a password and speaks https before it (see docker-compose.yml): %w", addr, defaultAddr, errUsage)
}

func listen(ctx context.Context, addr string) (net.Listener, error) {
	var lc net.ListenConfig
	l, err := lc.Listen(ctx, "tcp", addr)
	if err != nil {
		return nil, fmt.Errorf("listen on %s: %w; is another courson running? choose another with --addr", addr, err)
	}
	return l, nil
}

// serve runs the server on a listener until the context ends.
func (c serveFlags) serve(p *program, st store.Store, l net.Listener) error {
	s, err := server.New(server.Config{
		Store: st, Logger: p.log, Now: p.now, Version: version,
		BaseMap:    server.BaseMap{Tiles: c.BaseMap, Attribution: c.BaseMapAttribution, MaxZoom: c.BaseMapMaxZoom},
		Hosts:      c.Host,
		PublicURL:  c.PublicURL,
		StandBytes: c.Memory << 20,
	})
	if err != nil {
		return errors.Join(err, l.Close())
	}
	fmt.Fprintf(p.stdout, "The map is on http://%s   (stop with Ctrl-C)\n", l.Addr())
	return errors.Join(s.Run(p.ctx, l), s.Close())
}

// print shows the settings, passwords masked.
func (c *serveCommand) print(p *program) error {
	shown := *c
	if u, err := url.Parse(c.Data); err == nil && u.User != nil {
		shown.Data = u.Redacted()
	}
	out := json.NewEncoder(p.stdout)
	out.SetIndent("", "  ")
	return out.Encode(map[string]any{
		"data": shown.Data, "estate": c.Estate, "addr": c.Addr, "base_map": c.BaseMap,
		"base_map_attribution": c.BaseMapAttribution, "base_map_max_zoom": c.BaseMapMaxZoom,
		"hosts": c.Host, "public_url": c.PublicURL, "memory_mib": c.Memory, "version": version,
	})
}
