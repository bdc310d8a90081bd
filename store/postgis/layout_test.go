package postgis_test

import (
	"fmt"
	"os/exec"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/peers"
	"courson/store/postgis"
)

func connect(t *testing.T, url string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	t.Cleanup(func() { conn.Close(t.Context()) })
	return conn
}

// TestEstateLeads: every B-tree begins with estate_id, so that the tables can be
// distributed by it; every table of ours has it in its key.
func TestEstateLeads(t *testing.T) {
	conn := connect(t, newDatabase(t))
	rows, err := conn.Query(t.Context(), `
		SELECT c.relname, i.relname, m.amname, a.attname, x.indisprimary
		FROM pg_index x
		JOIN pg_class c ON c.oid = x.indrelid JOIN pg_class i ON i.oid = x.indexrelid JOIN pg_am m ON m.oid = i.relam
		JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum = x.indkey[0]
		WHERE c.relnamespace = 'public'::regnamespace AND c.relname NOT IN ('spatial_ref_sys', 'courson_migration', 'estate')`)
	require.NoError(t, err)
	var table, index, method, first string
	var primary bool
	keys := map[string]bool{}
	_, err = pgx.ForEachRow(rows, []any{&table, &index, &method, &first, &primary}, func() error {
		if method == "gist" {
			assert.Equal(t, "geom", first, index)
			return nil
		}
		assert.Equal(t, "estate_id", first, "index %s of %s", index, table)
		keys[table] = keys[table] || primary
		return nil
	})
	require.NoError(t, err)
	for _, want := range []string{"estate_season", "block", "block_revision", "vine_row", "vine", "label_history", "event", "event_about", "vine_state", "plan", "plan_entry"} {
		assert.True(t, keys[want], "%s has a primary key", want)
	}
}

// plan gives how the database means to answer.
func planOf(t *testing.T, conn *pgx.Conn, sql string, args ...any) string {
	t.Helper()
	rows, err := conn.Query(t.Context(), "EXPLAIN "+sql, args...)
	require.NoError(t, err)
	lines, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	return strings.Join(lines, "\n")
}

// TestPlans: what is asked all day goes through the index that is meant for it,
// also for an estate of twenty thousand vines that came after a larger one, and
// without anybody's ANALYZE but our own.
func TestPlans(t *testing.T) {
	u := newDatabase(t)
	fill := func(estate string, blocks int) (int64, []store.Block, []store.Vine) {
		s := open(t, u+"&estate="+estate, postgis.Options{})
		bs, _, vs := plant(t, s, blocks, 10, 100)
		require.NoError(t, s.Update(t.Context(), func(tx store.Tx) error {
			for _, b := range bs {
				if err := recordBlock(tx, b.ID); err != nil {
					return err
				}
			}
			return nil
		}))
		e, err := s.Estate(t.Context())
		require.NoError(t, err)
		return e.ID, bs, vs
	}
	fill("large", 30)
	estate, bs, vs := fill("small", 10)
	conn := connect(t, u)
	for _, c := range []struct {
		name string
		want []string
		sql  string
		args []any
	}{
		{"vines of a block", []string{"vine_row_label", "block_id = ", "vine_number", "row_id = "}, postgis.SQLVines, []any{estate, bs[3].ID}},
		{"states of a block", []string{"vine_state_changed", "block_id = "}, postgis.SQLStatesAll, []any{estate, bs[3].ID, 2027}},
		{"what changed", []string{"vine_state_changed", "changed > ", "vine_state_pkey"}, postgis.SQLStatesAfter, []any{estate, bs[3].ID, 2027, 100}},
		{"events about vines and rows", []string{"event_about_pkey", "about_id = ", "event_pkey", "cursor = "}, postgis.SQLEventsAbout, []any{estate, []vine.ID{vs[0].ID, vs[0].Row}}},
		{"a window in the map", []string{"vine_geom"}, `SELECT * FROM courson_vine WHERE geom && ST_MakeEnvelope(5.0004, 45, 5.001, 45.0003, 4326)`, nil},
		{"a window in a season", []string{"vine_geom"}, `SELECT * FROM courson_vine_season WHERE season = 2027 AND geom && ST_MakeEnvelope(5.0004, 45, 5.001, 45.0003, 4326)`, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			plan := planOf(t, conn, c.sql, c.args...)
			for _, want := range c.want {
				assert.Contains(t, plan, want)
			}
			for _, table := range []string{"vine", "vine v", "event", "event e", "event_about", "vine_state"} {
				assert.NotContains(t, plan, "Seq Scan on "+table+" ")
			}
		})
	}
}

