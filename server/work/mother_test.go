package work

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

// A table names the mother of a layer by her number in the row or her address; the
// same table changes nothing more, and a mother that cannot be is refused.
func TestImport_Layers(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := open(t)
		take(t, st, ImportJob{}, base()...)
		g := groundOf(t, st)
		plantOf := func(i int) vine.Planting {
			v, err := st.Vine(context.Background(), g.ID[i])
			require.NoError(t, err)
			events, err := st.Events(context.Background(), store.EventQuery{Block: v.Block, Vine: v.ID})
			require.NoError(t, err)
			plants := vine.Fold(vine.Place{ID: v.ID, Row: v.Row, Block: v.Block}, plainEvents(events)).Plantings
			return plants[len(plants)-1]
		}
		line := func(i int, more string) string {
			return strings.ReplaceAll(g.Address(i).String(), "/", ",") + "," + more + "\n"
		}
		const head = "block,row,vine,season,status,planted,mother,severed\n"
		laid := inMemory("laid.csv", head+line(2, fmt.Sprintf("2026,replant,2026,%d,", g.Number[1]))+line(4, "2026,replant,2026,"+g.Address(5).String()+",no"))
		take(t, st, ImportJob{As: Measures, Season: 2026}, laid)
		require.Equal(t, vine.Planting{From: 2026, Mother: g.ID[1]}, plantOf(2))
		require.Equal(t, vine.Planting{From: 2026, Mother: g.ID[5]}, plantOf(4))
		again := take(t, st, ImportJob{As: Measures, Season: 2026}, laid)
		require.False(t, again.Changed())
		take(t, st, ImportJob{As: Measures, Season: 2028}, inMemory("cut.csv", head+line(2, "2028,young,,,yes")))
		require.Equal(t, 2028, plantOf(2).Severed)
		require.Zero(t, plantOf(4).Severed)
		for more, says := range map[string]string{
			"2026,replant,2026,99,":                           "no other vine of the row",
			"2026,replant,2026,7/1,":                          "another row",
			"2026,replant,2026,left,":                         "not the number of a vine",
			"2026,young,,2,":                                  "not told as replanted",
			"2026,replant,2026,2,soon":                        "neither yes nor no",
			fmt.Sprintf("2026,replant,2026,%d,", g.Number[6]): "no other vine of the row",
		} {
			require.Contains(t, texts(refuse(t, st, ImportJob{As: Measures, Season: 2026}, inMemory("bad.csv", head+line(6, more)))), says)
		}
	})
}

// The export of vines carries the mother and the cut of a layer; what comes back into the same store changes nothing, and a layer that bears by now can be
// imported elsewhere, with a word that its mother was not read.
func TestExport_Layers(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := open(t)
		take(t, st, ImportJob{}, base()...)
		g := groundOf(t, st)
		line := func(i int, more string) string {
			return strings.ReplaceAll(g.Address(i).String(), "/", ",") + "," + more + "\n"
		}
		const head = "block,row,vine,season,status,planted,mother,severed\n"
		take(t, st, ImportJob{As: Measures, Season: 2026}, inMemory("laid.csv", head+line(2, fmt.Sprintf("2026,replant,2026,%d,", g.Number[1]))+line(4, fmt.Sprintf("2026,replant,2026,%d,", g.Number[5]))))
		take(t, st, ImportJob{As: Measures, Season: 2028}, inMemory("cut.csv", head+line(2, "2028,young,,,yes")))
		told := func(season, i int) string {
			lines := strings.Split(strings.TrimPrefix(vinesTable(t, st, season), "\ufeff"), "\n")
			head := strings.Split(strings.TrimSpace(lines[0]), ",")
			address, from := slices.Index(head, "address"), slices.Index(head, "planted")
			for _, text := range lines[1:] {
				if cells := strings.Split(text, ","); len(cells) == len(head) && cells[address] == g.Address(i).String() {
					return strings.Join(cells[from:from+3], " ")
				}
			}
			return "no line"
		}
		require.Equal(t, "2026 "+g.Address(1).String()+" no", told(2027, 2))
		require.Equal(t, "2026 "+g.Address(5).String()+" no", told(2028, 4))
		require.Contains(t, told(2028, 2), " "+g.Address(1).String()+" yes")
		require.True(t, strings.HasSuffix(told(2025, 2), "  "), "before it was laid")
		for _, form := range []Form{GeoJSON, Table, GeoPackage} {
			files := exported(t, st, form, 2028, false, hoursLater(9))
			again := take(t, st, ImportJob{Season: 2028}, files...)
			require.False(t, again.Changed(), form)
		}
		other := open(t)
		files := exported(t, st, GeoJSON, 2028, false, hoursLater(9))
		report := take(t, other, ImportJob{Season: 2028}, files...)
		require.Contains(t, fmt.Sprint(report.Notices), "made a layer beside the status replant only")
	})
}

func vinesTable(t *testing.T, st store.Store, season int) string {
	t.Helper()
	var b strings.Builder
	_, err := Export(context.Background(), st, ExportJob{What: Vines, Form: Table, Season: season, Now: hoursLater(9)}, &b)
	require.NoError(t, err)
	return b.String()
}
