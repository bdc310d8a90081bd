package work

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/geo/vine"
	"courson/store"
)

var drawnAt = orb.Point{8.15, 49.2}

// drawnBlock makes a block of 20 × 40 m with ten rows of 40 vines, numbered from the
// west and from the south, and gives its vines by row and number.
func drawnBlock(t *testing.T, st store.Store) (vine.ID, map[string]store.Vine) {
	f := frame.New(drawnAt)
	var id vine.ID
	require.NoError(t, st.Update(t.Context(), func(tx store.Tx) error {
		b, _, err := DrawBlock(t.Context(), tx, BlockDrawing{Code: "N1", Corners: []orb.Point{f.Inverse(0, 0), f.Inverse(20, 0), f.Inverse(20, 40), f.Inverse(0, 40)}}, "Ada", clock())
		if err != nil {
			return err
		}
		id = b.ID
		_, err = MakeRows(t.Context(), tx, id, RowsOrder{RowSpacingM: 2, VineSpacingM: 1, StartM: 0.5, EndM: 0.4, RowsFrom: "W", VinesFrom: "S"}, "Ada", clock())
		return err
	}))
	return id, vinesByAddress(t, st, id)
}

func vinesByAddress(t *testing.T, st store.Store, block vine.ID) map[string]store.Vine {
	rows, err := st.Rows(t.Context(), block)
	require.NoError(t, err)
	label := map[vine.ID]string{}
	for _, r := range rows {
		label[r.ID] = r.Label
	}
	out := map[string]store.Vine{}
	for v, err := range st.Vines(t.Context(), block) {
		require.NoError(t, err)
		out[fmt.Sprintf("%s/%d", label[v.Row], v.Number)] = v
	}
	return out
}

// surveyed writes rows as a surveyor hands them over: label, east, from and to north.
func surveyed(rows ...[4]float64) File {
	f := frame.New(drawnAt)
	var features []string
	for _, r := range rows {
		a, b := f.Inverse(r[1], r[2]), f.Inverse(r[1]+0.1, r[3])
		features = append(features, fmt.Sprintf(`{"type":"Feature","properties":{"block":"N1","row":"%g"},"geometry":{"type":"LineString","coordinates":[[%.9f,%.9f],[%.9f,%.9f]]}}`, r[0], a[0], a[1], b[0], b[1]))
	}
	return inMemory("rows.geojson", `{"type":"FeatureCollection","features":[`+strings.Join(features, ",")+`]}`)
}

func TestImport_SurveyedRowsOverDrawnOnes(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := open(t)
		block, before := drawnBlock(t, st)
		require.Len(t, before, 400)
		record(t, st, "N1/3/10", 0, vine.Note{Text: "a good one"})

		// Drawn rows lie at 1, 3, … 19 m. Surveyed half a metre to the east, 2 m shorter
		// at the north, numbered from the east; the westernmost row is not there.
		var rows [][4]float64
		for k := range 9 {
			rows = append(rows, [4]float64{float64(9 - k), 3.5 + 2*float64(k) - 0.3*float64(k%2), 0, 38})
		}
		file := surveyed(rows...)
		report := take(t, st, ImportJob{By: "Ben"}, file)
		text := fmt.Sprint(report.Notices)
		assert.Contains(t, text, "9 of its 10 rows that were drawn are taken for surveyed ones")
		assert.Contains(t, text, "no row of the file lies by 1 drawn rows; they stay: 1-drawn")
		assert.Equal(t, []int{0, 9}, []int{report.Rows.Made, report.Rows.Changed})

		after := vinesByAddress(t, st, block)
		for drawn := 2; drawn <= 10; drawn++ { // drawn row 2 is surveyed row 9 …
			for n := 1; n <= 38; n++ {
				was, now := before[fmt.Sprintf("%d/%d", drawn, n)], after[fmt.Sprintf("%d/%d", 11-drawn, n)]
				require.Equal(t, was.ID, now.ID, "vine %d of drawn row %d", n, drawn)
				require.NotEqual(t, was.Point, now.Point)
			}
		}
		assert.Contains(t, text, "2 drawn vines have no place on the surveyed row")
		assert.Len(t, after, 400, "nothing is dropped in silence")

		v := before["3/10"]
		old, err := st.FindLabel(t.Context(), "N1/3/10")
		require.NoError(t, err)
		assert.Contains(t, idsOfVines(old), v.ID, "its old address is still found")
		log, err := st.Events(context.Background(), store.EventQuery{Vine: v.ID})
		require.NoError(t, err)
		assert.Len(t, log, 1, "its record stays")

		again := take(t, st, ImportJob{By: "Ben"}, file)
		assert.False(t, again.Changed(), "the same file again changes nothing: %s", texts(again))
	})
}

