package access

import (
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/gpkg"
	"courson/store/postgis"
)

const good = "vier Reben am Hang"

// clock is a clock that tests move.
type clock struct{ now atomic.Int64 }

func newClock() *clock {
	c := &clock{}
	c.now.Store(time.Date(2027, 1, 20, 10, 0, 0, 0, time.UTC).UnixNano())
	return c
}

func (c *clock) Now() time.Time        { return time.Unix(0, c.now.Load()).UTC() }
func (c *clock) move(by time.Duration) { c.now.Add(int64(by)) }

// eachStore runs a test with both stores, as far as they are there. open opens the
// same data again, as another server would.
func eachStore(t *testing.T, test func(t *testing.T, open func() store.Store)) {
	t.Run("gpkg", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "estate.gpkg")
		test(t, func() store.Store {
			st, err := gpkg.Open(t.Context(), path, gpkg.Options{Create: true})
			require.NoError(t, err)
			t.Cleanup(func() { require.NoError(t, st.Close()) })
			return st
		})
	})
	t.Run("postgis", func(t *testing.T) {
		server := os.Getenv("COURSON_TEST_POSTGIS")
		if server == "" {
			if os.Getenv("COURSON_TEST_REQUIRE") == "1" {
				t.Fatal("COURSON_TEST_POSTGIS is not set and COURSON_TEST_REQUIRE=1 asks for it")
			}
			t.Skip("COURSON_TEST_POSTGIS is not set: it names a PostGIS server where databases may be made")
		}
		address := ownDatabase(t, server)
		test(t, func() store.Store {
			st, err := postgis.Open(t.Context(), address, postgis.Options{Create: true, Estate: "access", MaxConns: 4})
			require.NoError(t, err)
			t.Cleanup(func() { require.NoError(t, st.Close()) })
			return st
		})
	})
}

func newGate(t *testing.T, st store.Store, c *clock) *Gate {
	t.Helper()
	return New(Config{Store: st, Now: c.Now})
}

func addUser(t *testing.T, g *Gate, name string, role Role, crew string) {
	t.Helper()
	_, made, err := g.SaveUser(t.Context(), "test", UserChange{Name: name, Role: role, Crew: crew, Password: good})
	require.NoError(t, err)
	require.True(t, made)
}

func signIn(t *testing.T, g *Gate, name string) Pass {
	t.Helper()
	p, err := g.SignIn(t.Context(), "192.0.2.1", name, good)
	require.NoError(t, err)
	return p
}

func TestUsers(t *testing.T) {
	eachStore(t, func(t *testing.T, open func() store.Store) {
		c := newClock()
		g, other := newGate(t, open(), c), newGate(t, open(), c)
		ctx := t.Context()
		yes, err := g.Open(ctx)
		require.NoError(t, err)
		assert.True(t, yes, "nobody yet")

		_, _, err = g.SaveUser(ctx, "test", UserChange{Name: "Ada", Role: RoleViewer, Password: good})
		assert.ErrorIs(t, err, store.ErrConflict, "the first is a manager")
		addUser(t, g, "Ada  Weber", RoleManager, "")
		yes, err = other.Open(ctx)
		require.NoError(t, err)
		assert.False(t, yes, "another server knows at once")

		u, err := other.User(ctx, " ADA weber ")
		require.NoError(t, err, "letter case and blanks do not matter (RFC 8266)")
		assert.Equal(t, User{Name: "Ada Weber", Role: RoleManager, Made: c.Now(), By: "test"}, u)

		for name, ch := range map[string]UserChange{
			"last manager":   {Name: "ada weber", Role: RoleViewer},
			"no such role":   {Name: "Ben", Role: "owner", Password: good},
			"open":           {Name: "Ben", Role: RoleOpen, Password: good},
			"no role":        {Name: "Ben", Password: good},
			"no password":    {Name: "Ben", Role: RoleViewer},
			"crew unnamed":   {Name: "Ben", Role: RoleCrew, Password: good},
			"viewer of crew": {Name: "Ben", Role: RoleViewer, Crew: "North", Password: good},
			"no name":        {Name: " ", Role: RoleViewer, Password: good},
			"slash":          {Name: "a/b", Role: RoleViewer, Password: good},
			"dots":           {Name: "..", Role: RoleViewer, Password: good},
			"control":        {Name: "a\x00b", Role: RoleViewer, Password: good},
			"long":           {Name: strings.Repeat("x", 61), Role: RoleViewer, Password: good},
			"crew, control":  {Name: "Ben", Role: RoleCrew, Crew: "a\x00b", Password: good},
		} {
			_, _, err := g.SaveUser(ctx, "test", ch)
			assert.Error(t, err, name)
		}
		assert.ErrorIs(t, g.RemoveUser(ctx, "test", "Ada Weber"), store.ErrConflict)
		addUser(t, g, "Ben", RoleManager, "")
		require.NoError(t, g.RemoveUser(ctx, "test", "ada weber"))
		list, err := other.Users(ctx)
		require.NoError(t, err)
		require.Len(t, list, 1)
		assert.Equal(t, "Ben", list[0].Name)
		assert.ErrorIs(t, g.RemoveUser(ctx, "test", "ada weber"), store.ErrNotFound)
	})
}

