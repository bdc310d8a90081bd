package work

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/geo/replant"
	"courson/geo/vine"
	"courson/store"
)

func detectionJob(day string) ImportJob {
	at, err := time.Parse(time.DateOnly, day)
	if err != nil {
		panic(err)
	}
	return ImportJob{As: Detections, Date: at}
}

// Detections come as points or by address, each with a score. Gaps from the air
// are hints (Drones 7(6):349, 2023): never more than a suspicion.
func TestDetections(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := open(t)
		take(t, st, ImportJob{As: Blocks}, onDisk(baseDir+"blocks.geojson"))
		take(t, st, ImportJob{As: Rows}, onDisk(baseDir+"rows.geojson"))
		g := groundOf(t, st)
		f := frame.New(orb.Point(g.Origin))
		p := f.Inverse(float64(g.X[30])+0.1, float64(g.Y[30]))
		between := f.Inverse(float64(g.X[50]+g.X[51])/2, float64(g.Y[50]+g.Y[51])/2)
		table := fmt.Sprintf("lat,lon,block,row,vine,score\n%.9f,%.9f,,,,0.9\n%.9f,%.9f,,,,0.8\n,,B1,1,3,0.95\n,,B1,1,4,0.3\n45.3,11.5,,,,1\n", p[1], p[0], between[1], between[0])
		file := inMemory("flight.csv", table)
		report := take(t, st, detectionJob("2026-11-21"), file)
		require.Equal(t, []int{5, 3, 1, 1}, []int{report.Points.Read, report.Points.Sure, report.Points.Doubtful, report.Points.Outside})
		again := take(t, st, detectionJob("2026-11-21"), file)
		require.False(t, again.Changed())
		r := replantsFor(t, st, 2027)
		require.Equal(t, []string{"B1/1/3", "B1/2/10"}, r.addresses(replant.Suspected))
		said := r.Findings.Said(2)
		require.Len(t, said, 1)
		require.Equal(t, "detections 2026-11-21 flight score 0.95 suspected", fmt.Sprint(said[0].Source, " ", said[0].Day, " ", said[0].By, " ", said[0].Text, " ", said[0].State))
		require.Equal(t, []Kept{{Kind: Detections, Name: "flight", Points: 3, Sure: 3, Doubtful: 1, Day: replant.Date(2026, 11, 21), Season: 2027}}, bare(r.Kept))

		for text, says := range map[string]string{
			"lat,lon\n45.21,11.37\n":              "a detection without its score",
			"lat,lon,score\n45.21,11.37,70\n":     "0 (a plant stands there) to 1",
			"block,row,vine,score\nB1,1,99,0.7\n": "a place that is not known",
			"note,score\na,0.5\n":                 "no place",
		} {
			require.Contains(t, texts(refuse(t, st, detectionJob("2026-11-21"), inMemory("bad.csv", text))), says)
		}
	})
}

// bare leaves out what differs from run to run.
func bare(list []Kept) []Kept {
	out := append([]Kept(nil), list...)
	for i := range out {
		out[i].ID, out[i].Digest, out[i].Made = "", "", time.Time{}
	}
	return out
}

// The canopy index of an image is a source too: a place far under its neighbours
// is suspected, a weak stretch is not. The index is taken in as every measure.
func TestDetections_CanopyIndex(t *testing.T) {
	st := openGpkg(t)
	take(t, st, ImportJob{As: Blocks}, onDisk(baseDir+"blocks.geojson"))
	take(t, st, ImportJob{As: Rows}, onDisk(baseDir+"rows.geojson"))
	var b strings.Builder
	b.WriteString("block,row,vine,date,canopy index (NDVI)\n")
	for row := 1; row <= 8; row++ {
		for n := 1; n <= 21; n++ {
			v := 0.6 + 0.02*math.Sin(float64(7*row+3*n))
			switch {
			case row == 3 && n == 8, row == 5 && (n == 12 || n == 13):
				v = 0.2
			case row == 7 && n >= 8:
				v -= 0.2 // a weak end
			}
			fmt.Fprintf(&b, "B1,%d,%d,2026-07-10,%.4f\n", row, n, v)
		}
	}
	take(t, st, ImportJob{As: Measures, Season: 2027}, inMemory("index.csv", b.String()))
	r := replantsFor(t, st, 2027)
	require.Equal(t, []string{"B1/3/8", "B1/5/12", "B1/5/13"}, r.addresses(replant.Suspected))
	said := r.Findings.Said(2*21 + 7)
	require.Len(t, said, 1)
	require.Equal(t, "canopy index NDVI", said[0].By)
	require.Equal(t, "2026-07-10", said[0].Day.String())
	require.Contains(t, said[0].Text, ": 0.2, where the places beside it have 0.", "what it rests on")
}