// Rows and vines surveyed together, counted from the other end: each vine is the one
// that was drawn nearest.
func TestImport_SurveyedVinesOverDrawnOnes(t *testing.T) {
	st := openGpkg(t)
	block, before := drawnBlock(t, st)
	f := frame.New(drawnAt)
	a, b := f.Inverse(1.3, 40), f.Inverse(1.3, 0)
	rows := inMemory("rows.geojson", fmt.Sprintf(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"block":"N1","row":"1","numbering_end":"N"},"geometry":{"type":"LineString","coordinates":[[%.9f,%.9f],[%.9f,%.9f]]}}]}`, a[0], a[1], b[0], b[1]))
	table := "block,row,vine,lat,lon\n"
	for n := 1; n <= 40; n++ {
		p := f.Inverse(1.3, 40.4-float64(n))
		table += fmt.Sprintf("N1,1,%d,%.9f,%.9f\n", n, p[1], p[0])
	}
	take(t, st, ImportJob{By: "Ben"}, rows, inMemory("vines.csv", table))
	after := vinesByAddress(t, st, block)
	assert.Len(t, after, 400)
	for n := 1; n <= 40; n++ {
		require.Equal(t, before[fmt.Sprintf("1/%d", 41-n)].ID, after[fmt.Sprintf("1/%d", n)].ID, "vine %d from the north", n)
	}
}

// A wrong survey taken back as a whole: the drawn rows are as they were.
func TestImport_SurveyedRowsTakenBack(t *testing.T) {
	st := openGpkg(t)
	block, before := drawnBlock(t, st)
	take(t, st, ImportJob{By: "Ben"}, surveyed([4]float64{1, 1.4, 0, 38}, [4]float64{2, 3.4, 0, 38}))
	list, err := Imports(t.Context(), st)
	require.NoError(t, err)
	undone, err := Undo(t.Context(), st, UndoJob{ID: list[0].ID, By: "Ben", Now: hoursLater(2)})
	require.NoError(t, err, "%v", undone.Built)
	assert.Equal(t, before, vinesByAddress(t, st, block))
}

func idsOfVines(list []store.Vine) []vine.ID {
	var out []vine.ID
	for _, v := range list {
		out = append(out, v.ID)
	}
	return out
}

// Rows that run another way match nothing, and that is said.
func TestImport_SurveyedRowsThatMatchNothing(t *testing.T) {
	st := openGpkg(t)
	block, before := drawnBlock(t, st)
	f := frame.New(drawnAt)
	a, b := f.Inverse(1, 5), f.Inverse(19, 5)
	file := inMemory("rows.geojson", fmt.Sprintf(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"block":"N1","row":"1"},"geometry":{"type":"LineString","coordinates":[[%.9f,%.9f],[%.9f,%.9f]]}}]}`, a[0], a[1], b[0], b[1]))
	report := take(t, st, ImportJob{By: "Ben", NumberingEnd: "W"}, file)
	assert.Contains(t, fmt.Sprint(report.Notices), "1 rows of the file lie by no drawn row and are new: 1")
	assert.Contains(t, fmt.Sprint(report.Notices), "no row of the file lies by 10 drawn rows; they stay: 1-drawn, 2")
	after := vinesByAddress(t, st, block)
	assert.Equal(t, before["1/5"].ID, after["1-drawn/5"].ID)
	assert.Greater(t, len(after), 400)
}
