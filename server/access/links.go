package access

import (
	"context"
	"encoding/json"
	"fmt"
	"sort"
	"strings"
	"time"

	"github.com/google/uuid"

	"courson/store"
)

// Link lets one device of a crew in. Whoever opens it first has it.
type Link struct {
	ID     string     `json:"id"`
	Crew   string     `json:"crew"`
	Made   time.Time  `json:"made"`
	By     string     `json:"by"`
	Until  time.Time  `json:"until"`  // it must be opened before; of a joined device: it stays in until then
	Days   int        `json:"days"`   // how long the device stays joined
	Joined *time.Time `json:"joined"` // null: not yet
	Device string     `json:"device"` // as named at joining
}

// link is a Link as kept.
type link = Link

// Limits of what may be asked of a link (chosen by us).
const (
	mostJoinHours = 14 * 24
	mostBoundDays = 400
)

// MakeLink makes a link for a crew and gives its code. Hours is how long it waits
// for its device, days how long the device stays joined; 0: what the gate is set to.
func (g *Gate) MakeLink(ctx context.Context, by, crew string, hours, days int) (Link, string, error) {
	crew = strings.TrimSpace(crew)
	if crew == "" || len(crew) > mostCrew || plain(crew) != crew {
		return Link{}, "", wrong("crew", "a link is for a crew: its name has 1 to %d bytes", mostCrew)
	}
	if hours < 0 || hours > mostJoinHours {
		return Link{}, "", wrong("hours", "a link waits 1 to %d hours, not %d", mostJoinHours, hours)
	}
	if days < 0 || days > mostBoundDays {
		return Link{}, "", wrong("days", "a device stays joined 1 to %d days, not %d", mostBoundDays, days)
	}
	wait := time.Duration(hours) * time.Hour
	code, key := newSecret("", 20)
	now := g.cfg.Now().UTC()
	l := Link{ID: uuid.NewString(), Crew: crew, Made: now, By: by, Until: now.Add(orElse(wait, g.cfg.Join)), Days: days}
	err := g.cfg.Store.Update(ctx, func(tx store.Tx) error { return g.save(tx, kindLink, key, by, l) })
	return l, code, err
}

// Join binds a device to the link of a code. It gives ErrJoin where the code
// opens nothing, and *LimitError after too many tries from a place.
func (g *Gate) Join(ctx context.Context, place, code, device string) (Pass, error) {
	now := g.cfg.Now()
	if wait := g.places.take(place, now); wait > 0 {
		return Pass{}, &LimitError{wait}
	}
	shown, _, err := nameOf(device)
	if err != nil {
		return Pass{}, wrong("device", "name this phone, such as “Ana's phone”: 1 to %d characters, none of / \\ ? # %%", mostName)
	}
	if code == "" || len(code) > mostSecret {
		return Pass{}, ErrJoin
	}
	key := keyOf(code)
	var l link
	err = g.cfg.Store.Update(ctx, func(tx store.Tx) error {
		l = link{}
		found, err := paper(ctx, tx, kindLink, key, &l)
		if err != nil {
			return err
		}
		if !found || l.Joined != nil || !now.Before(l.Until) {
			return ErrJoin
		}
		at := now.UTC()
		l.Joined, l.Device, l.Until = &at, shown, at.Add(g.bound(l))
		return g.save(tx, kindLink, key, shown, l)
	})
	if err != nil {
		return Pass{}, err
	}
	g.places.giveBack(place, now)
	return g.begin(ctx, shown, session{Link: key, Device: shown}, g.bound(l), Who{Name: shown, Role: RoleCrew, Crew: l.Crew, Device: true})
}

func (g *Gate) bound(l link) time.Duration {
	return orElse(time.Duration(l.Days)*24*time.Hour, g.cfg.Bound)
}

// Links gives the links that were not withdrawn, the newest first.
func (g *Gate) Links(ctx context.Context) ([]Link, error) {
	list, err := g.cfg.Store.Papers(ctx, store.PaperQuery{Kind: kindLink})
	if err != nil {
		return nil, err
	}
	out := make([]Link, 0, len(list))
	for _, p := range list {
		var l Link
		if err := json.Unmarshal(p.Value, &l); err != nil {
			return nil, fmt.Errorf("read a paper of kind %s: %w", p.Kind, err)
		}
		l.Days = int(g.bound(l) / (24 * time.Hour))
		out = append(out, l)
	}
	sort.SliceStable(out, func(i, k int) bool { return out[i].Made.After(out[k].Made) })
	return out, nil
}

// WithdrawLink ends a link, and its device's way in, at once, and gives what it
// was.
func (g *Gate) WithdrawLink(ctx context.Context, by, id string) (l Link, err error) {
	err = g.takeAway(ctx, kindLink, by, id, &l)
	return l, err
}
