package work

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"courson/geo/rate"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// PaperZones is the kind of paper that keeps zones with their rates. Its key is
// block and season; every version of it is a zoning that was kept, the newest is
// the one in use.
const PaperZones store.PaperKind = "zones"

// ErrNoZones marks that there is no such version.
var ErrNoZones = errors.New("no such version of zones")

// mostZoneNote is the length of a note, bytes.
const mostZoneNote = 2000

// KeptZones is zones with their rates as they were kept.
type KeptZones struct {
	ID     string    `json:"id"`
	Note   string    `json:"note"`
	Order  RateOrder `json:"order"` // with every season written out
	View   ZonesView `json:"view"`
	Runs   []zoneRun `json:"runs"`
	Season int       `json:"-"`
	Block  vine.ID   `json:"-"`
	Made   time.Time `json:"-"`
	By     string    `json:"-"`
}

func zonesKey(block vine.ID, season int) string { return fmt.Sprintf("%d %d", block, season) }

// SaveZones keeps zones, and gives them as kept. Errors wrap ErrRates where
// nobody is named or the note is too long.
func SaveZones(tx store.Tx, r *Rated, by, note string, now time.Time) (*KeptZones, error) {
	by, note = strings.TrimSpace(by), strings.TrimSpace(note)
	switch {
	case by == "":
		return nil, fmt.Errorf("%w: by: say who keeps these zones", ErrRates)
	case len(note) > mostZoneNote:
		return nil, fmt.Errorf("%w: note: %d bytes, at most %d", ErrRates, len(note), mostZoneNote)
	}
	id, err := uuid.NewV7()
	if err != nil {
		return nil, err
	}
	k := &KeptZones{ID: id.String(), Note: note, Order: r.Order.settled(r.Stand.Season), View: *r.View(), Runs: runsOfZones(r.Stand.Ground, r.Zones.Zone),
		Season: r.Stand.Season, Block: r.Block.ID, Made: now, By: by}
	return k, savePaper(tx, store.Paper{Kind: PaperZones, Key: zonesKey(k.Block, k.Season), Season: k.Season, Block: k.Block, By: by, Made: now}, k)
}

// settled writes out of which season every column is.
func (o RateOrder) settled(season int) RateOrder {
	o.Columns = slices.Clone(o.Columns)
	if len(o.Columns) == 0 {
		o.Columns = []RateColumn{{Of: "vigour"}}
	}
	for k := range o.Columns {
		if o.Columns[k].Season == 0 {
			o.Columns[k].Season = season
		}
	}
	return o
}

// ZonesKept gives the versions of a block and season, the newest first.
func ZonesKept(ctx context.Context, st store.Plans, block vine.ID, season int) ([]*KeptZones, error) {
	return keptZones(ctx, st, store.PaperQuery{Kind: PaperZones, Key: zonesKey(block, season), Versions: true})
}

// NewestZones gives the version in use of a block and season; nil where there is
// none.
func NewestZones(ctx context.Context, st store.Plans, block vine.ID, season int) (*KeptZones, error) {
	list, err := keptZones(ctx, st, store.PaperQuery{Kind: PaperZones, Key: zonesKey(block, season)})
	if err != nil || len(list) == 0 {
		return nil, err
	}
	return list[0], nil
}

func keptZones(ctx context.Context, st store.Plans, q store.PaperQuery) ([]*KeptZones, error) {
	papers, err := st.Papers(ctx, q)
	if err != nil {
		return nil, fmt.Errorf("kept zones: %w", err)
	}
	out := make([]*KeptZones, 0, len(papers))
	for _, p := range papers {
		k := &KeptZones{Season: p.Season, Block: p.Block, Made: p.Made, By: p.By}
		if err := json.Unmarshal(p.Value, k); err != nil {
			return nil, fmt.Errorf("kept zones %s: %w", p.Key, err)
		}
		if k.ID != "" { // else they were taken out of use
			out = append(out, k)
		}
	}
	return out, nil
}

// ZonesVersion finds one version. Error: ErrNoZones.
func ZonesVersion(ctx context.Context, st store.Plans, block vine.ID, season int, id string) (*KeptZones, error) {
	list, err := ZonesKept(ctx, st, block, season)
	if err != nil {
		return nil, err
	}
	for _, k := range list {
		if k.ID == id {
			return k, nil
		}
	}
	return nil, fmt.Errorf("%w: season %d has none with the id %.40q", ErrNoZones, season, id)
}

// Column gives the zone of every vine on a ground, 0 for those without one.
func (k *KeptZones) Column(g *stand.Ground) []uint8 { return zonesOfRuns(g, k.Runs) }

// Rated lays kept zones on the ground again, for files and comparisons. Errors
// wrap ErrRates where the ground is another one now.
func (k *KeptZones) Rated(s *stand.Stand, b store.Block, estate string) (*Rated, error) {
	z, err := rate.Restore(s, k.Column(s.Ground), k.View.Zones, k.View.Columns)
	if err != nil {
		return nil, ratesFault(err)
	}
	out := &Rated{Estate: estate, Block: b, Stand: s, Zones: z, Order: k.Order}
	out.outline()
	return out.WithRates(k.Order)
}

// AllZonesInUse gives the version in use of every block that has one in a season.
func AllZonesInUse(ctx context.Context, st store.Plans, season int) (map[vine.ID]*KeptZones, error) {
	list, err := keptZones(ctx, st, store.PaperQuery{Kind: PaperZones, Season: season})
	if err != nil {
		return nil, err
	}
	out := make(map[vine.ID]*KeptZones, len(list))
	for _, k := range list {
		out[k.Block] = k
	}
	return out, nil
}
