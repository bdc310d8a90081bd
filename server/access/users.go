package access

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/text/secure/precis"

	"courson/store"
)

// User as others may see one.
type User struct {
	Name string    `json:"name"`
	Role Role      `json:"role"`
	Crew string    `json:"crew"` // of role crew
	Made time.Time `json:"made"` // when last changed
	By   string    `json:"by"`
}

// account is a user as kept.
type account struct {
	Name     string `json:"name"`
	Role     Role   `json:"role"`
	Crew     string `json:"crew,omitempty"`
	Password string `json:"password"` // PHC string
	// Epoch is drawn anew by a password change and by signing out everywhere;
	// sessions of another epoch have ended.
	Epoch string `json:"epoch"`
}

const (
	mostName = 60 // characters
	mostCrew = 80 // bytes
)

// nameOf checks a name and gives it as shown, and as compared: letter case and
// blanks do not matter (RFC 8266, Nickname).
func nameOf(text string) (shown, key string, err error) {
	shown, err = precis.Nickname.String(text)
	if err == nil {
		key, err = precis.Nickname.CompareKey(text)
	}
	if err != nil || utf8.RuneCountInString(shown) > mostName || len(key) > 200 || strings.ContainsAny(shown, `/\?#%`) || strings.HasPrefix(shown, ".") {
		return "", "", wrong("name", "a name has 1 to %d characters, none of / \\ ? # %% and no dot in front", mostName)
	}
	return shown, key, nil
}

// Users gives all users in order of name.
func (g *Gate) Users(ctx context.Context) ([]User, error) {
	list, err := g.cfg.Store.Papers(ctx, store.PaperQuery{Kind: kindUser})
	if err != nil {
		return nil, err
	}
	out := make([]User, 0, len(list))
	for _, p := range list {
		u, _, err := userOf(p)
		if err != nil {
			return nil, err
		}
		out = append(out, u)
	}
	return out, nil
}

// User gives one user, wrapped store.ErrNotFound if there is none.
func (g *Gate) User(ctx context.Context, name string) (User, error) {
	_, key, err := nameOf(name)
	if err != nil {
		return User{}, noUser(name)
	}
	list, err := g.cfg.Store.Papers(ctx, store.PaperQuery{Kind: kindUser, Key: key})
	if err != nil {
		return User{}, err
	}
	if len(list) == 0 {
		return User{}, noUser(name)
	}
	u, _, err := userOf(list[0])
	return u, err
}

func noUser(name string) error { return fmt.Errorf("user %q: %w", name, store.ErrNotFound) }

func userOf(p store.Paper) (User, account, error) {
	var a account
	if err := json.Unmarshal(p.Value, &a); err != nil {
		return User{}, a, fmt.Errorf("read a paper of kind %s: %w", p.Kind, err)
	}
	return User{Name: a.Name, Role: a.Role, Crew: a.Crew, Made: p.Made, By: p.By}, a, nil
}

// UserChange is what to make of a user.
type UserChange struct {
	Name     string
	Role     Role   // "": as it was
	Crew     string // only for role crew, and then needed
	Password string // "": as it was
}

// SaveUser makes or changes a user. The first user must be a manager, and one
// manager must always stay. A new password ends the user's sessions.
func (g *Gate) SaveUser(ctx context.Context, by string, c UserChange) (User, bool, error) {
	shown, key, err := nameOf(c.Name)
	if err != nil {
		return User{}, false, err
	}
	if c.Role != "" && !slices.Contains(Roles(), c.Role) {
		return User{}, false, wrong("role", "a role is manager, agronomist, crew or viewer, not %q", c.Role)
	}
	hash := ""
	if c.Password != "" {
		spelled, err := goodPassword(c.Password, shown)
		if err != nil {
			return User{}, false, err
		}
		if hash, err = g.hasher.make(ctx, spelled); err != nil {
			return User{}, false, err
		}
	}
	var a account
	made := false
	err = g.cfg.Store.Update(ctx, func(tx store.Tx) error {
		a = account{}
		found, err := paper(ctx, tx, kindUser, key, &a)
		if err != nil {
			return err
		}
		made = !found
		if err := a.change(shown, hash, c); err != nil {
			return err
		}
		if err := g.managerStays(ctx, tx, key, a.Role); err != nil {
			return err
		}
		return g.save(tx, kindUser, key, by, a)
	})
	if err != nil {
		return User{}, false, err
	}
	g.seen.Store(true)
	return User{Name: a.Name, Role: a.Role, Crew: a.Crew, Made: g.cfg.Now(), By: by}, made, nil
}

// change puts what was asked for into the account.
func (a *account) change(shown, hash string, c UserChange) error {
	a.Name = shown
	if c.Role != "" {
		a.Role, a.Crew = c.Role, ""
	}
	if c.Crew != "" {
		a.Crew = strings.TrimSpace(c.Crew)
	}
	if hash != "" {
		a.Password = hash
		a.Epoch, _ = newSecret("", 9)
	}
	switch {
	case a.Role == "":
		return wrong("role", "a new user needs a role: manager, agronomist, crew or viewer")
	case a.Password == "":
		return wrong("password", "a new user needs a password")
	case a.Role == RoleCrew && a.Crew == "":
		return wrong("crew", "a user of role crew needs the name of the crew")
	case a.Role != RoleCrew && a.Crew != "":
		return wrong("crew", "only a user of role crew has a crew")
	case len(a.Crew) > mostCrew || plain(a.Crew) != a.Crew:
		return wrong("crew", "the name of a crew has at most %d bytes, all of which can be seen", mostCrew)
	}
	return nil
}

// managerStays refuses a change after which there would be no manager.
func (g *Gate) managerStays(ctx context.Context, tx store.Tx, changed string, now Role) error {
	if now == RoleManager {
		return nil
	}
	list, err := tx.Papers(ctx, store.PaperQuery{Kind: kindUser})
	if err != nil {
		return err
	}
	for _, p := range list {
		u, _, err := userOf(p)
		if err != nil {
			return err
		}
		if p.Key != changed && u.Role == RoleManager {
			return nil
		}
	}
	return fmt.Errorf("there must always be a manager: make another user a manager first: %w", store.ErrConflict)
}

// RemoveUser takes a user away; the sessions end.
func (g *Gate) RemoveUser(ctx context.Context, by, name string) error {
	_, key, err := nameOf(name)
	if err != nil {
		return noUser(name)
	}
	return g.cfg.Store.Update(ctx, func(tx store.Tx) error {
		var a account
		found, err := paper(ctx, tx, kindUser, key, &a)
		if err != nil {
			return err
		}
		if !found {
			return noUser(name)
		}
		if err := g.managerStays(ctx, tx, key, ""); err != nil {
			return err
		}
		return g.save(tx, kindUser, key, by, nil)
	})
}
