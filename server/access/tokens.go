package access

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"

	"github.com/google/uuid"

	"courson/store"
)

// Token lets a program in. The secret is shown once, when it is made.
type Token struct {
	ID    string    `json:"id"`
	Name  string    `json:"name"`
	Role  Role      `json:"role"`
	Made  time.Time `json:"made"`
	By    string    `json:"by"`
	Until time.Time `json:"until"`
}

// tokenPrefix tells a token of ours from other secrets, for people and for
// programs that look for secrets in files.
const tokenPrefix = "courson_"

// How long a token lasts, days (chosen by us).
const (
	defaultTokenDays = 90
	mostTokenDays    = 400
)

// MakeToken makes a token; days 0 is 90.
func (g *Gate) MakeToken(ctx context.Context, by, name string, role Role, days int) (Token, string, error) {
	shown, _, err := nameOf(name)
	if err != nil {
		return Token{}, "", err
	}
	if role == RoleCrew || !slices.Contains(Roles(), role) {
		return Token{}, "", wrong("role", "the role of a token is manager, agronomist or viewer, not %q", role)
	}
	if days == 0 {
		days = defaultTokenDays
	}
	if days < 1 || days > mostTokenDays {
		return Token{}, "", wrong("days", "a token lasts 1 to %d days, not %d", mostTokenDays, days)
	}
	secret, key := newSecret(tokenPrefix, 32)
	now := g.cfg.Now().UTC()
	t := Token{ID: uuid.NewString(), Name: shown, Role: role, Made: now, By: by, Until: now.AddDate(0, 0, days)}
	err = g.cfg.Store.Update(ctx, func(tx store.Tx) error { return g.save(tx, kindToken, key, by, t) })
	return t, secret, err
}

// Bearer tells whose token a secret is, ErrNoSession where it is none, has
// expired or was revoked.
func (g *Gate) Bearer(ctx context.Context, secret string) (Who, error) {
	if !strings.HasPrefix(secret, tokenPrefix) || len(secret) > mostSecret {
		return Who{}, ErrNoSession
	}
	var t Token
	found, err := paper(ctx, g.cfg.Store, kindToken, keyOf(secret), &t)
	if err != nil {
		return Who{}, err
	}
	if !found || !g.cfg.Now().Before(t.Until) {
		return Who{}, ErrNoSession
	}
	return Who{Name: t.Name, Role: t.Role, Token: true}, nil
}

// Tokens gives the tokens that were not revoked, the newest first.
func (g *Gate) Tokens(ctx context.Context) ([]Token, error) {
	list, err := g.cfg.Store.Papers(ctx, store.PaperQuery{Kind: kindToken})
	if err != nil {
		return nil, err
	}
	out := make([]Token, 0, len(list))
	for _, p := range list {
		var t Token
		if err := json.Unmarshal(p.Value, &t); err != nil {
			return nil, fmt.Errorf("read a paper of kind %s: %w", p.Kind, err)
		}
		out = append(out, t)
	}
	sort.SliceStable(out, func(i, k int) bool { return out[i].Made.After(out[k].Made) })
	return out, nil
}

// RevokeToken ends a token at once, and gives what it was.
func (g *Gate) RevokeToken(ctx context.Context, by, id string) (t Token, err error) {
	err = g.takeAway(ctx, kindToken, by, id, &t)
	return t, err
}

// takeAway takes away the paper that has an id inside, and reads it into was.
func (g *Gate) takeAway(ctx context.Context, kind store.PaperKind, by, id string, was any) error {
	return g.cfg.Store.Update(ctx, func(tx store.Tx) error {
		list, err := tx.Papers(ctx, store.PaperQuery{Kind: kind})
		if err != nil {
			return err
		}
		for _, p := range list {
			var has struct{ ID string }
			if err := json.Unmarshal(p.Value, &has); err != nil {
				return fmt.Errorf("read a paper of kind %s: %w", kind, err)
			}
			if has.ID == id && id != "" {
				if err := json.Unmarshal(p.Value, was); err != nil {
					return fmt.Errorf("read a paper of kind %s: %w", kind, err)
				}
				return g.save(tx, kind, p.Key, by, nil)
			}
		}
		return fmt.Errorf("%s %.40q: %w", kind, id, store.ErrNotFound)
	})
}
