package server

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/server/access"
	"courson/store"
)

// logText keeps what is logged.
type logText struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *logText) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *logText) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// No password, token, code or cookie comes into the log, the log of changes, the
// metrics or a later answer, also where something goes wrong.
func TestSecrets_NotInLogs(t *testing.T) {
	var log logText
	g := newGated(t, gpkgPlace(t), func(c *Config) {
		c.Logger = slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))
		c.Access.Covers = func(_ context.Context, _ string, _ int64) (bool, error) { return false, fmt.Errorf("a fault") }
	})
	secrets := map[string]string{"password": goodPassword, "new password": "sieben Reben im Tal", "wrong password": "hunter two hunter"}
	ada := g.signIn("Ada")
	secrets["cookie"] = strings.TrimPrefix(ada[1], "courson=")
	token := g.token("viewer")
	secrets["token"] = strings.TrimPrefix(token[1], "Bearer ")
	_, code := g.link("North")
	secrets["code"] = code
	a := g.ask(http.MethodPost, "/api/join", map[string]string{"code": code, "device": "Ana's phone"})
	device := with(cookieOf(t, a))
	secrets["device"] = strings.TrimPrefix(device[1], "courson=")

	g.ask(http.MethodPost, "/api/signin", map[string]string{"name": "Ada", "password": secrets["wrong password"]})
	g.ask(http.MethodPost, "/api/signin", map[string]string{"name": secrets["wrong password"], "password": "x"}) // typed into the wrong field
	g.ask(http.MethodPost, "/signin?then=/report", url.Values{"name": {"Ada"}, "password": {goodPassword}}.Encode(), "Content-Type", "application/x-www-form-urlencoded")
	g.ask(http.MethodPost, "/api/join", map[string]string{"code": code, "device": "another"})
	g.get("/api/estate", token...)
	g.get("/api/estate", "Authorization", "Bearer "+code)
	require.Equal(t, 500, g.ask(http.MethodPost, "/api/events", map[string]any{"events": []any{g.done(g.home, g.home.vines[0].ID)}}, device...).status)
	require.Equal(t, 201, g.ask(http.MethodPut, "/api/users/Eve", map[string]string{"role": "viewer", "password": secrets["new password"]}, ada...).status)
	g.ask(http.MethodPut, "/api/users/Eve", map[string]string{"role": "owner", "password": secrets["new password"]}, ada...)
	g.ask(http.MethodPut, "/api/me/password", map[string]string{"now": secrets["wrong password"], "new": secrets["new password"]}, ada...)
	acts := string(g.get("/api/audit", ada...).body)
	shown := string(g.get("/api/users", ada...).body) + string(g.get("/api/tokens", ada...).body) + string(g.get("/api/crew-links", ada...).body) + string(g.get("/metrics", ada...).body)
	g.ask(http.MethodPost, "/api/signout", nil, ada...)

	require.Contains(t, log.String(), "route=/api/signin")
	require.Contains(t, log.String(), "a fault")
	require.Contains(t, acts, "/api/signin")
	for name, secret := range secrets {
		for where, text := range map[string]string{"the log": log.String(), "the log of changes": acts, "an answer": shown} {
			assert.NotContains(t, text, secret, "%s in %s", name, where)
			assert.NotContains(t, text, url.QueryEscape(secret), "%s in %s", name, where)
		}
	}
	assert.NotContains(t, log.String()+acts+shown, "argon2")
}

