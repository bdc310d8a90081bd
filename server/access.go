package server

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"time"

	"courson/server/access"
)

// AccessConfig is what a server is told about access. Zero fields are defaults.
type AccessConfig struct {
	// OpenHere lets everybody on this machine do everything although there are
	// users. It must not be set where a proxy on this machine passes others on.
	OpenHere bool
	// Covers tells what a crew has open work in; nil: its open orders.
	Covers access.Covers
	Idle   time.Duration // a session ends when it was not used for so long; 0: 24 hours
	Life   time.Duration // … and in any case after; 0: 14 days
	Join   time.Duration // a crew link waits so long for its device; 0: 24 hours
	Bound  time.Duration // a device stays joined for so long; 0: 14 days
}

func newGate(cfg Config) *access.Gate {
	a := cfg.Access
	return access.New(access.Config{Store: cfg.Store, Now: cfg.Now, Covers: a.Covers, Idle: a.Idle, Life: a.Life, Join: a.Join, Bound: a.Bound})
}

// asker is who asks, kept in the request's context.
type asker struct {
	access.Who
	target string // what a write was about, for the log of changes; "": the path
}

// askerOf gives who asks; nobody's zero value outside guarded routes.
func askerOf(ctx context.Context) *asker {
	if a, ok := ctx.Value(keyAsker).(*asker); ok {
		return a
	}
	return &asker{}
}

// nobody is the answer to a request without a valid session or token.
var errNobody = errors.New("sign in first")

// guard lets only those through who may use the route. A route without a rule is
// for nobody. Who asks is looked up anew for each request: what was withdrawn is
// withdrawn everywhere at once.
func (s *Server) guard(rt route, next http.Handler) http.Handler {
	rule, known := access.RuleOf(rt.method, rt.pattern)
	if known && rule.Public {
		return next
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		who, err := s.whoIs(r, s.gate.Session)
		switch {
		case errors.Is(err, errNobody):
			s.sendToSignIn(w, r, rule)
			return
		case err != nil:
			s.answerError(w, r, err)
			return
		}
		a := &asker{Who: who}
		r = r.WithContext(context.WithValue(r.Context(), keyAsker, a))
		if who.Role != access.RoleOpen && w.Header().Get("Cache-Control") == "" {
			w.Header().Set("Cache-Control", "private, no-cache")
		}
		if err := s.mayUse(who, rule, known, r); err != nil {
			s.audited(rt, s.wrap(func(http.ResponseWriter, *http.Request) error { return err })).ServeHTTP(w, r)
			return
		}
		if rule.Tries {
			next.ServeHTTP(w, r)
			return
		}
		if unlimited(rt.pattern) {
			s.whileAllowed(rule, next).ServeHTTP(w, r)
			return
		}
		s.audited(rt, next).ServeHTTP(w, r)
	})
}

// mayUse refuses what the role may not do. A crew is kept to its own orders.
func (s *Server) mayUse(who access.Who, rule access.Rule, known bool, r *http.Request) error {
	if who.Role != access.RoleOpen && (!known || !rule.Allows(who.Role)) {
		return refuse(http.StatusForbidden, "", "the role %s may not do this", who.Role)
	}
	if who.Role == access.RoleCrew && rule.Pattern == "/api/field" {
		return keepToCrew(r, who.Crew)
	}
	return nil
}

// keepToCrew fills in the crew of a request, and refuses another one.
func keepToCrew(r *http.Request, crew string) error {
	q, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		return refuse(http.StatusBadRequest, "", "the address cannot be read: %v", err)
	}
	for _, c := range q["crew"] {
		if c != crew {
			return refuse(http.StatusForbidden, "crew", "this device belongs to another crew")
		}
	}
	q.Set("crew", crew)
	u := *r.URL
	u.RawQuery = q.Encode()
	r.URL = &u
	return nil
}

// whoIs finds out who asks: by a token, by a session, or because everybody on
// this machine may. session looks a session up.
func (s *Server) whoIs(r *http.Request, session func(context.Context, string) (access.Who, error)) (access.Who, error) {
	ctx := r.Context()
	open, err := s.gate.Open(ctx)
	if err != nil {
		return access.Who{}, err
	}
	if open {
		if !onLoopback(r) {
			return access.Who{}, refuse(http.StatusForbidden, "", "there are no users yet: make one with courson user add")
		}
		return access.Who{Role: access.RoleOpen}, nil
	}
	who, err := access.Who{}, error(access.ErrNoSession)
	if token, ok := bearer(r); ok {
		if who, err = s.gate.Bearer(ctx, token); errors.Is(err, access.ErrNoSession) {
			return who, errNobody // a wrong token is never helped by a cookie
		}
	} else if c, e := r.Cookie(s.cookieName(r)); e == nil {
		who, err = session(ctx, c.Value)
	}
	if errors.Is(err, access.ErrNoSession) {
		if s.cfg.Access.OpenHere && fromHere(r) {
			return access.Who{Role: access.RoleOpen}, nil
		}
		return who, errNobody
	}
	return who, err
}

