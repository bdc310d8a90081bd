package work

import (
	"fmt"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/geo/vine"
	"courson/store"
)

// The drawn block of these tests is 20 × 40 m: rows at 1, 3, … 19 m from the west,
// vines at 0.5, 1.5, … 39.5 m from the south.

// lineAt gives a line through places in metres from the block's south-western corner.
func lineAt(points ...[2]float64) (out []orb.Point) {
	f := frame.New(drawnAt)
	for _, p := range points {
		out = append(out, f.Inverse(p[0], p[1]))
	}
	return out
}

func splitNow(t *testing.T, st store.Store, block vine.ID, o SplitOrder) *Regrouped {
	t.Helper()
	try, err := TrySplit(t.Context(), st, block, o)
	require.NoError(t, err)
	var made *Regrouped
	require.NoError(t, st.Update(t.Context(), func(tx store.Tx) (err error) {
		made, err = SplitBlock(t.Context(), tx, block, o, "Ada", clock())
		return err
	}))
	assert.Equal(t, try.Rows, made.Rows, "what was shown is what was made")
	assert.Equal(t, try.Carry, made.Carry)
	assert.Equal(t, try.Parts[0], made.Parts[0])
	return made
}

func takeBackNow(t *testing.T, st store.Store, block vine.ID) {
	t.Helper()
	require.NoError(t, st.Update(t.Context(), func(tx store.Tx) error {
		view, err := GroundView(t.Context(), tx, block)
		if err != nil {
			return err
		}
		require.NotEmpty(t, view.Undo, view.UndoWhy)
		_, err = TakeBack(t.Context(), tx, block, view.Undo, "Ben", clock())
		return err
	}))
}

// groundOf writes the ground of a block down: rows with lines and lengths, vines with
// places. Lines to the millimetre.
func groundText(t *testing.T, st store.Store, block vine.ID) string {
	rows, err := st.Rows(t.Context(), block)
	require.NoError(t, err)
	out := ""
	for _, r := range rows {
		out += fmt.Sprintf("row %d %s %d %.3f %.8f\n", r.ID, r.Label, r.Ord, r.LengthM, r.Line)
	}
	for v, err := range st.Vines(t.Context(), block) {
		require.NoError(t, err)
		out += fmt.Sprintf("vine %d in %d: %d %.3f %d %d\n", v.ID, v.Row, v.Number, v.ChainageM, v.Part, v.Planted)
	}
	b, err := findBlock(t.Context(), st, block)
	require.NoError(t, err)
	return out + fmt.Sprintf("%s %.1f m²", b.Code, frame.WGS84.MultiPolygonArea(b.Outline))
}

func TestSplit_BetweenRows(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := open(t)
		block, before := drawnBlock(t, st)
		record(t, st, "N1/3/10", 0, vine.Note{Text: "stays"})
		record(t, st, "N1/8/10", 0, vine.Note{Text: "goes"})
		was := groundText(t, st, block)
		made := splitNow(t, st, block, SplitOrder{Line: lineAt([2]float64{10, 5}, [2]float64{10, 35}), Side: "E", Code: "N2", Name: "East"})
		assert.Equal(t, 200, made.Vines)
		assert.Len(t, made.Rows, 5)
		assert.InDelta(t, 400, made.Parts[0].AreaM2, 0.1)
		assert.InDelta(t, 400, made.Parts[1].AreaM2, 0.1)
		east := made.Parts[1].Block
		here, there := vinesByAddress(t, st, block), vinesByAddress(t, st, east)
		require.Len(t, here, 200)
		require.Len(t, there, 200)
		for row := 1; row <= 10; row++ {
			address, at := fmt.Sprintf("%d/17", row), here
			if row > 5 {
				at = there
			}
			v := before[address]
			v.Block = at[address].Block
			assert.Equal(t, v, at[address], "ids, rows, numbers and places stay")
		}
		log, err := st.Events(t.Context(), store.EventQuery{Block: east})
		require.NoError(t, err)
		require.Len(t, log, 1)
		assert.Equal(t, vine.Note{Text: "goes"}, log[0].Body)
		for _, text := range []string{"N1/8/10", "N2/8/10"} {
			found, err := st.FindLabel(t.Context(), text)
			require.NoError(t, err)
			assert.Equal(t, []vine.ID{before["8/10"].ID}, idsOfVines(found), text)
		}
		view, err := GroundView(t.Context(), st, east)
		require.NoError(t, err)
		assert.Contains(t, view.UndoWhy, "take it back there")
		takeBackNow(t, st, block)
		assert.Equal(t, was, groundText(t, st, block))
		blocks, err := st.Blocks(t.Context())
		require.NoError(t, err)
		assert.Len(t, blocks, 1)
	})
}

