package server

import (
	"bufio"
	"context"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestHeaders(t *testing.T) {
	f := newFixture(t)
	for _, path := range []string{"/", "/api/estate", "/nowhere", tilePath(t, f.home, 17)} {
		h := f.get(path).header
		csp := h.Get("Content-Security-Policy")
		for _, want := range []string{"default-src 'none'", "script-src 'self'", "worker-src 'self'", "style-src 'self'", "connect-src 'self'",
			"font-src 'self'", "img-src 'self' data:", "manifest-src 'self'", "base-uri 'none'", "object-src 'none'", "frame-ancestors 'none'", "form-action 'self'"} {
			assert.Contains(t, strings.Split(csp, "; "), want, path)
		}
		assert.NotContains(t, csp, "unsafe", path)
		assert.NotContains(t, csp, "blob:", path)
		assert.Equal(t, "nosniff", h.Get("X-Content-Type-Options"), path)
		assert.Equal(t, "same-origin", h.Get("Cross-Origin-Opener-Policy"), path)
		assert.Equal(t, "same-origin", h.Get("Referrer-Policy"), path)
		assert.Empty(t, h.Get("Server"), path)
		assert.Regexp(t, "^[0-9a-f-]{36}$", h.Get("X-Request-Id"), "no host name in it")
	}
	a := f.get("/api/estate", "X-Request-Id", "forged")
	assert.NotEqual(t, "forged", a.header.Get("X-Request-Id"))
}

func TestHost(t *testing.T) {
	f := newFixture(t)
	named, web := serve(t, f.store, func(c *Config) { c.Hosts, c.PublicURL = []string{"Shed.Local:8480"}, "https://vines.example" })
	_ = named
	for _, c := range []struct {
		host         string
		alone, known int
	}{
		{"localhost", 200, 200}, {"LOCALHOST:8480", 200, 200}, {"127.0.0.1", 200, 200}, {"[::1]:80", 200, 200}, {"localhost.", 200, 200},
		{"shed.local", 421, 200}, {"vines.example:443", 421, 200}, {"evil.example", 421, 421}, {"127.0.0.1.evil.example", 421, 421},
		{"localhost.evil.example", 421, 421}, {"evil.example:8480", 421, 421}, {"localhost@evil.example", 421, 421}, {"127.1", 421, 421},
	} {
		t.Run(c.host, func(t *testing.T) {
			assert.Equal(t, c.alone, f.get("/api/estate", "Host", c.host).status, "no names set")
			assert.Equal(t, c.known, askAt(t, web.URL, http.MethodGet, "/api/estate", nil, "Host", c.host).status, "names set")
		})
	}
	p := f.get("/api/estate", "Host", "evil.example").problem(t)
	assert.Contains(t, p.Detail, "evil.example")
}

func TestOnLoopback(t *testing.T) {
	for _, c := range []struct {
		addr net.Addr
		want bool
	}{
		{&net.TCPAddr{IP: net.ParseIP("127.0.0.5")}, true}, {&net.TCPAddr{IP: net.IPv6loopback}, true},
		{&net.TCPAddr{IP: net.ParseIP("192.0.2.7")}, false}, {&net.UnixAddr{Name: "socket"}, true},
	} {
		r := requestOver(t, c.addr)
		assert.Equal(t, c.want, onLoopback(r), "%v", c.addr)
	}
	assert.True(t, onLoopback(requestOver(t, nil)), "not known")
}

func TestCrossOriginWrites(t *testing.T) {
	f := newFixture(t)
	_, named := serve(t, f.store, func(c *Config) { c.PublicURL = "https://vines.example" })
	body := `{"events":[]}`
	for _, c := range []struct {
		name    string
		headers []string
		status  int
	}{
		{"no browser", nil, 200},
		{"own page", []string{"Sec-Fetch-Site", "same-origin"}, 200},
		{"another site", []string{"Sec-Fetch-Site", "cross-site"}, 403},
		{"a sister site", []string{"Sec-Fetch-Site", "same-site"}, 403},
		{"foreign origin", []string{"Origin", "https://evil.example"}, 403},
		{"no origin at all", []string{"Origin", "null"}, 403},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := f.ask(http.MethodPost, "/api/events", body, c.headers...)
			require.Equal(t, c.status, a.status, "%s", a.body)
			if c.status == 403 {
				a.problem(t)
			}
		})
	}
	a := askAt(t, named.URL, http.MethodPost, "/api/events", body, "Origin", "https://vines.example", "Sec-Fetch-Site", "same-origin")
	assert.Equal(t, http.StatusOK, a.status, "behind its proxy")
	assert.Equal(t, http.StatusOK, f.get("/api/estate", "Sec-Fetch-Site", "cross-site").status, "reading changes nothing")
}

