package work

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"courson/geo/replant"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// PaperReplant is the kind of paper that keeps the steps of places to be
// replaced; its key is the block's id.
const PaperReplant store.PaperKind = "replant"

type moves struct {
	Moves []replant.Move `json:"moves"`
}

// ReplantMoves gives the steps of a block's places, in the order they were made.
func ReplantMoves(ctx context.Context, st reader, block vine.ID) ([]replant.Move, error) {
	list, err := papersOf[moves](ctx, st, store.PaperQuery{Kind: PaperReplant, Key: fmt.Sprint(block)})
	if err != nil || len(list) == 0 {
		return nil, err
	}
	return list[0].Moves, nil
}

// AddReplantMoves adds steps, all or none: none may skip a stage. The error wraps
// replant.ErrStep. Steps to planted, took and failed are written into the vine's
// record too: the plant that comes, with where it is from, and what became of it.
func AddReplantMoves(ctx context.Context, tx store.Tx, g *stand.Ground, add []replant.Move, by string, now time.Time) error {
	old, err := ReplantMoves(ctx, tx, g.Block)
	if err != nil {
		return err
	}
	b, err := findBlock(ctx, tx, g.Block)
	if err != nil {
		return err
	}
	onTheWay := map[vine.ID]bool{}
	for _, m := range old {
		onTheWay[m.Vine] = true
	}
	for i := range add {
		at, ok := g.IndexOf(add[i].Vine)
		if !ok {
			return fmt.Errorf("%w: there is no vine %d in block %s", replant.ErrStep, add[i].Vine, g.Code)
		}
		if !onTheWay[add[i].Vine] && add[i].To != replant.ToReplace {
			return fmt.Errorf("%w: vine %s is not on the list: it begins as %q", replant.ErrStep, g.Address(at), replant.ToReplace)
		}
		if add[i].By == "" {
			add[i].By = by
		}
		if add[i].To == replant.Ordered && add[i].Sort == (replant.Sort{}) {
			add[i].Sort = sortOf(b) // what the nursery's order says
		}
	}
	all := append(slices.Clip(old), add...)
	places, refused := replant.Follow(all)
	if len(refused) > 0 {
		return errors.Join(refused...)
	}
	value, err := json.Marshal(moves{all})
	if err != nil {
		return err
	}
	if err := tx.SavePaper(store.Paper{Kind: PaperReplant, Key: fmt.Sprint(g.Block), Block: g.Block, Made: now, By: by, Value: value}); err != nil {
		return err
	}
	return writeHistory(ctx, tx, g, places, add, now)
}

// sortOf is what a nursery's order asks for where a block's vines are replaced.
func sortOf(b store.Block) replant.Sort {
	return replant.Sort{Cultivar: orWord(b.Variety), Clone: b.Clone, Rootstock: b.Rootstock}
}

// replantDevice is the device of records that follow from steps; what it says of
// a plant is the word of the person who took the step.
const replantDevice = "replants"

// history writes what steps say of the plants of a block.
type history struct {
	ctx    context.Context
	tx     store.Tx
	g      *stand.Ground
	zone   *time.Location
	cal    vine.Calendar
	now    time.Time
	at     map[vine.ID]replant.Place
	states map[vine.ID]vine.State
	seq    uint64
}

// writeHistory makes records of the steps to planted, took and failed.
func writeHistory(ctx context.Context, tx store.Tx, g *stand.Ground, places []replant.Place, add []replant.Move, now time.Time) error {
	estate, err := tx.Estate(ctx)
	if err != nil {
		return err
	}
	h := &history{ctx: ctx, tx: tx, g: g, now: now.UTC().Truncate(time.Microsecond), at: map[vine.ID]replant.Place{}, seq: uint64(now.UnixMicro())}
	if h.zone, err = time.LoadLocation(estate.Zone); err != nil || estate.Zone == "" {
		h.zone = time.UTC
	}
	h.cal = vine.Hemisphere(estate.South, h.zone)
	for _, p := range places {
		h.at[p.Vine] = p
	}
	var events []vine.Event
	for _, m := range add {
		body, ok, err := h.body(m)
		if err != nil {
			return err
		}
		if ok {
			events = append(events, h.event(m, body))
		}
	}
	if len(events) == 0 {
		return nil
	}
	answers, err := tx.Append(ctx, events)
	if err != nil {
		return err
	}
	for i, a := range answers {
		if a.Result == store.Refused {
			return fmt.Errorf("%w: vine %d: %s", replant.ErrStep, events[i].Target.Vines[0], a.Reason)
		}
	}
	return nil
}

// body gives what a step says of the plant; false where it says nothing.
func (h *history) body(m replant.Move) (vine.Sighting, bool, error) {
	p := h.at[m.Vine]
	switch m.To {
	case replant.PlantIn:
		why, err := h.whyLost(p)
		return vine.Sighting{Condition: vine.Replanted, Cause: why, Planted: h.firstLeaf(m.Day), Rootstock: p.Rootstock, Clone: p.Clone, Batch: p.Batch, Grade: p.Grade}, err == nil, err
	case replant.Took:
		planted, ok := p.Last(replant.PlantIn)
		return vine.Sighting{Condition: vine.Replanted, Planted: h.firstLeaf(planted.Day)}, ok, nil
	case replant.Failed:
		why := m.Note
		if why == "" {
			why = "did not take"
		}
		return vine.Sighting{Condition: vine.Dead, Cause: why}, true, nil
	}
	return vine.Sighting{}, false, nil
}

// whyLost is the cause of the loss of the plant before, where its record does not
// say it: what it was sick of, else the note with which it was put on the list.
func (h *history) whyLost(p replant.Place) (string, error) {
	if h.states == nil {
		h.states = map[vine.ID]vine.State{}
		for s, err := range h.tx.States(h.ctx, h.g.Block, vine.MaxSeason, 0) {
			if err != nil {
				return "", err
			}
			h.states[s.Vine] = s.State
		}
	}
	s := h.states[p.Vine]
	switch {
	case !s.Condition.Living() && s.Cause != "":
		return "", nil
	case s.Condition == vine.Diseased && s.Cause != "":
		return s.Cause, nil
	}
	listed, _ := p.Last(replant.ToReplace)
	return listed.Note, nil
}

// afterMidsummer is from how many months after the turn of the season a plant that
// is set has its first leaf in the next one: July to October in the north, January
// to April in the south. Chosen by us.
const afterMidsummer = 8

// firstLeaf is the season of the first leaf of a plant set on a day.
func (h *history) firstLeaf(day replant.Day) int {
	at := dayTime(int32(day), h.zone)
	season := h.cal.Season(at)
	if (int(at.Month())-int(h.cal.TurnMonth)+12)%12 >= afterMidsummer {
		season++
	}
	return season
}

// event is the record of a step: at the end of its day, now where that is today.
func (h *history) event(m replant.Move, body vine.Sighting) vine.Event {
	when := dayTime(int32(m.Day), h.zone).AddDate(0, 0, 1).Add(-time.Minute)
	if when.After(h.now) {
		when = h.now
	}
	i, _ := h.g.IndexOf(m.Vine)
	h.seq++
	return vine.Event{ID: uuid.Must(uuid.NewV7()), Device: replantDevice, Seq: h.seq, At: h.now, When: when.UTC(), Received: h.now, By: m.By, Season: h.cal.Season(when),
		Target: vine.Target{Block: h.g.Block, Row: h.g.Rows[h.g.Row[i]].ID, Vines: []vine.ID{m.Vine}}, Kind: vine.KindCondition, Body: body}
}