func TestAudit_WhoChangedWhat(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		g := newGated(t, p)
		ada, ben, cia := g.signIn("Ada"), g.signIn("Ben"), g.signIn("Cia")
		device, link := g.join("North")
		g.order("1", "North", "open", g.home, 0)
		g.get("/api/estate", cia...) // reading is not written down, nor what keeps nothing
		g.ask(http.MethodPost, "/api/blocks/H3/pruning/preview", map[string]any{"season": 2027}, ben...)
		g.ask(http.MethodPost, "/api/pruning/renewal", map[string]any{}, cia...)
		g.ask(http.MethodPost, "/api/events", map[string]any{"events": []any{g.done(g.home, g.home.vines[0].ID)}}, device...)
		g.ask(http.MethodPut, "/api/blocks/H3/standards", map[string]any{"standards": map[string]any{}}, ben...)
		g.ask(http.MethodPut, "/api/blocks/H3/standards", map[string]any{"standards": map[string]any{}}, cia...)
		g.ask(http.MethodPost, "/api/signin", map[string]string{"name": "cia", "password": "wrong"})
		g.ask(http.MethodPost, "/api/signin", map[string]string{"name": "Zoe", "password": "wrong"})
		g.ask(http.MethodDelete, "/api/users/Cia", nil, ada...)
		var made tokenMade
		require.NoError(t, json.Unmarshal(g.ask(http.MethodPost, "/api/tokens", map[string]any{"name": "Weather station", "role": "viewer"}, ada...).body, &made))
		g.ask(http.MethodDelete, "/api/tokens/"+made.ID, nil, ada...)
		g.ask(http.MethodDelete, "/api/tokens/"+made.ID, nil, ada...) // there is none any more
		g.ask(http.MethodDelete, "/api/crew-links/"+link.ID, nil, ada...)
		var got struct {
			Day  string
			Days []string
			Acts []access.Act
		}
		g.get("/api/audit?day=2027-01-20", ada...).into(t, &got)
		assert.Equal(t, []string{"2027-01-20"}, got.Days)
		var lines []string
		for _, a := range got.Acts {
			assert.True(t, a.Time.Equal(testNow), "%v", a.Time)
			assert.Regexp(t, "^[0-9a-f-]{36}$", a.Request)
			lines = append(lines, fmt.Sprintf("%s %s: %s %s %s %d", a.User, a.Role, a.Method, a.Route, a.Target, a.Status))
		}
		assert.Equal(t, []string{
			"Ada manager: DELETE /api/crew-links/{id} link for crew North, phone Ana's phone 204",
			"Ada manager: DELETE /api/tokens/{id} /api/tokens/" + made.ID + " 404",
			"Ada manager: DELETE /api/tokens/{id} token Weather station 204",
			"Ada manager: POST /api/tokens token Weather station 201",
			"Ada manager: DELETE /api/users/{name} /api/users/Cia 204",
			" : POST /api/signin /api/signin 401",
			"Cia viewer: POST /api/signin /api/signin 401",
			"Cia viewer: PUT /api/blocks/{block}/standards /api/blocks/H3/standards 403",
			"Ben agronomist: PUT /api/blocks/{block}/standards /api/blocks/H3/standards 200",
			"Ana's phone crew: POST /api/events /api/events 200",
			"Ana's phone crew: POST /api/join /api/join 200",
			"Ada manager: POST /api/crew-links link for crew North 201",
		}, lines[:12])
		assert.Equal(t, http.StatusUnprocessableEntity, g.get("/api/audit?day=tomorrow", ada...).status)
	})
}

func TestUsers_OverHTTP(t *testing.T) {
	g := newGated(t, gpkgPlace(t))
	ada := g.signIn("Ada")
	put := func(name string, body any) answer { return g.ask(http.MethodPut, "/api/users/"+name, body, ada...) }
	a := put("Eve%20Klein", map[string]string{"role": "crew", "crew": "South", "password": goodPassword})
	require.Equal(t, http.StatusCreated, a.status, "%s", a.body)
	var u access.User
	g.get("/api/users/eve%20klein", ada...).into(t, &u)
	assert.Equal(t, access.User{Name: "Eve Klein", Role: "crew", Crew: "South", Made: testNow, By: "Ada"}, u)
	put("Eve%20Klein", map[string]string{"role": "viewer"}).into(t, &u)
	assert.Equal(t, access.RoleViewer, u.Role)
	assert.Empty(t, u.Crew)
	for body, field := range map[string]string{`{"role":"owner"}`: "role", `{"password":"short"}`: "password", `{"crew":"North"}`: "crew", `{"role":"crew"}`: "crew"} {
		a := put("Eve%20Klein", body)
		assert.Equal(t, http.StatusUnprocessableEntity, a.status, body)
		assert.Equal(t, field, a.problem(t).Field, body)
	}
	assert.Equal(t, http.StatusConflict, put("Ada", `{"role":"viewer"}`).status, "the last manager")
	assert.Equal(t, http.StatusConflict, g.ask(http.MethodDelete, "/api/users/Ada", nil, ada...).status)
	assert.Equal(t, http.StatusNotFound, g.ask(http.MethodDelete, "/api/users/Zoe", nil, ada...).status)
	assert.Equal(t, http.StatusNotFound, g.get("/api/users/Zoe", ada...).status)

	var list struct{ Tokens []access.Token }
	g.token("viewer")
	g.get("/api/tokens", ada...).into(t, &list)
	require.Len(t, list.Tokens, 1)
	assert.Equal(t, http.StatusNoContent, g.ask(http.MethodDelete, "/api/tokens/"+list.Tokens[0].ID, nil, ada...).status)
	g.get("/api/tokens", ada...).into(t, &list)
	assert.Empty(t, list.Tokens)
	_, behind := serve(t, g.store, func(c *Config) { c.PublicURL = "https://vines.example" })
	a = askAt(t, behind.URL, http.MethodPost, "/api/crew-links", map[string]any{"crew": "North"}, "Cookie", strings.Replace(ada[1], "courson=", "__Host-courson=", 1))
	require.Equal(t, http.StatusCreated, a.status, "%s", a.body)
	assert.Contains(t, string(a.body), `"url":"https://vines.example/join#`)
}

