package work

import (
	"context"
	"fmt"
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