func TestSplit_AcrossRows(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := open(t)
		block, before := drawnBlock(t, st)
		was := groundText(t, st, block)
		// From 10.2 m north of the south-western corner to 30.2 m in the east.
		made := splitNow(t, st, block, SplitOrder{Line: lineAt([2]float64{0, 10.2}, [2]float64{20, 30.2}), Side: "N", Code: "N2"})
		north := made.Parts[1].Block
		here, there := vinesByAddress(t, st, block), vinesByAddress(t, st, north)
		require.Len(t, made.Rows, 10)
		total := 0
		for row := 1; row <= 10; row++ {
			// The row at x = 2 row - 1 is cut at y = x + 10.2; vine n stands at n - 0.5.
			stay := 2*row - 1 + 10
			assert.Equal(t, 40-stay, made.Rows[row-1].Vines, "row %d", row)
			assert.Equal(t, stay, made.Rows[row-1].Stay)
			total += 40 - stay
			last, first := here[fmt.Sprintf("%d/%d", row, stay)], there[fmt.Sprintf("%d/%d", row, stay+1)]
			assert.Equal(t, before[fmt.Sprintf("%d/%d", row, stay)].ID, last.ID)
			assert.Equal(t, before[fmt.Sprintf("%d/%d", row, stay+1)].ID, first.ID, "numbers stay as they are painted on the posts")
			assert.InDelta(t, 0.3, first.ChainageM, 0.01)
			assert.NotEqual(t, last.Row, first.Row)
		}
		assert.Equal(t, total, made.Vines)
		rows, err := st.Rows(t.Context(), north)
		require.NoError(t, err)
		assert.InDelta(t, 40-11.2, rows[0].LengthM, 0.05)
		takeBackNow(t, st, block)
		assert.Equal(t, was, groundText(t, st, block))
	})
}

func TestSplit_Refused(t *testing.T) {
	st := openGpkg(t)
	block, _ := drawnBlock(t, st)
	across := lineAt([2]float64{0, 20}, [2]float64{20, 20})
	for name, c := range map[string]struct {
		order SplitOrder
		field string
	}{
		"no line":          {SplitOrder{Side: "N", Code: "N2"}, "line"},
		"a line elsewhere": {SplitOrder{Line: lineAt([2]float64{100, 0}, [2]float64{100, 40}), Side: "E", Code: "N2"}, "line"},
		"along the side":   {SplitOrder{Line: across, Side: "E", Code: "N2"}, "side"},
		"no side":          {SplitOrder{Line: across, Code: "N2"}, "side"},
		"no code":          {SplitOrder{Line: across, Side: "N"}, "code"},
		"no rows beyond":   {SplitOrder{Line: lineAt([2]float64{19.6, 0}, [2]float64{19.6, 40}), Side: "E", Code: "N2"}, "line"},
		"no rows behind":   {SplitOrder{Line: lineAt([2]float64{0.5, 0}, [2]float64{0.5, 40}), Side: "E", Code: "N2"}, "line"},
	} {
		_, err := TrySplit(t.Context(), st, block, c.order)
		var wrong *DrawnError
		require.ErrorAs(t, err, &wrong, name)
		assert.Equal(t, c.field, wrong.Field, "%s: %v", name, err)
	}
	_, err := TrySplit(t.Context(), st, block, SplitOrder{Line: across, Side: "N", Code: "n1"})
	require.ErrorIs(t, err, store.ErrConflict)
	err = st.Update(t.Context(), func(tx store.Tx) error {
		_, err := SplitBlock(t.Context(), tx, block, SplitOrder{Line: across, Side: "N", Code: "N2"}, " ", clock())
		return err
	})
	var wrong *DrawnError
	require.ErrorAs(t, err, &wrong)
	assert.Equal(t, "by", wrong.Field)
}

