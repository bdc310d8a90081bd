package work

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/frame"
	"courson/geo/layout/draw"
	"courson/geo/vine"
	"courson/store"
)

// JoinOrder says which block is taken into another one, and then is no more.
type JoinOrder struct {
	With   vine.ID `json:"with"`
	Labels string  `json:"labels"` // of its rows: "keep", or "on" for counted on after the last row of the block that stays
}

// joining is a join being worked out: all of block from goes into block to.
type joining struct {
	regroup
	there, come []store.Row // rows of either, those that come as they are to be
	before      []store.Row // those that come as they are
	outlineWas  orb.MultiPolygon
	planted     []store.Vine // vines that need a planting season of their own now
	out         *Regrouped
}

// TryJoin works out a join and writes nothing. Errors wrap ErrDrawn, and
// store.ErrNotFound where there is no such block.
func TryJoin(ctx context.Context, st reader, block vine.ID, o JoinOrder) (*Regrouped, error) {
	j, err := newJoin(ctx, st, block, o, "", time.Time{})
	if err != nil {
		return nil, err
	}
	return j.out, nil
}

// JoinBlocks takes one block into another: ids of rows and vines stay, with all that is
// on record; what is planned, ordered and noted goes with them. The block that was
// taken in is no more; the addresses of its vines are still found. Errors as of
// TryJoin.
func JoinBlocks(ctx context.Context, tx store.Tx, block vine.ID, o JoinOrder, by string, now time.Time) (*Regrouped, error) {
	j, err := newJoin(ctx, tx, block, o, by, now)
	if err != nil {
		return nil, err
	}
	was, err := j.wasBefore(tx)
	if err != nil {
		return nil, err
	}
	if err := j.settle(tx); err != nil {
		return nil, err
	}
	change := GroundChange{What: GroundJoined, Block: block, Code: j.to.Code, Rows: len(j.come), Vines: len(j.goes), Other: j.from.ID, OtherCode: j.from.Code, Join: was}
	return j.out, keepChange(ctx, tx, &change, o, by, now)
}

// settle moves what comes and writes the ground as it is then.
func (j *joining) settle(tx store.Tx) error {
	if err := j.move(tx); err != nil {
		return err
	}
	if err := tx.SaveRows(j.come); err != nil {
		return err
	}
	if err := tx.SaveVines(j.planted); err != nil {
		return err
	}
	if err := tx.SaveBlocks([]store.Block{j.to}); err != nil {
		return err
	}
	if err := j.write(tx); err != nil {
		return err
	}
	return tx.Drop(store.Dropped{Blocks: []vine.ID{j.from.ID}})
}

func newJoin(ctx context.Context, st reader, block vine.ID, o JoinOrder, by string, now time.Time) (*joining, error) {
	j := &joining{regroup: regroup{ctx: ctx, st: st, by: strings.TrimSpace(by), now: now, rows: map[vine.ID]*rowGoes{}, goes: map[vine.ID]bool{}, whole: true}}
	var err error
	if j.to, err = findBlock(ctx, st, block); err != nil {
		return nil, err
	}
	if o.With == block {
		return nil, drawnError("with", "a block cannot be joined with itself: choose another one")
	}
	if j.from, err = findBlock(ctx, st, o.With); err != nil {
		return nil, err
	}
	if err := j.alike(); err != nil {
		return nil, err
	}
	if err := j.takeRows(o.Labels); err != nil {
		return nil, err
	}
	if err := j.takeVines(); err != nil {
		return nil, err
	}
	if err := j.look(); err != nil {
		return nil, err
	}
	return j, j.tell()
}

// spacingApartM is how far the row spacings of two blocks may lie apart that are to be
// one; chosen by us: what a tape measure leaves open.
const spacingApartM = 0.05

// alike refuses blocks of which a block's record could keep only one's word.
func (j *joining) alike() error {
	for _, f := range []struct{ what, a, b string }{
		{"variety", j.to.Variety, j.from.Variety}, {"clone", j.to.Clone, j.from.Clone}, {"rootstock", j.to.Rootstock, j.from.Rootstock}, {"training system", j.to.System, j.from.System},
	} {
		if a, b := strings.TrimSpace(f.a), strings.TrimSpace(f.b); a != "" && b != "" && !strings.EqualFold(a, b) {
			return drawnError("with", "%s of block %s is %s, of block %s %s: a block has one", f.what, j.to.Code, a, j.from.Code, b)
		}
	}
	a, b := j.to.RowSpacingM, j.from.RowSpacingM
	if a > 0 && b > 0 && math.Abs(a-b) > spacingApartM {
		return drawnError("with", "rows of block %s are %.2f m apart, of block %s %.2f m: a block has one row spacing", j.to.Code, a, j.from.Code, b)
	}
	return nil
}

