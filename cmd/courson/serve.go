package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/url"
	"strings"
	"time"

	"courson/server"
	"courson/server/access"
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
	Addr        string        `placeholder:"HOST:PORT" default:"127.0.0.1:8480" help:"Where to listen. Beyond this machine only where there are users." env:"COURSON_ADDR"`
	TLSCert     string        `name:"tls-cert" placeholder:"FILE" help:"Certificate (PEM), to speak https." env:"COURSON_TLS_CERT"`
	TLSKey      string        `name:"tls-key" placeholder:"FILE" help:"Its private key (PEM)." env:"COURSON_TLS_KEY"`
	OpenHere    bool          `name:"open-on-this-machine" help:"On this machine nobody needs to sign in, although there are users. Not where a proxy passes others on."`
	SessionIdle time.Duration `placeholder:"DURATION" default:"24h" help:"Whoever does nothing for so long is signed out." env:"COURSON_SESSION_IDLE"`
	SessionLife time.Duration `placeholder:"DURATION" default:"336h" help:"After so long everybody must sign in again." env:"COURSON_SESSION_LIFE"`
	PrintConfig bool          `help:"Print the settings it would run with, and stop."`
}

// Run serves an estate until the program is told to stop.
func (c *serveCommand) Run(p *program) (err error) {
	if c.PrintConfig {
		return c.print(p)
	}
	beyond, err := beyondHere(c.Addr)
	if err != nil {
		return err
	}
	if err := c.checkAccess(); err != nil {
		return err
	}
	st, err := c.open(p.ctx, p, false, false)
	if err != nil {
		return err
	}
	defer closeStore(st, &err)
	if beyond || c.PublicURL != "" {
		if err := c.usersNeeded(p, st); err != nil {
			return err
		}
	}
	if beyond && c.TLSCert == "" && !strings.HasPrefix(c.PublicURL, "https://") {
		fmt.Fprintln(p.stderr, "courson: without https passwords cross the network readable, and phones cannot work without signal: "+
			"give --tls-cert and --tls-key, or put a proxy that speaks https before it and say --public-url https://…")
	}
	l, err := listen(p.ctx, c.Addr)
	if err != nil {
		return err
	}
	scheme := "http"
	if c.TLSCert != "" {
		scheme = "https"
		secure, err := overTLS(l, c.TLSCert, c.TLSKey)
		if err != nil {
			return errors.Join(err, l.Close())
		}
		l = secure
	}
	return c.serveAs(p, st, l, scheme, server.AccessConfig{OpenHere: c.OpenHere, Idle: c.SessionIdle, Life: c.SessionLife})
}

// checkAccess refuses flags that do not go together.
func (c *serveCommand) checkAccess() error {
	switch {
	case (c.TLSCert == "") != (c.TLSKey == ""):
		return fmt.Errorf("--tls-cert and --tls-key are needed together: %w", errUsage)
	case c.OpenHere && c.PublicURL != "":
		return fmt.Errorf("--open-on-this-machine does not go with --public-url: whoever came through the proxy would count as being on this machine: %w", errUsage)
	case c.SessionIdle < time.Minute || c.SessionLife < c.SessionIdle:
		return fmt.Errorf("--session-idle %s, --session-life %s: at least a minute, and life not shorter than idle: %w", c.SessionIdle, c.SessionLife, errUsage)
	}
	return nil
}

// usersNeeded refuses to serve others than this machine where nobody has to sign
// in.
func (c *serveCommand) usersNeeded(p *program, st store.Store) error {
	list, err := access.New(access.Config{Store: st, Now: p.now}).Users(p.ctx)
	if err != nil || len(list) > 0 {
		return err
	}
	what := "--addr " + c.Addr
	if c.PublicURL != "" {
		what = "--public-url " + c.PublicURL
	}
	return fmt.Errorf("%s: refused: there are no users yet, so anyone who reaches this address could read and change the records; "+
		"make one with: courson user add NAME --role manager --data …: %w", what, errUsage)
}

// beyondHere tells whether an address can be reached from other machines.
func beyondHere(addr string) (bool, error) {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return false, fmt.Errorf("--addr %s: write it as HOST:PORT, such as %s: %w", addr, defaultAddr, errUsage)
	}
	ip := net.ParseIP(host)
	return host != "localhost" && (ip == nil || !ip.IsLoopback()), nil
}

// loopbackOnly keeps the demo to this machine: its estate has no users, and
// records must not be writable by strangers.
func loopbackOnly(addr string) error {
	beyond, err := beyondHere(addr)
	if err == nil && beyond {
		err = fmt.Errorf("--addr %s: refused: there are no users yet, so anyone who reaches this address could read and change the records; "+
			"listen on %s, or keep it with --data, make a user with courson user add, and use courson serve: %w", addr, defaultAddr, errUsage)
	}
	return err
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
	return c.serveAs(p, st, l, "http", server.AccessConfig{})
}

func (c serveFlags) serveAs(p *program, st store.Store, l net.Listener, scheme string, who server.AccessConfig) error {
	s, err := server.New(server.Config{
		Store: st, Logger: p.log, Now: p.now, Version: version,
		BaseMap:    server.BaseMap{Tiles: c.BaseMap, Attribution: c.BaseMapAttribution, MaxZoom: c.BaseMapMaxZoom},
		Hosts:      c.Host,
		PublicURL:  c.PublicURL,
		StandBytes: c.Memory << 20,
		Access:     who,
	})
	if err != nil {
		return errors.Join(err, l.Close())
	}
	fmt.Fprintf(p.stdout, "The map is on %s://%s   (stop with Ctrl-C)\n", scheme, l.Addr())
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
		"tls_cert": c.TLSCert, "tls_key": c.TLSKey, "open_on_this_machine": c.OpenHere,
		"session_idle": c.SessionIdle.String(), "session_life": c.SessionLife.String(),
	})
}
