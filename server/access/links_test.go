package access

import (
	"context"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/store"
)

func TestTokens(t *testing.T) {
	eachStore(t, func(t *testing.T, open func() store.Store) {
		c := newClock()
		g, other := newGate(t, open(), c), newGate(t, open(), c)
		ctx := t.Context()
		tok, secret, err := g.MakeToken(ctx, "Ada", "Weather station", RoleViewer, 30)
		require.NoError(t, err)
		assert.True(t, strings.HasPrefix(secret, "courson_"))
		assert.GreaterOrEqual(t, len(secret), 8+43, "256 random bits")
		who, err := other.Bearer(ctx, secret)
		require.NoError(t, err)
		assert.Equal(t, Who{Name: "Weather station", Role: RoleViewer, Token: true}, who)
		list, err := other.Tokens(ctx)
		require.NoError(t, err)
		assert.Equal(t, []Token{tok}, list)
		for _, forged := range []string{"", "courson_", secret[8:], secret + "x", keyOf(secret), "courson_" + strings.Repeat("x", 500)} {
			_, err := g.Bearer(ctx, forged)
			assert.ErrorIs(t, err, ErrNoSession)
		}
		_, err = g.Session(ctx, secret)
		assert.ErrorIs(t, err, ErrNoSession, "a token is no session")
		c.move(30*24*time.Hour - time.Second)
		_, err = g.Bearer(ctx, secret)
		require.NoError(t, err)
		c.move(time.Second)
		_, err = g.Bearer(ctx, secret)
		assert.ErrorIs(t, err, ErrNoSession, "expired")

		tok, secret, err = g.MakeToken(ctx, "Ada", "Probe", RoleAgronomist, 0)
		require.NoError(t, err)
		assert.Equal(t, c.Now().AddDate(0, 0, 90), tok.Until)
		was, err := other.RevokeToken(ctx, "Ada", tok.ID)
		require.NoError(t, err)
		require.Equal(t, tok.Name, was.Name)
		_, err = g.Bearer(ctx, secret)
		assert.ErrorIs(t, err, ErrNoSession, "revoked")
		for _, id := range []string{tok.ID, ""} {
			_, err = g.RevokeToken(ctx, "Ada", id)
			assert.ErrorIs(t, err, store.ErrNotFound)
		}
		for _, c := range []struct {
			name string
			role Role
			days int
		}{{"", RoleViewer, 1}, {"x", RoleCrew, 1}, {"x", RoleOpen, 1}, {"x", "", 1}, {"x", RoleViewer, -1}, {"x", RoleViewer, 401}} {
			_, _, err := g.MakeToken(ctx, "Ada", c.name, c.role, c.days)
			var no *InputError
			assert.ErrorAs(t, err, &no, "%v", c)
		}
	})
}

func TestLinks(t *testing.T) {
	eachStore(t, func(t *testing.T, open func() store.Store) {
		c := newClock()
		g, other := newGate(t, open(), c), newGate(t, open(), c)
		ctx := t.Context()
		join := func(code string) (Pass, error) { return other.Join(ctx, uuid.NewString(), code, "Ana's phone") }
		l, code, err := g.MakeLink(ctx, "Ada", "North", 0, 0)
		require.NoError(t, err)
		assert.Equal(t, c.Now().Add(24*time.Hour), l.Until)
		assert.GreaterOrEqual(t, len(code), 22, "at least 128 random bits")

		p, err := join(code)
		require.NoError(t, err)
		assert.Equal(t, c.Now().Add(14*24*time.Hour), p.Until)
		who, err := g.Session(ctx, p.Secret)
		require.NoError(t, err)
		assert.Equal(t, Who{Name: "Ana's phone", Role: RoleCrew, Crew: "North", Device: true, session: keyOf(p.Secret)}, who)
		_, err = join(code)
		assert.ErrorIs(t, err, ErrJoin, "one device")
		_, err = g.Session(ctx, code)
		assert.ErrorIs(t, err, ErrNoSession, "a code is no session")
		_, err = g.ChangePassword(ctx, "x", who, "", good)
		assert.Error(t, err, "a device has no password")

		c.move(14*24*time.Hour - time.Second)
		_, err = g.Session(ctx, p.Secret)
		require.NoError(t, err, "a phone may be without signal for long")
		c.move(time.Second)
		_, err = g.Session(ctx, p.Secret)
		assert.ErrorIs(t, err, ErrNoSession)

		_, code, err = g.MakeLink(ctx, "Ada", "North", 2, 3)
		require.NoError(t, err)
		c.move(2 * time.Hour)
		_, err = join(code)
		assert.ErrorIs(t, err, ErrJoin, "too late")

		l, code, err = g.MakeLink(ctx, "Ada", "South", 0, 3)
		require.NoError(t, err)
		p, err = join(code)
		require.NoError(t, err)
		assert.Equal(t, c.Now().Add(3*24*time.Hour), p.Until)
		list, err := other.Links(ctx)
		require.NoError(t, err)
		require.Equal(t, l.ID, list[0].ID)
		assert.Equal(t, "Ana's phone", list[0].Device)
		assert.Equal(t, 3, list[0].Days)
		assert.NotNil(t, list[0].Joined)
		_, err = g.WithdrawLink(ctx, "Ada", l.ID)
		require.NoError(t, err)
		_, err = other.Session(ctx, p.Secret)
		assert.ErrorIs(t, err, ErrNoSession, "withdrawn")

		l, code, err = g.MakeLink(ctx, "Ada", "South", 0, 0)
		require.NoError(t, err)
		_, err = g.WithdrawLink(ctx, "Ada", l.ID)
		require.NoError(t, err)
		_, err = join(code)
		assert.ErrorIs(t, err, ErrJoin, "withdrawn before anybody came")
		_, err = join("no such code")
		assert.ErrorIs(t, err, ErrJoin)
		_, err = join("")
		assert.ErrorIs(t, err, ErrJoin)
	})
}

// However many devices come at once, over two servers, one gets in.
func TestLinks_OneDevice(t *testing.T) {
	eachStore(t, func(t *testing.T, open func() store.Store) {
		c := newClock()
		gates := []*Gate{newGate(t, open(), c), newGate(t, open(), c)}
		_, code, err := gates[0].MakeLink(t.Context(), "Ada", "North", 0, 0)
		require.NoError(t, err)
		var in atomic.Int32
		var all sync.WaitGroup
		for i := range 8 {
			all.Go(func() {
				_, err := gates[i%2].Join(context.Background(), uuid.NewString(), code, "phone")
				if err == nil {
					in.Add(1)
				} else if err != ErrJoin && !strings.Contains(err.Error(), "busy") {
					t.Errorf("device %d: %v", i, err)
				}
			})
		}
		all.Wait()
		assert.EqualValues(t, 1, in.Load())
	})
}