// What was made to break things is refused with a reason, and nothing falls over.
func TestAccess_Attacks(t *testing.T) {
	g := newGated(t, gpkgPlace(t))
	ada := g.signIn("Ada")
	for _, path := range []string{
		"/api/users/..%2f..%2fetc%2fpasswd", "/api/users/%2e%2e", "/api/users/a%00b", "/api/users/%ff%fe", "/api/users/" + strings.Repeat("x", 5000),
		"/api/users/%20", "/api/users/a%2Fb", "/api/users/'%20OR%201=1--", "/api/users/a%0d%0aSet-Cookie:x",
	} {
		a := g.get(path, ada...)
		assert.Equal(t, http.StatusNotFound, a.status, "%.60s", path)
		a.problem(t)
		a = g.ask(http.MethodDelete, path, nil, ada...)
		assert.Equal(t, http.StatusNotFound, a.status, "DELETE %.60s", path)
	}
	for _, path := range []string{"/api/users/a%00b", "/api/users/%ff", "/api/users/a%2Fb", "/api/users/" + strings.Repeat("x", 61)} {
		a := g.ask(http.MethodPut, path, map[string]string{"role": "viewer", "password": goodPassword}, ada...)
		assert.Equal(t, http.StatusUnprocessableEntity, a.status, "PUT %.60s: %s", path, a.body)
	}
	for _, path := range []string{"/api/tokens/' OR 1=1", "/api/tokens/%00", "/api/crew-links/" + strings.Repeat("7", 4000)} {
		assert.Equal(t, http.StatusNotFound, g.ask(http.MethodDelete, strings.ReplaceAll(path, " ", "%20"), nil, ada...).status, "%.60s", path)
	}
	for _, cookie := range []string{"courson=", "courson=\"", "courson=" + strings.Repeat("A", 20_000), "courson=%00", "courson=a; courson=b", "courson=../../x",
		"__Host-courson=" + strings.TrimPrefix(ada[1], "courson="), "=x", strings.Repeat("a=b; ", 2000)} {
		assert.Equal(t, http.StatusUnauthorized, g.get("/api/estate", "Cookie", cookie).status, "%.40s", cookie)
	}
	for _, auth := range []string{"Bearer", "Bearer ", "Bearer  ", "bearer x", "Bearer courson_" + strings.Repeat("A", 20_000), "Basic x", "Bearer a b", "Negotiate \xff"} {
		assert.Equal(t, http.StatusUnauthorized, g.get("/api/estate", "Authorization", auth).status, "%.40s", auth)
	}
	assert.Equal(t, http.StatusUnauthorized, g.get("/api/estate", append([]string{"Authorization", "Bearer courson_x"}, ada...)...).status, "a wrong token is not helped by a cookie")
	assert.Equal(t, http.StatusOK, g.get("/api/estate", append([]string{"Authorization", "Basic x"}, ada...)...).status, "another scheme is a proxy's")

	deep := strings.Repeat(`{"name":`, 3000) + "1" + strings.Repeat("}", 3000)
	for body, want := range map[string]int{
		"": 400, "null": 401, "[]": 400, `{"name": 3}`: 400, `{"name": "Ada", "password": "x", "role": "manager"}`: 400, deep: 413,
		`{"name": "` + strings.Repeat("x", 9000) + `"}`: 413, `{"name": "Ada"} {"name": "Ada"}`: 400, `{"name": "\ud800", "password": "\u0000"}`: 401,
		"\xff\xfe": 400, strings.Repeat(`{"name":`, 800): 400,
	} {
		a := g.ask(http.MethodPost, "/api/signin", body)
		assert.Equal(t, want, a.status, "%.60q: %s", body, a.body)
		a.problem(t)
		g.wait(30e9)
	}
	for _, path := range []string{"/api/tokens", "/api/crew-links"} {
		for _, body := range []string{"", "[]", `{"days": 1e99}`, `{"days": -1, "crew": "x", "name": "x"}`, `{"crew": "` + strings.Repeat("x", 20_000) + `"}`, `{"crew": "a\u0000b", "hours": 9999999}`} {
			a := g.ask(http.MethodPost, path, body, ada...)
			assert.Contains(t, []int{400, 413, 422}, a.status, "%s %.60s: %s", path, body, a.body)
			a.problem(t)
		}
	}
	// The words of one role do not make another: nobody can name themselves open.
	for _, role := range []string{"open", "Manager", "manager ", ""} {
		a := g.ask(http.MethodPost, "/api/tokens", map[string]any{"name": "x", "role": role}, ada...)
		assert.Equal(t, http.StatusUnprocessableEntity, a.status, role)
	}
	// Readers of papers written by another hand do not fall over.
	require.NoError(t, g.store.Update(t.Context(), func(tx store.Tx) error {
		return tx.SavePaper(store.Paper{Kind: "token", Key: "odd", Value: []byte(`{"id": 7}`)})
	}))
	assert.Equal(t, http.StatusInternalServerError, g.get("/api/tokens", ada...).status)
	assert.Equal(t, http.StatusOK, g.get("/api/estate", ada...).status)
}