// joinable makes blocks N1 and N2 of a split between rows, N2 with another planting.
func joinable(t *testing.T, st store.Store) (a, b vine.ID) {
	block, _ := drawnBlock(t, st)
	made := splitNow(t, st, block, SplitOrder{Line: lineAt([2]float64{10, 5}, [2]float64{10, 35}), Side: "E", Code: "N2"})
	other := made.Parts[1].Block
	require.NoError(t, st.Update(t.Context(), func(tx store.Tx) error {
		for id, planted := range map[vine.ID]int{block: 2015, other: 2020} {
			x, err := findBlock(t.Context(), tx, id)
			if err != nil {
				return err
			}
			x.Planted, x.Variety, x.VineSpacingM = planted, "Silvaner", 1
			if err := tx.SaveBlocks([]store.Block{x}); err != nil {
				return err
			}
		}
		return nil
	}))
	return block, other
}

func TestJoin(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := open(t)
		a, b := joinable(t, st)
		record(t, st, "N2/8/10", 0, vine.Note{Text: "of N2"})
		was := [2]string{groundText(t, st, a), groundText(t, st, b)}
		v := vinesByAddress(t, st, b)["8/10"]
		before := plantedOf(t, st, b)
		try, err := TryJoin(t.Context(), st, a, JoinOrder{With: b})
		require.NoError(t, err)
		assert.InDelta(t, 800, try.Parts[0].AreaM2, 0.5)
		assert.Len(t, try.Parts[0].Outline, 1, "the common border is gone")
		var made *Regrouped
		require.NoError(t, st.Update(t.Context(), func(tx store.Tx) (err error) {
			made, err = JoinBlocks(t.Context(), tx, a, JoinOrder{With: b}, "Ada", clock())
			return err
		}))
		assert.Equal(t, try, made)
		now, err := st.Vine(t.Context(), v.ID)
		require.NoError(t, err)
		assert.Equal(t, a, now.Block)
		assert.Equal(t, before, plantedOf(t, st, a)[200:], "every vine has the age that it had")
		for _, text := range []string{"N2/8/10", "N1/8/10"} {
			found, err := st.FindLabel(t.Context(), text)
			require.NoError(t, err)
			assert.Equal(t, []vine.ID{v.ID}, idsOfVines(found), text)
		}
		takeBackNow(t, st, a)
		blocks, err := st.Blocks(t.Context())
		require.NoError(t, err)
		require.Len(t, blocks, 2)
		assert.Equal(t, was[0], groundText(t, st, a))
		assert.Equal(t, was[1], groundText(t, st, blocks[1].ID))
		log, err := st.Events(t.Context(), store.EventQuery{Block: blocks[1].ID})
		require.NoError(t, err)
		assert.Len(t, log, 1)
	})
}

// plantedOf gives the planting season of every vine, in the order of the block.
func plantedOf(t *testing.T, st store.Store, block vine.ID) (out []int) {
	g, _, _, err := LoadGround(t.Context(), st, block)
	require.NoError(t, err)
	for _, p := range g.Planted {
		out = append(out, int(p))
	}
	return out
}