func TestSessions(t *testing.T) {
	eachStore(t, func(t *testing.T, open func() store.Store) {
		c := newClock()
		st := open()
		g, other := newGate(t, st, c), newGate(t, open(), c)
		ctx := t.Context()
		addUser(t, g, "Ada", RoleManager, "")
		addUser(t, g, "Ben", RoleCrew, "North")
		lives := func(p Pass) bool {
			t.Helper()
			_, err := other.Session(ctx, p.Secret)
			if err != nil {
				require.ErrorIs(t, err, ErrNoSession)
			}
			return err == nil
		}

		p := signIn(t, g, "ben")
		who, err := other.Session(ctx, p.Secret)
		require.NoError(t, err)
		assert.Equal(t, Who{Name: "Ben", Role: RoleCrew, Crew: "North", session: keyOf(p.Secret)}, who)
		_, _, err = g.SaveUser(ctx, "test", UserChange{Name: "Ben", Role: RoleViewer})
		require.NoError(t, err)
		who, err = other.Session(ctx, p.Secret)
		require.NoError(t, err)
		assert.Equal(t, RoleViewer, who.Role, "the role of now")

		for _, wrong := range []struct{ name, password string }{{"Ben", good + "x"}, {"Ben", ""}, {"Zoe", good}, {"", good}, {"..", good}, {"Ben", "\x00"}} {
			_, err := g.SignIn(ctx, "192.0.2.2", wrong.name, wrong.password)
			assert.Equal(t, ErrSignIn, err, "the same for whatever is wrong")
		}
		for _, forged := range []string{"", "x", keyOf(p.Secret), p.Secret + "x", strings.Repeat("A", 5000)} {
			_, err := g.Session(ctx, forged)
			assert.ErrorIs(t, err, ErrNoSession)
		}

		c.move(23 * time.Hour)
		assert.True(t, lives(p), "used within a day")
		c.move(23 * time.Hour)
		assert.True(t, lives(p), "the use counted")
		c.move(24 * time.Hour)
		assert.False(t, lives(p), "not used for a day")
		p = signIn(t, g, "Ben")
		for range 27 {
			c.move(12 * time.Hour)
			assert.True(t, lives(p))
		}
		c.move(12 * time.Hour)
		assert.False(t, lives(p), "14 days after signing in, used or not")

		p = signIn(t, g, "Ben")
		_, err = g.Still(ctx, p.Secret)
		require.NoError(t, err)
		c.move(20 * time.Hour)
		_, err = g.Still(ctx, p.Secret)
		require.NoError(t, err)
		c.move(5 * time.Hour)
		assert.False(t, lives(p), "looking is no use")

		a, b := signIn(t, g, "Ben"), signIn(t, g, "Ben")
		require.NoError(t, g.SignOut(ctx, a.Secret, false))
		assert.False(t, lives(a))
		assert.True(t, lives(b))
		g.touch(ctx, keyOf(a.Secret), "Ben")
		assert.False(t, lives(a), "a late touch brings nothing back")
		a = signIn(t, g, "Ben")
		require.NoError(t, g.SignOut(ctx, a.Secret, true))
		assert.False(t, lives(a))
		assert.False(t, lives(b), "everywhere")
		require.NoError(t, g.SignOut(ctx, "nothing", true))

		a, b = signIn(t, g, "Ben"), signIn(t, g, "Ben")
		next, err := g.ChangePassword(ctx, "192.0.2.1", a.Who, good, "sieben Reben im Tal")
		require.NoError(t, err)
		assert.False(t, lives(a))
		assert.False(t, lives(b), "the others end")
		assert.True(t, lives(next))
		_, err = g.SignIn(ctx, "192.0.2.1", "Ben", good)
		assert.ErrorIs(t, err, ErrSignIn)
		_, err = g.ChangePassword(ctx, "192.0.2.1", next.Who, good, good+" 3")
		var no *InputError
		require.ErrorAs(t, err, &no)
		assert.Equal(t, "now", no.Field)

		require.NoError(t, g.RemoveUser(ctx, "test", "Ben"))
		assert.False(t, lives(next))
		addUser(t, g, "Ben", RoleManager, "")
		assert.False(t, lives(next), "a new user of the same name is another one")
	})
}

