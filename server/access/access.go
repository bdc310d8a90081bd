// Package access knows who may do what: users with passwords, their sessions,
// tokens for programs, links that bind a crew's phone, the table of what each
// role may do, limits on guessing, and the log of who changed what.
//
// Everything that another server on the same store must know stands in the store
// as papers; of secrets only hashes are kept. Only the limits on guessing live in
// memory. The package knows no HTTP.
package access

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"courson/geo/vine"
	"courson/store"
)

// Kinds of papers that the package keeps.
const (
	kindUser     store.PaperKind = "user"
	kindSession  store.PaperKind = "session"
	kindToken    store.PaperKind = "token"
	kindLink     store.PaperKind = "crew-link"
	kindAudit    store.PaperKind = "audit"
	kindOrder    store.PaperKind = "order"    // kept by others, read here
	kindWeighing store.PaperKind = "weighing" // the same
	kindReview   store.PaperKind = "gap-review"
)

// What can be wrong with a call, beside what the store says.
var (
	ErrSignIn    = errors.New("the name or the password is not right")
	ErrNoSession = errors.New("nobody is signed in")
	ErrJoin      = errors.New("this link cannot be used: it was used already, has expired or was withdrawn; ask for a new one")
)

// InputError says which field of a request cannot be used, and why.
type InputError struct{ Field, Text string }

func (e *InputError) Error() string { return e.Text }

func wrong(field, format string, args ...any) error {
	return &InputError{field, fmt.Sprintf(format, args...)}
}

// LimitError says that there were too many tries, and how long to wait.
type LimitError struct{ Wait time.Duration }

func (e *LimitError) Error() string {
	return fmt.Sprintf("too many tries; wait %d seconds", e.Seconds())
}

// Seconds is the wait in whole seconds, at least 1.
func (e *LimitError) Seconds() int { return max(1, int((e.Wait+time.Second-1)/time.Second)) }

// Covers tells whether a crew has open work in a row; in row 0, a whole block, none has.
type Covers func(ctx context.Context, crew string, row vine.ID) (bool, error)

// Config of a Gate. Only Store must be set.
type Config struct {
	Store  store.Store
	Now    func() time.Time // nil: time.Now
	Covers Covers           // nil: by the papers of kind "order"

	Idle  time.Duration // a session ends when it was not used for so long; 0: 24 hours
	Life  time.Duration // … and in any case so long after signing in; 0: 14 days
	Join  time.Duration // a crew link waits so long for its device; 0: 24 hours
	Bound time.Duration // a device stays joined for so long; 0: 14 days
}

// Gate answers who somebody is. Its methods may be called from several goroutines.
type Gate struct {
	cfg      Config
	hasher   *hasher
	accounts *limiter
	places   *limiter
	seen     atomic.Bool // users were seen: never open again in this process
}

// New makes a gate.
func New(cfg Config) *Gate {
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	cfg.Idle = orElse(cfg.Idle, 24*time.Hour)
	cfg.Life = orElse(cfg.Life, 14*24*time.Hour)
	cfg.Join = orElse(cfg.Join, 24*time.Hour)
	cfg.Bound = orElse(cfg.Bound, 14*24*time.Hour)
	g := &Gate{cfg: cfg, hasher: newHasher(), accounts: newLimiter(accountTries, accountEvery), places: newLimiter(placeTries, placeEvery)}
	if g.cfg.Covers == nil {
		g.cfg.Covers = g.coveredByOrders
	}
	return g
}

func orElse(d, otherwise time.Duration) time.Duration {
	if d > 0 {
		return d
	}
	return otherwise
}

// Who asks for something.
type Who struct {
	Name   string // the user, the name of the token or of the device; "" where there are no users
	Role   Role
	Crew   string // of role crew: whose rows
	Device bool   // joined by a crew link: no account behind it
	Token  bool   // a program with a token

	session string // key of the session
}

// Open tells whether there are no users at all, so that anybody on this machine
// may do everything. Once a gate has seen users it is never open again.
func (g *Gate) Open(ctx context.Context) (bool, error) {
	if g.seen.Load() {
		return false, nil
	}
	list, err := g.cfg.Store.Papers(ctx, store.PaperQuery{Kind: kindUser})
	if err != nil {
		return false, err
	}
	if len(list) > 0 {
		g.seen.Store(true)
	}
	return len(list) == 0, nil
}

// newSecret makes a secret of so many random bytes, and the key under which its
// hash is kept. 32 bytes cannot be guessed: no slow hash is needed.
func newSecret(prefix string, n int) (secret, key string) {
	raw := make([]byte, n)
	_, _ = rand.Read(raw) // never fails
	secret = prefix + base64.RawURLEncoding.EncodeToString(raw)
	return secret, keyOf(secret)
}

// keyOf is what is kept of a secret.
func keyOf(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

// mostSecret is the length in bytes beyond which nothing is a secret of ours.
const mostSecret = 200

// reader is what both the store and a transaction can do.
type reader interface {
	Papers(ctx context.Context, q store.PaperQuery) ([]store.Paper, error)
}

// paper reads the newest paper of a key; false where there is none.
func paper(ctx context.Context, from reader, kind store.PaperKind, key string, into any) (bool, error) {
	list, err := from.Papers(ctx, store.PaperQuery{Kind: kind, Key: key})
	if err != nil || len(list) == 0 {
		return false, err
	}
	if err := json.Unmarshal(list[0].Value, into); err != nil {
		return false, fmt.Errorf("read a paper of kind %s: %w", kind, err)
	}
	return true, nil
}

// save writes a paper; nil takes it away.
func (g *Gate) save(tx store.Tx, kind store.PaperKind, key, by string, value any) error {
	body := []byte("{}")
	if value != nil {
		var err error
		if body, err = json.Marshal(value); err != nil {
			return err
		}
	}
	return tx.SavePaper(store.Paper{Kind: kind, Key: key, Made: g.cfg.Now(), By: by, Value: body})
}