func TestJoin_Labels(t *testing.T) {
	st := openGpkg(t)
	block, _ := drawnBlock(t, st)
	made := splitNow(t, st, block, SplitOrder{Line: lineAt([2]float64{0, 20}, [2]float64{20, 20}), Side: "N", Code: "N2"})
	north := made.Parts[1].Block
	_, err := TryJoin(t.Context(), st, block, JoinOrder{With: north})
	var wrong *DrawnError
	require.ErrorAs(t, err, &wrong)
	assert.Equal(t, "labels", wrong.Field)
	assert.Contains(t, wrong.Text, "both blocks have rows 1, 2")
	got, err := TryJoin(t.Context(), st, block, JoinOrder{With: north, Labels: "on"})
	require.NoError(t, err)
	assert.Equal(t, []string{"11", "20"}, []string{got.Rows[0].Label, got.Rows[9].Label})
	assert.Equal(t, "1", got.Rows[0].Was)
}

func TestJoin_Refused(t *testing.T) {
	st := openGpkg(t)
	a, b := joinable(t, st)
	refused := func(o JoinOrder, field, text string) {
		t.Helper()
		_, err := TryJoin(t.Context(), st, a, o)
		var wrong *DrawnError
		require.ErrorAs(t, err, &wrong)
		assert.Equal(t, field, wrong.Field)
		assert.Contains(t, wrong.Text, text)
	}
	refused(JoinOrder{With: a}, "with", "itself")
	refused(JoinOrder{With: b, Labels: "x"}, "labels", "keep or on")
	_, err := TryJoin(t.Context(), st, a, JoinOrder{With: 1 << 40})
	require.ErrorIs(t, err, store.ErrNotFound)
	for _, c := range []struct {
		change func(*store.Block)
		text   string
	}{
		{func(x *store.Block) { x.Variety = "Riesling" }, "variety of block N1 is Silvaner, of block N2 Riesling"},
		{func(x *store.Block) { x.RowSpacingM = 3 }, "rows of block N1 are 2.00 m apart, of block N2 3.00 m"},
	} {
		require.NoError(t, st.Update(t.Context(), func(tx store.Tx) error {
			x, err := findBlock(t.Context(), tx, b)
			if err != nil {
				return err
			}
			x.Variety, x.RowSpacingM = "Silvaner", 2
			c.change(&x)
			return tx.SaveBlocks([]store.Block{x})
		}))
		refused(JoinOrder{With: b}, "with", c.text)
	}
}

// A split is not taken back over something that was done to the new block since.
func TestSplit_TakenBackLater(t *testing.T) {
	st := openGpkg(t)
	block, _ := drawnBlock(t, st)
	made := splitNow(t, st, block, SplitOrder{Line: lineAt([2]float64{10, 5}, [2]float64{10, 35}), Side: "E", Code: "N2"})
	east := made.Parts[1].Block
	// Records made since are no hindrance: they come back with their vines.
	record(t, st, "N2/8/10", 1, vine.Note{Text: "since"})
	require.NoError(t, st.Update(t.Context(), func(tx store.Tx) error {
		_, err := Renumber(t.Context(), tx, east, NumberOrder{First: 1}, "Ada", clock())
		return err
	}))
	view, err := GroundView(t.Context(), st, block)
	require.NoError(t, err)
	assert.Empty(t, view.Undo)
	assert.Contains(t, view.UndoWhy, "block N2")
	takeBackNow(t, st, east)
	view, err = GroundView(t.Context(), st, block)
	require.NoError(t, err)
	assert.NotEmpty(t, view.Undo, view.UndoWhy)
	takeBackNow(t, st, block)
	log, err := st.Events(t.Context(), store.EventQuery{Block: block})
	require.NoError(t, err)
	assert.Len(t, log, 1)
}

// A file written before a split is refused with the address that its vines have now.
func TestSplit_OldFile(t *testing.T) {
	st := openGpkg(t)
	block, _ := drawnBlock(t, st)
	splitNow(t, st, block, SplitOrder{Line: lineAt([2]float64{10, 5}, [2]float64{10, 35}), Side: "E", Code: "N2"})
	file := inMemory("w.csv", "block,row,vine,pruning_weight_g\nN1,8,10,450\n")
	report := refuse(t, st, ImportJob{As: Measures, Season: 2027}, file)
	assert.Contains(t, fmt.Sprint(report.Problems), "wanted N2/8/10, as N1/8/10 is called now; one of its rows, 1 to 5")
}