func TestLimits(t *testing.T) {
	st, err := gpkg.Open(t.Context(), filepath.Join(t.TempDir(), "e.gpkg"), gpkg.Options{Create: true})
	require.NoError(t, err)
	defer st.Close()
	c := newClock()
	g := newGate(t, st, c)
	addUser(t, g, "Ada", RoleManager, "")
	guess := func(place, name string) error {
		_, err := g.SignIn(t.Context(), place, name, "not the password")
		return err
	}
	// An account that is there and one that is not are treated alike.
	for _, name := range []string{"Ada", "Zoe"} {
		for i := range accountTries {
			require.ErrorIs(t, guess(uuid.NewString(), name), ErrSignIn, "%s %d", name, i)
		}
		var limit *LimitError
		require.ErrorAs(t, guess(uuid.NewString(), name), &limit)
		assert.Equal(t, 30, limit.Seconds())
	}
	_, err = g.SignIn(t.Context(), "192.0.2.9", "Ada", good)
	var limit *LimitError
	require.ErrorAs(t, err, &limit, "not even with the right one")
	c.move(30 * time.Second)
	_, err = g.SignIn(t.Context(), "192.0.2.9", "Ada", good)
	require.NoError(t, err)

	for range placeTries {
		require.ErrorIs(t, guess("192.0.2.7", uuid.NewString()), ErrSignIn)
	}
	require.ErrorAs(t, guess("192.0.2.7", "someone"), &limit, "an address that tries many names")
	require.ErrorIs(t, guess("192.0.2.8", "someone"), ErrSignIn)
	for range placeTries + 5 {
		_, err := g.SignIn(t.Context(), "192.0.2.10", "Ada", good)
		require.NoError(t, err, "who knows the password is not slowed")
	}
}

// Of every secret only a hash is in the store, in any version.
func TestSecretsAreNotStored(t *testing.T) {
	st, err := gpkg.Open(t.Context(), filepath.Join(t.TempDir(), "e.gpkg"), gpkg.Options{Create: true})
	require.NoError(t, err)
	defer st.Close()
	g := newGate(t, st, newClock())
	addUser(t, g, "Ada", RoleManager, "")
	p := signIn(t, g, "Ada")
	_, token, err := g.MakeToken(t.Context(), "Ada", "Probe", RoleViewer, 1)
	require.NoError(t, err)
	_, code, err := g.MakeLink(t.Context(), "Ada", "North", 0, 0)
	require.NoError(t, err)
	d, err := g.Join(t.Context(), "x", code, "phone")
	require.NoError(t, err)
	seen := 0
	for _, kind := range []store.PaperKind{kindUser, kindSession, kindToken, kindLink, kindAudit} {
		list, err := st.Papers(t.Context(), store.PaperQuery{Kind: kind, Versions: true})
		require.NoError(t, err)
		for _, paper := range list {
			seen++
			for _, secret := range []string{good, p.Secret, token, code, d.Secret} {
				assert.NotContains(t, paper.Key+paper.By+string(paper.Value), secret)
			}
		}
	}
	assert.Equal(t, 6, seen)
}

