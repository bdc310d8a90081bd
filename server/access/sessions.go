package access

import (
	"context"
	"time"

	"courson/store"
)

// session is what is kept of somebody signed in, or of a joined device.
type session struct {
	User   string    `json:"user,omitempty"`  // key of the user
	Epoch  string    `json:"epoch,omitempty"` // of the user at signing in
	Link   string    `json:"link,omitempty"`  // of a joined device: key of its link
	Device string    `json:"device,omitempty"`
	Seen   time.Time `json:"seen"`  // last use, not written more often than needed
	Until  time.Time `json:"until"` // the end in any case
}

// Pass is what somebody gets who has signed in or joined.
type Pass struct {
	Secret string // for the cookie; only its hash is kept
	Until  time.Time
	Who    Who
}

// SignIn compares name and password and begins a session. place is where the
// request is from. It gives ErrSignIn, whatever of the two is wrong, and
// *LimitError after too many tries.
func (g *Gate) SignIn(ctx context.Context, place, name, password string) (Pass, error) {
	_, key, err := nameOf(name)
	if err != nil {
		key = "" // as a name that nobody has
	}
	back, err := g.try(key, place)
	if err != nil {
		return Pass{}, err
	}
	a, ok, err := g.checked(ctx, key, password)
	if err != nil {
		return Pass{}, err
	}
	if !ok {
		return Pass{}, ErrSignIn
	}
	back()
	g.seen.Store(true)
	return g.begin(ctx, a.Name, session{User: key, Epoch: a.Epoch}, g.cfg.Life,
		Who{Name: a.Name, Role: a.Role, Crew: a.Crew})
}

// try counts a guess of an account and an address. back takes it off again.
func (g *Gate) try(account, place string) (back func(), err error) {
	now := g.cfg.Now()
	if wait := g.places.take(place, now); wait > 0 {
		return nil, &LimitError{wait}
	}
	if wait := g.accounts.take(account, now); wait > 0 {
		return nil, &LimitError{wait}
	}
	return func() { g.places.giveBack(place, now); g.accounts.giveBack(account, now) }, nil
}

// checked compares a password with that of a user. A user who does not exist
// takes as long.
func (g *Gate) checked(ctx context.Context, key, password string) (account, bool, error) {
	var a account
	if key != "" {
		if _, err := paper(ctx, g.cfg.Store, kindUser, key, &a); err != nil {
			return a, false, err
		}
	}
	spelled, err := spell(password)
	if err != nil { // no password of anybody; still no faster than another
		spelled, a.Password = "", ""
	}
	ok, err := g.hasher.matches(ctx, spelled, a.Password)
	return a, ok, err
}

// begin keeps a new session.
func (g *Gate) begin(ctx context.Context, by string, s session, life time.Duration, who Who) (Pass, error) {
	secret, key := newSecret("", 32)
	s.Seen = g.cfg.Now()
	s.Until = s.Seen.Add(life)
	err := g.cfg.Store.Update(ctx, func(tx store.Tx) error { return g.save(tx, kindSession, key, by, s) })
	who.session = key
	return Pass{secret, s.Until, who}, err
}

// Session tells whose session a secret belongs to, ErrNoSession where it is none
// or has ended. Role and crew are those of now, not of signing in.
func (g *Gate) Session(ctx context.Context, secret string) (Who, error) {
	return g.session(ctx, secret, true)
}

// Still is Session without counting as use.
func (g *Gate) Still(ctx context.Context, secret string) (Who, error) {
	return g.session(ctx, secret, false)
}

func (g *Gate) session(ctx context.Context, secret string, use bool) (Who, error) {
	if secret == "" || len(secret) > mostSecret {
		return Who{}, ErrNoSession
	}
	key := keyOf(secret)
	var s session
	found, err := paper(ctx, g.cfg.Store, kindSession, key, &s)
	if err != nil {
		return Who{}, err
	}
	now := g.cfg.Now()
	if !found || !now.Before(s.Until) || s.Link == "" && now.Sub(s.Seen) >= g.cfg.Idle {
		return Who{}, ErrNoSession
	}
	who, err := g.owner(ctx, s)
	if err != nil {
		return Who{}, err
	}
	who.session = key
	if use && s.Link == "" && now.Sub(s.Seen) > g.cfg.Idle/8 {
		g.touch(ctx, key, who.Name)
	}
	return who, nil
}