// All four sources speak of one block, are kept apart and weighed: the survey finds
// no trunk, a crew saw the vine dead once, an image suspects, and the record says
// what was planted.
func TestEvidence_FourSources(t *testing.T) {
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...) // 2-5, 5-11, 5-12, 7-3 missing, 6-10 dead once, 3-17 replanted
	g := groundOf(t, st)
	at := func(address string) int {
		for i := range g.Len() {
			if g.Address(i).String() == address {
				return i
			}
		}
		t.Fatal(address)
		return -1
	}
	without := map[int]bool{at("B1/2/5"): true, at("B1/5/11"): true, at("B1/5/12"): true, at("B1/4/4"): true}
	survey := surveyJob()
	survey.Date = time.Date(2026, 11, 26, 0, 0, 0, 0, time.UTC) // the day after the crews
	take(t, st, survey, inMemory("winter.csv", trunks(g, func(i int) bool { return !without[i] }, 0, 0, 0.02, "fixed,0.02")))
	take(t, st, detectionJob("2026-11-27"), inMemory("flight.csv", "block,row,vine,score\nB1,2,5,0.97\nB1,8,8,0.6\n"))
	r := replantsFor(t, st, 2027)
	states := map[string]string{}
	for _, a := range []string{"B1/2/5", "B1/7/3", "B1/4/4", "B1/6/10", "B1/8/8", "B1/3/17"} {
		states[a] = r.Findings.Verdicts[at(a)].State.String()
	}
	require.Equal(t, map[string]string{
		"B1/2/5":  "missing",  // seen missing, no trunk, suspected from the air
		"B1/7/3":  "doubtful", // seen missing, but a trunk stands there
		"B1/4/4":  "doubtful", // seen bearing lately, but no trunk
		"B1/6/10": "doubtful", // dead once is not dead
		"B1/8/8":  "living",   // a person saw it shortly before the image
		"B1/3/17": "living",   // replanted
	}, states)
	said := r.Findings.Said(at("B1/2/5"))
	var sources []string
	for _, s := range said {
		sources = append(sources, s.Source.String()+": "+s.Text)
	}
	require.Equal(t, []string{"crew sightings: seen missing", "surveyed trunks: no trunk, where every trunk was measured", "detections: score 0.97"}, sources)
	require.Equal(t, "planting records", r.Findings.Said(at("B1/3/17"))[0].Source.String())
}