// TestViews: what a GIS client sees of vines, seasons and plans.
func TestViews(t *testing.T) {
	u := newDatabase(t)
	s := open(t, u, postgis.Options{})
	bs, _, vs := plant(t, s, 1, 2, 3)
	g, nodes := 412.5, 14
	dead := event(vine.Sighting{Condition: vine.Dead, Cause: "frost"}, bs[0].ID, vs[1].ID)
	dead.Season = 2026
	_, err := s.Append(t.Context(), []vine.Event{
		dead,
		event(vine.Measure{Quantity: vine.PruningWeight, Unit: "g", Value: &g}, bs[0].ID, vs[0].ID),
		event(vine.Pruned{Nodes: &nodes}, bs[0].ID, vs[0].ID),
	})
	require.NoError(t, err)
	require.NoError(t, s.Update(t.Context(), func(tx store.Tx) error {
		_, err := tx.SavePlan(store.Plan{Kind: store.PlanPruning, Season: 2027, Block: bs[0].ID}, []store.PlanEntry{
			{Vine: vs[0].ID, Nodes: 12, Canes: 1, Spurs: 1}, {Vine: vs[2].ID, Nodes: -1, Canes: 2, Spurs: -1}})
		return err
	}))
	conn := connect(t, u)
	type line struct {
		Address, Condition, Pruning string
		Season, Leaf                int
		Weight                      *float64
		Left, Planned               *int
	}
	rows, err := conn.Query(t.Context(), `
		SELECT address, condition, pruning, season, leaf, pruning_weight_g, nodes_left, nodes_planned
		FROM courson_vine_season WHERE row_label = '1a' ORDER BY season, number`)
	require.NoError(t, err)
	got, err := pgx.CollectRows(rows, pgx.RowToStructByPos[line])
	require.NoError(t, err)
	twelve := 12
	assert.Equal(t, []line{
		{"A0/1a/1", "unseen", "not_started", 2026, 17, nil, nil, nil},
		{"A0/1a/2", "dead", "not_started", 2026, 17, nil, nil, nil},
		{"A0/1a/3", "unseen", "not_started", 2026, 17, nil, nil, nil},
		{"A0/1a/1", "unseen", "done", 2027, 18, &g, &nodes, &twelve},
		{"A0/1a/2", "dead", "not_started", 2027, 18, nil, nil, nil},
		{"A0/1a/3", "unseen", "not_started", 2027, 18, nil, nil, nil},
	}, got)
	var n int
	require.NoError(t, conn.QueryRow(t.Context(), `SELECT count(*) FROM courson_vine WHERE season = 2027`).Scan(&n))
	assert.Equal(t, 6, n)
	var kind string
	require.NoError(t, conn.QueryRow(t.Context(), `SELECT type || ' ' || srid FROM geometry_columns WHERE f_table_name = 'courson_vine'`).Scan(&kind))
	assert.Equal(t, "POINT 4326", kind)
	// The words are those of the program, all of them.
	for c := vine.Unseen; c <= vine.Doubtful; c++ {
		var word string
		require.NoError(t, conn.QueryRow(t.Context(), `SELECT courson_condition($1)`, int16(c)).Scan(&word))
		assert.Equal(t, c.String(), word)
	}
	for p := vine.NotStarted; p <= vine.Skipped; p++ {
		var word string
		require.NoError(t, conn.QueryRow(t.Context(), `SELECT courson_progress($1)`, int16(p)).Scan(&word))
		assert.Equal(t, p.String(), word)
	}
}

// TestViews_OGR reads the view with a program that knows nothing of ours.
func TestViews_OGR(t *testing.T) {
	u := newDatabase(t)
	ogrinfo := peers.Program(t, "ogrinfo")
	s := open(t, u, postgis.Options{})
	bs, _, vs := plant(t, s, 2, 2, 25)
	_, err := s.Append(t.Context(), []vine.Event{event(vine.Sighting{Condition: vine.Missing}, bs[0].ID, vs[4].ID)})
	require.NoError(t, err)
	config, err := pgx.ParseConfig(u)
	require.NoError(t, err)
	source := fmt.Sprintf("PG:host=%s port=%d user=%s dbname=%s", config.Host, config.Port, config.User, config.Database)
	look := func(args ...string) string {
		out, err := exec.Command(ogrinfo, append([]string{"-ro", source}, args...)...).CombinedOutput()
		require.NoError(t, err, string(out))
		return string(out)
	}
	all := look("-so", "courson_vine")
	assert.Contains(t, all, "Feature Count: 100")
	assert.Contains(t, all, "Geometry: Point")
	assert.Contains(t, all, "WGS 84")
	assert.Contains(t, all, "Extent: (5.00")
	missing := look("courson_vine_season", "-where", "condition = 'missing' AND season = 2027")
	assert.Contains(t, missing, "Feature Count: 1")
	assert.Contains(t, missing, "address (String) = A0/1a/5")
	assert.Contains(t, look("-so", "block"), "Geometry: Multi Polygon")
	assert.Contains(t, look("-so", "vine_row"), "Geometry: Multi Line String")
}