// owner gives whose session it is, ErrNoSession where they have gone.
func (g *Gate) owner(ctx context.Context, s session) (Who, error) {
	if s.Link != "" {
		var l link
		found, err := paper(ctx, g.cfg.Store, kindLink, s.Link, &l)
		if err != nil {
			return Who{}, err
		}
		if !found {
			return Who{}, ErrNoSession
		}
		return Who{Name: s.Device, Role: RoleCrew, Crew: l.Crew, Device: true}, nil
	}
	var a account
	found, err := paper(ctx, g.cfg.Store, kindUser, s.User, &a)
	if err != nil {
		return Who{}, err
	}
	if !found || a.Epoch != s.Epoch {
		return Who{}, ErrNoSession
	}
	return Who{Name: a.Name, Role: a.Role, Crew: a.Crew}, nil
}

// touch notes that a session is in use. That it fails ends nothing: the session
// is good until its idle time is over, and the next request tries again.
func (g *Gate) touch(ctx context.Context, key, by string) {
	_ = g.cfg.Store.Update(ctx, func(tx store.Tx) error {
		var s session
		found, err := paper(ctx, tx, kindSession, key, &s)
		if err != nil || !found { // signed out meanwhile: it must not come back
			return err
		}
		s.Seen = g.cfg.Now()
		return g.save(tx, kindSession, key, by, s)
	})
}

// SignOut ends the session of a secret; everywhere ends all sessions of its user.
// A secret without a session is signed out already.
func (g *Gate) SignOut(ctx context.Context, secret string, everywhere bool) error {
	who, err := g.session(ctx, secret, false)
	if err == ErrNoSession {
		return nil
	}
	if err != nil {
		return err
	}
	return g.cfg.Store.Update(ctx, func(tx store.Tx) error {
		if everywhere && !who.Device {
			if err := g.newEpoch(ctx, tx, who.Name, nil); err != nil {
				return err
			}
		}
		return g.save(tx, kindSession, who.session, who.Name, nil)
	})
}

// newEpoch ends all sessions of a user, and changes what else is asked.
func (g *Gate) newEpoch(ctx context.Context, tx store.Tx, name string, change func(*account)) error {
	_, key, err := nameOf(name)
	if err != nil {
		return err
	}
	var a account
	found, err := paper(ctx, tx, kindUser, key, &a)
	if err != nil {
		return err
	}
	if !found {
		return noUser(name)
	}
	a.Epoch, _ = newSecret("", 9)
	if change != nil {
		change(&a)
	}
	return g.save(tx, kindUser, key, a.Name, a)
}

// ChangePassword gives a user who knows the present password a new one. All
// sessions end; the one of the caller begins anew.
func (g *Gate) ChangePassword(ctx context.Context, place string, who Who, present, next string) (Pass, error) {
	if who.session == "" || who.Device {
		return Pass{}, wrong("", "only somebody signed in with a password can change it")
	}
	_, key, err := nameOf(who.Name)
	if err != nil {
		return Pass{}, err
	}
	spelled, err := goodPassword(next, who.Name)
	if err != nil {
		return Pass{}, err
	}
	back, err := g.try(key, place)
	if err != nil {
		return Pass{}, err
	}
	_, ok, err := g.checked(ctx, key, present)
	if err != nil {
		return Pass{}, err
	}
	if !ok {
		return Pass{}, wrong("now", "this is not the present password")
	}
	back()
	hash, err := g.hasher.make(ctx, spelled)
	if err != nil {
		return Pass{}, err
	}
	epoch := ""
	err = g.cfg.Store.Update(ctx, func(tx store.Tx) error {
		if err := g.save(tx, kindSession, who.session, who.Name, nil); err != nil {
			return err
		}
		return g.newEpoch(ctx, tx, who.Name, func(a *account) { a.Password, epoch = hash, a.Epoch })
	})
	if err != nil {
		return Pass{}, err
	}
	return g.begin(ctx, who.Name, session{User: key, Epoch: epoch}, g.cfg.Life, who)
}