// A place is replaced: the plant before keeps its cause, the new one has its
// planting season, batch, grade, rootstock and clone, and its leaves count from it.
// Common practice: planted before season s, its first leaf is s.
func TestReplantSteps_WriteHistory(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		ctx := context.Background()
		st := open(t)
		take(t, st, ImportJob{Date: time.Date(2025, 2, 10, 0, 0, 0, 0, time.UTC)}, base()...)
		g := groundOf(t, st)
		const place = 5*21 + 9 // B1/6/10, dead
		require.Equal(t, "B1/6/10", g.Address(place).String())
		id, other := g.ID[place], g.ID[60]
		step := func(to replant.Stage, day replant.Day, more func(m *replant.Move), ids ...vine.ID) error {
			var list []replant.Move
			for _, v := range ids {
				m := replant.Move{Vine: v, To: to, Day: day, By: "Ana"}
				if more != nil {
					more(&m)
				}
				list = append(list, m)
			}
			return st.Update(ctx, func(tx store.Tx) error { return AddReplantMoves(ctx, tx, g, list, "Ana", clock()) })
		}
		note := func(m *replant.Move) { m.Note = "tractor" }
		require.NoError(t, step(replant.ToReplace, replant.Date(2026, 1, 10), note, id, other))
		require.NoError(t, step(replant.Ordered, replant.Date(2026, 1, 12), func(m *replant.Move) {
			m.Batch, m.Grade = "N-4", "first"
			m.Sort = replant.Sort{Cultivar: "invented red", Clone: "181", Rootstock: "3309C"}
		}, id, other))
		require.NoError(t, step(replant.HoleDug, replant.Date(2026, 3, 1), nil, id, other))
		settled := replantsFor(t, st, 2026).Settled
		require.Equal(t, []int{2, 2, 0, 2}, []int{settled.Survey, settled.Holes, settled.Planted, len(settled.Mismatches)}, "two open holes")
		require.Contains(t, settled.Mismatches[0].Text+settled.Mismatches[1].Text, "a living vine is taken to stand here", "the other place is not known to be a gap")
		require.NoError(t, step(replant.PlantIn, replant.Date(2026, 4, 2), nil, id, other))

		v := lifeOf(t, st, g.Block, id)
		last := v.Plantings[len(v.Plantings)-1]
		require.Equal(t, vine.Planting{From: 2026, Rootstock: "3309C", Clone: "181", Batch: "N-4", Grade: "first"}, last)
		before := v.Plantings[len(v.Plantings)-2]
		require.Equal(t, 2024, before.To, "seen dead in the winter of 2025")
		require.NotEmpty(t, before.Why)
		h := replant.HistoryOf(id, v.Plantings)
		require.NoError(t, h.Check())
		require.Equal(t, []int{1, 2}, []int{h.Leaf(2026), h.Leaf(2027)})
		require.Equal(t, "first", h.Plants[len(h.Plants)-1].Grade)

		require.NoError(t, step(replant.Took, replant.Date(2026, 10, 3), nil, id))
		require.NoError(t, step(replant.Failed, replant.Date(2026, 11, 10), func(m *replant.Move) { m.Note = "drought" }, other))
		v = lifeOf(t, st, g.Block, id)
		require.Equal(t, last, v.Plantings[len(v.Plantings)-1], "took: the same plant still stands")
		lost := lifeOf(t, st, g.Block, other).Plantings
		require.Equal(t, vine.Planting{From: 2026, To: 2026, Why: "drought", Rootstock: "3309C", Clone: "181", Batch: "N-4", Grade: "first"}, lost[len(lost)-1])
		require.Equal(t, "tractor", lost[len(lost)-2].Why, "the vine before was pulled for the reason it was listed with")
		r := replantsFor(t, st, 2027)
		i, _ := g.IndexOf(other)
		require.Equal(t, replant.DeadStanding, r.Findings.Verdicts[i].State, "the word of who took the step")
		require.Equal(t, replant.Living, r.Findings.Verdicts[place].State)
		require.Empty(t, r.Settled.Mismatches)
		require.Equal(t, 2, r.Settled.Agreed)

		// Set after midsummer, its first leaf is the next season's.
		require.NoError(t, step(replant.ToReplace, replant.Date(2026, 11, 11), nil, other))
		require.ErrorIs(t, step(replant.PlantIn, replant.Date(2026, 11, 12), nil, other), replant.ErrStep)
	})
}

func lifeOf(t *testing.T, st store.Store, block, id vine.ID) vine.Life {
	t.Helper()
	events, err := st.Events(context.Background(), store.EventQuery{Vine: id})
	require.NoError(t, err)
	v, err := st.Vine(context.Background(), id)
	require.NoError(t, err)
	return vine.Fold(vine.Place{ID: id, Row: v.Row, Block: block, Planted: 2021}, plainEvents(events))
}

func TestFirstLeaf(t *testing.T) {
	for _, c := range []struct {
		south bool
		day   replant.Day
		want  int
	}{
		{false, replant.Date(2027, 3, 20), 2027}, {false, replant.Date(2027, 6, 10), 2027}, {false, replant.Date(2027, 10, 5), 2028}, {false, replant.Date(2027, 12, 5), 2028},
		{true, replant.Date(2027, 9, 5), 2028}, {true, replant.Date(2027, 3, 5), 2028}, {true, replant.Date(2027, 6, 5), 2028},
	} {
		h := &history{zone: time.UTC, cal: vine.Hemisphere(c.south, time.UTC)}
		require.Equal(t, c.want, h.firstLeaf(c.day), "%v", c)
	}
}
