package access

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"time"
	"unicode"

	"courson/store"
)

// Act is one line of the log of who changed what. It never holds a password or a
// token.
type Act struct {
	Time    time.Time `json:"time"`
	User    string    `json:"user"` // or the name of a token or device
	Role    Role      `json:"role"`
	Method  string    `json:"method"`
	Route   string    `json:"route"`  // pattern
	Target  string    `json:"target"` // what was changed
	Status  int       `json:"status"`
	Request string    `json:"request"` // its id, as in the server's log
}

const dayForm = "2006-01-02"

// Note writes a line into the log. The lines of a day (UTC) are the versions of
// one paper: nothing is ever overwritten.
func (g *Gate) Note(ctx context.Context, a Act) error {
	a.Time = g.cfg.Now().UTC()
	a.Target = shorten(plain(a.Target), 300)
	return g.cfg.Store.Update(ctx, func(tx store.Tx) error {
		return g.save(tx, kindAudit, a.Time.Format(dayForm), a.User, a)
	})
}

// Acts gives the lines of a day, the newest first; "" is today.
func (g *Gate) Acts(ctx context.Context, day string) (string, []Act, error) {
	if day == "" {
		day = g.cfg.Now().UTC().Format(dayForm)
	}
	if _, err := time.Parse(dayForm, day); err != nil {
		return "", nil, wrong("day", "a day is written like 2027-01-20, not %.20q", day)
	}
	list, err := g.cfg.Store.Papers(ctx, store.PaperQuery{Kind: kindAudit, Key: day, Versions: true})
	if err != nil {
		return "", nil, err
	}
	out := make([]Act, 0, len(list))
	for _, p := range list {
		var a Act
		if err := json.Unmarshal(p.Value, &a); err != nil {
			return "", nil, fmt.Errorf("read a paper of kind %s: %w", p.Kind, err)
		}
		out = append(out, a)
	}
	return day, out, nil
}

// Days gives the days that have lines, rising.
func (g *Gate) Days(ctx context.Context) ([]string, error) {
	list, err := g.cfg.Store.Papers(ctx, store.PaperQuery{Kind: kindAudit})
	if err != nil {
		return nil, err
	}
	out := make([]string, 0, len(list))
	for _, p := range list {
		out = append(out, p.Key)
	}
	return out, nil
}

// plain replaces what no store keeps: bytes that are no characters, and control
// characters.
func plain(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return unicode.ReplacementChar
		}
		return r
	}, strings.ToValidUTF8(text, string(unicode.ReplacementChar)))
}

// shorten cuts a text to so many bytes, between characters.
func shorten(text string, most int) string {
	if len(text) <= most {
		return text
	}
	cut := 0
	for i := range text {
		if i > most {
			break
		}
		cut = i
	}
	return text[:cut] + "…"
}