// bearer gives the token of an Authorization header (RFC 6750). Other schemes, as
// a proxy may ask for, are not ours.
func bearer(r *http.Request) (string, bool) {
	scheme, token, _ := strings.Cut(r.Header.Get("Authorization"), " ")
	return strings.TrimSpace(token), strings.EqualFold(scheme, "Bearer")
}

// fromHere tells whether a request was made on this machine and not passed on by
// a proxy.
func fromHere(r *http.Request) bool {
	for _, name := range []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Real-Ip", "Via"} {
		if len(r.Header.Values(name)) > 0 {
			return false
		}
	}
	from, err := netip.ParseAddrPort(r.RemoteAddr)
	return err == nil && from.Addr().Unmap().IsLoopback() && onLoopback(r)
}

// sendToSignIn answers who is not signed in: people with the sign-in page,
// programs with 401.
func (s *Server) sendToSignIn(w http.ResponseWriter, r *http.Request, rule access.Rule) {
	if rule.Page {
		w.Header().Set("Cache-Control", "no-store")
		http.Redirect(w, r, "/signin?then="+url.QueryEscape(r.URL.RequestURI()), http.StatusSeeOther)
		return
	}
	w.Header().Set("WWW-Authenticate", `Bearer realm="courson"`)
	s.answerError(w, r, refuse(http.StatusUnauthorized, "", "sign in first, or send a token that is valid"))
}

// audited writes a line into the log of changes for every request that writes.
func (s *Server) audited(rt route, next http.Handler) http.Handler {
	if rt.method == http.MethodGet {
		return next
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		a := askerOf(r.Context())
		if a.Name == "" && s.noUsers(r) {
			next.ServeHTTP(w, r) // there is nobody to name
			return
		}
		rec := &recorder{ResponseWriter: w}
		defer func() {
			if rec.status == 0 { // a fault on its way to watch
				rec.status = http.StatusInternalServerError
			}
			s.note(r, a.Who, rt.pattern, a.target, rec.status)
		}()
		next.ServeHTTP(rec, r)
	})
}

func (s *Server) noUsers(r *http.Request) bool {
	open, err := s.gate.Open(r.Context())
	return err == nil && open
}

// auditPatience is how long the store may take for a line of the log of changes.
const auditPatience = 5 * time.Second

// note writes the line, also where the caller has left meanwhile.
func (s *Server) note(r *http.Request, who access.Who, pattern, target string, status int) {
	if target == "" {
		target = r.URL.Path
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), auditPatience)
	defer cancel()
	err := s.gate.Note(ctx, access.Act{User: who.Name, Role: who.Role, Method: r.Method, Route: pattern,
		Target: target, Status: status, Request: requestID(r.Context())})
	if err != nil {
		s.log.LogAttrs(ctx, slog.LevelError, "a change is missing from the log of changes", slog.String("user", who.Name),
			slog.String("route", pattern), slog.String("request", requestID(r.Context())), slog.Any("error", err))
	}
}

// whileAllowed ends an answer without end once who asked may not have it any more.
func (s *Server) whileAllowed(rule access.Rule, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		ctx, cancel := context.WithCancel(r.Context())
		watched := make(chan struct{})
		defer func() { cancel(); <-watched }()
		asked := r.WithContext(ctx)
		go func() {
			defer close(watched)
			beat := time.NewTicker(s.heartbeat)
			defer beat.Stop()
			for {
				select {
				case <-ctx.Done():
					return
				case <-beat.C:
				}
				who, err := s.whoIs(asked, s.gate.Still)
				var no *refusal
				if errors.Is(err, errNobody) || errors.As(err, &no) || err == nil && !rule.Allows(who.Role) {
					cancel()
					return
				}
			}
		}()
		next.ServeHTTP(w, asked)
	})
}

// placeOf gives where a request is from, for the limits on guessing and nothing
// else. Behind the declared proxy that is the last address it added; an IPv6
// network counts as one.
func (s *Server) placeOf(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	addr, err := netip.ParseAddr(host)
	if err != nil {
		return host
	}
	if s.cfg.PublicURL != "" && (addr.IsLoopback() || addr.IsPrivate()) {
		if passed := r.Header.Values("X-Forwarded-For"); len(passed) > 0 {
			last := passed[len(passed)-1]
			if said, err := netip.ParseAddr(strings.TrimSpace(last[strings.LastIndexByte(last, ',')+1:])); err == nil {
				addr = said
			}
		}
	}
	addr = addr.Unmap().WithZone("")
	if addr.Is6() {
		if net, err := addr.Prefix(64); err == nil {
			return net.String()
		}
	}
	return addr.String()
}