func TestAudit(t *testing.T) {
	eachStore(t, func(t *testing.T, open func() store.Store) {
		c := newClock()
		g, other := newGate(t, open(), c), newGate(t, open(), c)
		ctx := t.Context()
		for i, target := range []string{"/api/users/Ben", "odd \x00\xff " + strings.Repeat("ü", 400)} {
			require.NoError(t, g.Note(ctx, Act{User: "Ada", Role: RoleManager, Method: "PUT", Route: "/api/users/{name}", Target: target, Status: 200 + i}))
		}
		c.move(24 * time.Hour)
		require.NoError(t, other.Note(ctx, Act{User: "Ben", Status: 403}))
		day, list, err := other.Acts(ctx, "2027-01-20")
		require.NoError(t, err)
		assert.Equal(t, "2027-01-20", day)
		require.Len(t, list, 2, "every line is kept")
		assert.Equal(t, 201, list[0].Status, "newest first")
		assert.Less(t, len(list[0].Target), 310)
		assert.Equal(t, "Ada", list[1].User)
		day, list, err = g.Acts(ctx, "")
		require.NoError(t, err)
		assert.Equal(t, "2027-01-21", day)
		assert.Len(t, list, 1)
		days, err := g.Days(ctx)
		require.NoError(t, err)
		assert.Equal(t, []string{"2027-01-20", "2027-01-21"}, days)
		_, _, err = g.Acts(ctx, "yesterday")
		assert.Error(t, err)
	})
}

func TestCoveredByOrders(t *testing.T) {
	st, err := gpkg.Open(t.Context(), filepath.Join(t.TempDir(), "e.gpkg"), gpkg.Options{Create: true})
	require.NoError(t, err)
	defer st.Close()
	for key, value := range map[string]string{
		"1": `{"crew": "North", "block": 7, "state": "open", "rows": [{"row": 71}, {"row": 72}]}`,
		"2": `{"crew": "North", "block": 7, "state": "withdrawn", "rows": [{"row": 73}]}`,
		"3": `{"crew": "South", "block": 7, "state": "open", "rows": [{"row": 74}]}`,
		"4": `{"crew": "", "block": 7, "state": "open", "rows": [{"row": 75}]}`,
	} {
		require.NoError(t, st.Update(t.Context(), func(tx store.Tx) error {
			return tx.SavePaper(store.Paper{Kind: kindOrder, Key: key, Season: 2027, Value: []byte(value)})
		}))
	}
	g := newGate(t, st, newClock())
	for _, c := range []struct {
		crew string
		row  vine.ID
		want bool
	}{
		{"North", 71, true}, {"North", 72, true}, {"North", 73, false}, {"North", 74, false}, {"South", 74, true},
		{"North", 0, false}, {"", 75, false}, {"north", 71, false},
	} {
		got, err := g.Covers(t.Context(), c.crew, c.row)
		require.NoError(t, err)
		assert.Equal(t, c.want, got, "%v", c)
	}
}

func TestRules_NoRouteTwice(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range Rules() {
		key := r.Method + " " + r.Pattern
		assert.False(t, seen[key], key)
		seen[key] = true
		assert.NotEqual(t, r.Public, len(r.Who) > 0, key)
		assert.False(t, r.Page && (r.Public || r.Method != "GET"), key)
		if !r.Public {
			assert.True(t, r.Allows(RoleManager), "%s: a manager may do everything", key)
		}
		assert.False(t, !r.Public && r.Allows(""), key)
	}
}