func TestPathTraversal(t *testing.T) {
	f := newFixture(t)
	addr := strings.TrimPrefix(f.web.URL, "http://")
	for _, path := range []string{
		"/assets/../server.go", "/assets/..%2f..%2fgo.mod", "/assets/%2e%2e/%2e%2e/go.mod", "/assets//etc/passwd", "/assets/..\\..\\go.mod",
		"/base/../../1/0", "/base/1/0/..%2f..%2f..%2fetc%2fpasswd", "/assets/map/../../index.html%00", "//assets/map/main.js/..",
	} {
		t.Run(path, func(t *testing.T) {
			conn, err := net.DialTimeout("tcp", addr, time.Second)
			require.NoError(t, err)
			defer conn.Close()
			require.NoError(t, conn.SetDeadline(time.Now().Add(5*time.Second)))
			_, err = conn.Write([]byte("GET " + path + " HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"))
			require.NoError(t, err)
			res, err := http.ReadResponse(bufio.NewReader(conn), nil)
			require.NoError(t, err)
			defer res.Body.Close()
			assert.Contains(t, []int{http.StatusNotFound, http.StatusBadRequest}, res.StatusCode)
		})
	}
}

func TestMalformedRequests(t *testing.T) {
	f := newFixture(t)
	addr := strings.TrimPrefix(f.web.URL, "http://")
	for name, raw := range map[string]string{
		"two hosts":       "GET / HTTP/1.1\r\nHost: localhost\r\nHost: evil.example\r\n\r\n",
		"no host":         "GET / HTTP/1.1\r\n\r\n",
		"newline in host": "GET / HTTP/1.1\r\nHost: localhost\r\n evil\r\n\r\n",
		"length and chunks": "POST /api/events HTTP/1.1\r\nHost: localhost\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\nContent-Type: application/json\r\n\r\n" +
			"0\r\n\r\nGET /api/estate HTTP/1.1\r\nHost: localhost\r\n\r\n",
		"absolute address of another host": "GET http://evil.example/api/estate HTTP/1.1\r\nHost: localhost\r\n\r\n",
	} {
		t.Run(name, func(t *testing.T) {
			conn, err := net.DialTimeout("tcp", addr, time.Second)
			require.NoError(t, err)
			defer conn.Close()
			require.NoError(t, conn.SetDeadline(time.Now().Add(5*time.Second)))
			_, err = conn.Write([]byte(raw))
			require.NoError(t, err)
			res, err := http.ReadResponse(bufio.NewReader(conn), nil)
			require.NoError(t, err)
			defer res.Body.Close()
			assert.GreaterOrEqual(t, res.StatusCode, 400)
			assert.Less(t, res.StatusCode, 500)
		})
	}
}

func requestOver(t *testing.T, addr net.Addr) *http.Request {
	ctx := t.Context()
	if addr != nil {
		ctx = context.WithValue(ctx, http.LocalAddrContextKey, addr)
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, "/", nil)
	require.NoError(t, err)
	return r
}