// takeRows says how the rows that come are called and in which order they lie.
func (j *joining) takeRows(labels string) (err error) {
	if labels != "" && labels != "keep" && labels != "on" {
		return drawnError("labels", "labels %q: keep or on", labels)
	}
	if j.there, err = j.st.Rows(j.ctx, j.to.ID); err != nil {
		return err
	}
	if j.come, err = j.st.Rows(j.ctx, j.from.ID); err != nil {
		return err
	}
	j.before = slices.Clone(j.come)
	ord, number, taken := 0, 0, map[string]bool{}
	for _, r := range j.there {
		ord, taken[r.Label] = max(ord, r.Ord), true
		if n, err := strconv.Atoi(r.Label); err == nil {
			number = max(number, n)
		}
	}
	var clash []string
	for i := range j.come {
		r := &j.come[i]
		to := &rowGoes{id: r.ID, as: r.ID, label: r.Label, all: true}
		if labels == "on" {
			to.label = strconv.Itoa(number + i + 1)
		} else if taken[r.Label] {
			clash = append(clash, r.Label)
		}
		j.rows[r.ID] = to
		r.Block, r.Label, r.Ord = j.to.ID, to.label, ord+i+1
		if r.SpacingM == 0 && j.from.VineSpacingM != j.to.VineSpacingM {
			r.SpacingM = j.from.VineSpacingM
		}
	}
	if len(clash) > 0 {
		return drawnError("labels", "both blocks have rows %s: have those of %s counted on", firstOf(clash), j.from.Code)
	}
	return nil
}

// takeVines notes the vines that come, with the planting of their block where that is
// another.
func (j *joining) takeVines() error {
	for v, err := range j.st.Vines(j.ctx, j.from.ID) {
		if err != nil {
			return err
		}
		to := j.rows[v.Row]
		to.vines = append(to.vines, v)
		to.goes.add(v.Number)
		j.goes[v.ID] = true
		if v.Planted == 0 && j.from.Planted != 0 && j.from.Planted != j.to.Planted {
			v.Planted, v.Block = j.from.Planted, j.to.ID
			j.planted = append(j.planted, v)
		}
	}
	if j.from.Planted == 0 && j.to.Planted != 0 && len(j.goes) > 0 {
		j.words = append(j.words, fmt.Sprintf("when block %s was planted is not on record: its vines will count as planted with block %s, for the season %d", j.from.Code, j.to.Code, j.to.Planted))
	}
	return nil
}

// tell gives the join for people.
func (j *joining) tell() error {
	own, err := ownStandards(j.ctx, j.st, j.from.ID)
	if err != nil {
		return err
	}
	if own != nil {
		j.words = append(j.words, fmt.Sprintf("standards of block %s end: those of block %s count", j.from.Code, j.to.Code))
	}
	there := 0
	for _, err := range j.st.Vines(j.ctx, j.to.ID) {
		if err != nil {
			return err
		}
		there++
	}
	j.outlineWas = j.to.Outline
	if j.to.Outline, err = j.outline(); err != nil {
		return err
	}
	j.out = j.regroup.tell()
	for i, r := range j.come {
		j.out.Rows = append(j.out.Rows, RegroupedRow{Row: r.ID, Label: r.Label, Was: j.before[i].Label, Vines: len(j.rows[r.ID].vines), Line: r.Line})
	}
	part := GroundPart{Block: j.to.ID, Code: j.to.Code, Rows: len(j.there) + len(j.come), Vines: there + len(j.goes)}
	part.measure(j.to.Outline)
	j.out.Parts = []GroundPart{part}
	return nil
}

// outline is the ground of both; where one of them has none, that of the block that
// stays.
func (j *joining) outline() (orb.MultiPolygon, error) {
	if len(j.to.Outline) == 0 || len(j.from.Outline) == 0 {
		return j.to.Outline, nil
	}
	f, err := frame.ForGeometry(j.to.Outline)
	if err != nil {
		return nil, err
	}
	both, err := draw.Union(f.MultiPolygon(j.to.Outline), f.MultiPolygon(j.from.Outline))
	if err != nil {
		return nil, drawnError("with", "%v", err)
	}
	return degreesOf(f, both), nil
}
