package server

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestSignIn_Cookies(t *testing.T) {
	g := newGated(t, gpkgPlace(t))
	_, behind := serve(t, g.store, func(c *Config) { c.PublicURL = "https://vines.example" })
	for base, name := range map[string]string{g.web.URL: "courson", behind.URL: "__Host-courson"} {
		a := askAt(t, base, http.MethodPost, "/api/signin", map[string]string{"name": " ada", "password": goodPassword})
		var me meJSON
		a.into(t, &me)
		assert.Equal(t, meJSON{"Ada", "manager", ""}, me)
		c := cookieOf(t, a)
		assert.Equal(t, name, c.Name)
		assert.True(t, c.HttpOnly)
		assert.Equal(t, http.SameSiteLaxMode, c.SameSite)
		assert.Equal(t, name != "courson", c.Secure)
		assert.Equal(t, "/", c.Path)
		assert.Empty(t, c.Domain)
		assert.GreaterOrEqual(t, len(c.Value), 43, "256 random bits")
		assert.Equal(t, 14*24*3600, c.MaxAge)
		assert.Equal(t, "no-store", a.header.Get("Cache-Control"))
		a = askAt(t, base, http.MethodGet, "/api/estate", nil, with(c)...)
		assert.Equal(t, http.StatusOK, a.status)
		assert.Equal(t, "private, no-cache", a.header.Get("Cache-Control"))
		a = askAt(t, base, http.MethodPost, "/api/signout", nil, with(c)...)
		assert.Equal(t, http.StatusNoContent, a.status)
		assert.Equal(t, -1, cookieOf(t, a).MaxAge)
		assert.Equal(t, http.StatusUnauthorized, askAt(t, base, http.MethodGet, "/api/estate", nil, with(c)...).status)
	}
}

// A session of before signing in does not go on after it.
func TestSignIn_EndsTheSessionBefore(t *testing.T) {
	g := newGated(t, gpkgPlace(t))
	before := g.signIn("Cia")
	a := g.ask(http.MethodPost, "/api/signin", map[string]string{"name": "Ada", "password": goodPassword}, before...)
	assert.NotEqual(t, before[1], "courson="+cookieOf(t, a).Value)
	assert.Equal(t, http.StatusUnauthorized, g.get("/api/me", before...).status)
}

func TestSignIn_TellsNothing(t *testing.T) {
	g := newGated(t, gpkgPlace(t))
	try := func(name, password string) answer {
		return g.ask(http.MethodPost, "/api/signin", map[string]string{"name": name, "password": password})
	}
	known, unknown := try("Ada", "not the password"), try("Zoe", "not the password")
	assert.Equal(t, http.StatusUnauthorized, known.status)
	assert.Equal(t, known.status, unknown.status)
	assert.Equal(t, known.problem(t).Detail, unknown.problem(t).Detail)
	assert.Empty(t, known.header.Values("Set-Cookie"))
	for range 9 {
		try("Zoe", "x")
	}
	a := try("Zoe", "x")
	require.Equal(t, http.StatusTooManyRequests, a.status)
	assert.Equal(t, "30", a.header.Get("Retry-After"))
	a.problem(t)
	g.wait(30 * time.Second)
	assert.Equal(t, http.StatusUnauthorized, try("Zoe", "x").status)
}

// Behind the proxy each client is limited by itself; what a client claims of
// itself counts for nothing.
func TestSignIn_LimitsBehindAProxy(t *testing.T) {
	g := newGated(t, gpkgPlace(t))
	_, behind := serve(t, g.store, func(c *Config) { c.PublicURL = "https://vines.example" })
	try := func(base, forwarded string, i int) int {
		return askAt(t, base, http.MethodPost, "/api/signin", map[string]string{"name": fmt.Sprintf("user %d of %d", i, len(base)), "password": "x"},
			"X-Forwarded-For", forwarded).status
	}
	for i := range 20 {
		require.Equal(t, 401, try(behind.URL, fmt.Sprintf("203.0.113.%d, 198.51.100.1", i), i))
	}
	assert.Equal(t, 429, try(behind.URL, "203.0.113.99, 198.51.100.1", 21), "the address that the proxy saw")
	assert.Equal(t, 401, try(behind.URL, "203.0.113.99, 198.51.100.2", 22))
	assert.Equal(t, 401, try(behind.URL, "2001:db8::1", 23))
	for i := range 20 {
		require.Equal(t, 401, try(g.web.URL, fmt.Sprint("203.0.113.", i), i))
	}
	assert.Equal(t, 429, try(g.web.URL, "203.0.113.200", 21), "without a declared proxy the header is anybody's")
}

func TestSignIn_Form(t *testing.T) {
	g := newGated(t, gpkgPlace(t))
	post := func(query, form string, headers ...string) answer {
		return g.ask(http.MethodPost, "/signin"+query, form, append([]string{"Content-Type", "application/x-www-form-urlencoded"}, headers...)...)
	}
	right := url.Values{"name": {"Ada"}, "password": {goodPassword}}.Encode()
	for then, want := range map[string]string{
		"": "/", "/report": "/report", "/report?block=H3&x=%2F": "/report?block=H3&x=%2F", "/field": "/field",
		"//evil.example": "/", "///evil.example": "/", "/\\evil.example": "/", "https://evil.example/": "/", "javascript:alert(1)": "/",
		"/\t/evil.example": "/", "\\\\evil.example": "/", "evil.example": "/", "/%5cevil.example": "/", "/%2f/evil.example": "/",
		"/a\r\nSet-Cookie: x=y": "/", "/" + strings.Repeat("x", 3000): "/", "/%zz": "/",
	} {
		a := post("?then="+url.QueryEscape(then), right)
		require.Equal(t, http.StatusSeeOther, a.status, "%q: %s", then, a.body)
		assert.Equal(t, want, a.header.Get("Location"), "%q", then)
		assert.Equal(t, http.StatusOK, g.get("/api/me", with(cookieOf(t, a))...).status)
	}
	a := post("?then=/report", "name=Ada&password=wrong")
	assert.Equal(t, http.StatusUnauthorized, a.status)
	assert.Contains(t, string(a.body), `<p id="wrong">`)
	assert.Contains(t, string(a.body), `<p id="often" hidden>`)
	assert.Equal(t, "text/html; charset=utf-8", a.header.Get("Content-Type"))
	for range 10 {
		a = post("", "name=Ada&password=wrong")
	}
	assert.Equal(t, http.StatusTooManyRequests, a.status)
	assert.Contains(t, string(a.body), `<p id="often">`)
	assert.NotEmpty(t, a.header.Get("Retry-After"))
	assert.Equal(t, http.StatusForbidden, post("", right, "Sec-Fetch-Site", "cross-site").status, "a page of another site signs nobody in")
	assert.Equal(t, http.StatusForbidden, post("", right, "Origin", "https://evil.example").status)
	assert.Equal(t, http.StatusUnsupportedMediaType, g.ask(http.MethodPost, "/signin", "{}").status)
	assert.Equal(t, http.StatusRequestEntityTooLarge, post("", "name="+strings.Repeat("x", 9000)).status)
	assert.Equal(t, http.StatusBadRequest, post("", "%zz").status)
}
