package work

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/geo/replant"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// replantsFor works the replants of the first block out.
func replantsFor(t *testing.T, st store.Store, season int) *Replants {
	t.Helper()
	ctx := context.Background()
	b := block0(t, st)
	g, _, _, err := LoadGround(ctx, st, b.ID)
	require.NoError(t, err)
	s, err := LoadStand(ctx, st, g, season)
	require.NoError(t, err)
	book, err := ReadRulebook(ctx, st)
	require.NoError(t, err)
	settled, err := book.For(b)
	require.NoError(t, err)
	job := ReplantJob{Block: ShareBlock{Block: b, Stand: s, Settled: settled}, Zone: time.UTC, Today: clock()}
	job.Moves, err = ReplantMoves(ctx, st, b.ID)
	require.NoError(t, err)
	r, err := PlanReplants(ctx, st, job)
	require.NoError(t, err)
	return r
}

// addresses gives the places in a state.
func (r *Replants) addresses(s replant.State) (out []string) {
	for i, v := range r.Findings.Verdicts {
		if v.State == s {
			out = append(out, r.Stand.Ground.Address(i).String())
		}
	}
	return out
}

// groundOf is the ground of the first block, to make surveys of.
func groundOf(t *testing.T, st store.Store) *stand.Ground {
	t.Helper()
	g, _, _, err := LoadGround(context.Background(), st, block0(t, st).ID)
	require.NoError(t, err)
	return g
}

// trunks writes a survey of the places that stand as a table: moved by so many
// metres east and north, with an error each way and what the receiver claims.
func trunks(g *stand.Ground, stands func(i int) bool, east, north, errorM float64, claimed string) string {
	f := frame.New(orb.Point(g.Origin))
	rnd := rand.New(rand.NewPCG(11, uint64(1000*errorM)))
	var b strings.Builder
	b.WriteString("name,lat,lon,fix,hrms_m\n")
	for i := range g.Len() {
		if stands(i) {
			p := f.Inverse(float64(g.X[i])+east+errorM*rnd.NormFloat64(), float64(g.Y[i])+north+errorM*rnd.NormFloat64())
			fmt.Fprintf(&b, "t%d,%.10f,%.10f,%s\n", i, p[1], p[0], claimed)
		}
	}
	return b.String()
}

func surveyJob() ImportJob {
	return ImportJob{As: Surveyed, Date: time.Date(2026, 11, 20, 0, 0, 0, 0, time.UTC), By: "Ana"}
}

// Real gaps: the 30 places of Strickland's block without a yield (A. G. Strickland,
// A vine uniformity trial, Journal of Agriculture, Victoria, 30, 1932) are found as
// gaps by a survey of the 125 vines that stood, none else. The error of the survey,
// 2 cm, is invented.
func TestSurvey_Strickland(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := open(t)
		take(t, st, ImportJob{Season: 1930}, onDisk(stricklandDir+"ground.geojson"), onDisk(stricklandDir+"vines.csv"))
		g := groundOf(t, st)
		s, err := LoadStand(context.Background(), st, g, 1930)
		require.NoError(t, err)
		var omitted []string
		stood := make([]bool, g.Len())
		for i := range stood {
			if stood[i] = s.YieldG[i] >= 0; !stood[i] {
				omitted = append(omitted, g.Address(i).String())
			}
		}
		require.Len(t, omitted, 30)
		file := inMemory("winter.csv", trunks(g, func(i int) bool { return stood[i] }, 0, 0, 0.02, "fixed,0.02"))
		report := take(t, st, surveyJob(), file)
		p := report.Points
		require.Equal(t, []int{125, 125, 0, 0, 0, 155, 30}, []int{p.Read, p.Sure, p.Noticed, p.Doubtful, p.Aside, p.Covered, p.Without})
		require.Equal(t, omitted, p.NoPoint)
		r := replantsFor(t, st, 2027)
		require.Equal(t, omitted, r.addresses(replant.Missing))
		require.Len(t, r.addresses(replant.Living), 125)

		before := dump(t, st)
		again := take(t, st, surveyJob(), file)
		require.False(t, again.Changed())
		require.Equal(t, 125, again.Points.Unchanged)
		require.Equal(t, before, dump(t, st), "the same file again changes nothing")
		list, err := KeptEvidence(context.Background(), st, g.Block)
		require.NoError(t, err)
		require.Len(t, list, 1)
		require.Empty(t, replantsFor(t, st, 2026).addresses(replant.Missing), "the survey is of the winter of 2027")
	})
}

// The cases of a survey of mixed fixes (testdata/import/o43): each point's fate was
// worked out by hand from the distances.
func TestSurvey_MixedFixes(t *testing.T) {
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...)
	report := take(t, st, surveyJob(), onDisk(caseDir+"o43_rtk_float_survey.csv"))
	p := report.Points
	require.Equal(t, []int{8, 3, 1, 1, 2 + 1, 1}, []int{p.Read, p.Sure, p.Noticed, p.Twice, p.Doubtful, p.Aside}, "%+v", p)
	fate := map[string]PointItem{}
	for _, it := range p.Items {
		fate[it.Name] = it
	}
	require.Equal(t, "doubtful", fate["s02"].Became)
	require.Equal(t, []string{"B1/3/8", "B1/3/9"}, []string{fate["s02"].Nearest, fate["s02"].Next})
	require.Equal(t, []string{"doubtful", "B1/3"}, []string{fate["s04"].Became, fate["s04"].Next})
	require.Contains(t, fate["s06"].Why, "claimed error 2.60 m")
	require.Equal(t, "set aside", fate["s07"].Became)
	require.Contains(t, fate["s07"].Why, "2.10 m past the end")
	require.Equal(t, "twice", fate["s08"].Became)
	var text strings.Builder
	require.NoError(t, report.WriteText(&text))
	require.Contains(t, text.String(), "doubtful: s02 at 11.37")
	require.Zero(t, p.Covered, "eight points of 168 places measure no stretch")
}

// Simulated surveys in rows of 1.80 m with vines 1.10 m apart. At 2 cm all trunks
// are sure and every gap is found. At 0.3 and 0.5 m none is sure, so nothing is
// called missing, whatever the receiver claims; gaps are suspected.
func TestSurvey_Errors(t *testing.T) {
	gaps := map[int]bool{25: true, 90: true, 91: true, 128: true}
	for _, c := range []struct {
		name    string
		errorM  float64
		claimed string
		sure    bool
	}{
		{"2 cm, said", 0.02, "fixed,0.02", true},
		{"2 cm, not said", 0.02, ",", true},
		{"0.3 m, said", 0.3, "float,0.3", false},
		{"0.3 m, not said", 0.3, ",", false},
		{"0.3 m, but 1 cm claimed", 0.3, "fixed,0.01", false},
		{"0.5 m, said", 0.5, "float,0.5", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			st := openGpkg(t)
			take(t, st, ImportJob{As: Blocks}, onDisk(baseDir+"blocks.geojson"))
			take(t, st, ImportJob{As: Rows}, onDisk(baseDir+"rows.geojson"))
			g := groundOf(t, st)
			report := take(t, st, surveyJob(), inMemory("winter.csv", trunks(g, func(i int) bool { return !gaps[i] }, 0, 0, c.errorM, c.claimed)))
			p := report.Points
			require.Nil(t, p.Shift, "%+v", p.Shift)
			r := replantsFor(t, st, 2027)
			if c.sure {
				require.Equal(t, []int{164, 4}, []int{p.Sure, p.Without})
				require.Len(t, r.addresses(replant.Missing), 4)
				return
			}
			require.Zero(t, p.Sure)
			require.Empty(t, r.addresses(replant.Missing))
			t.Logf("%s: %d of 164 with notice, %d doubtful, %d set aside; %d places suspected", c.name, p.Noticed, p.Doubtful, p.Aside, len(r.addresses(replant.Suspected)))
			require.Greater(t, len(r.addresses(replant.Suspected)), 1)
		})
	}
}

// A datum is off by 1.546 m towards 19.5° between WGS 84 and GDA94 in the Yarra
// valley (by the transformation of the EPSG registry, worked out with PROJ); in
// rows 1.80 m apart that is about a row or a vine. It is told and asked about,
// never applied unasked.
func TestSurvey_Shift(t *testing.T) {
	datumE, datumN := 1.546*math.Sin(19.5*math.Pi/180), 1.546*math.Cos(19.5*math.Pi/180)
	for _, c := range []struct {
		name        string
		east, north float64
		shifted     bool
	}{
		{"none", 0, 0, false},
		{"half a hand", 0.1, 0.05, false},
		{"one row", 1.8 * math.Cos(20*math.Pi/180), -1.8 * math.Sin(20*math.Pi/180), true},
		{"one vine", 1.1 * math.Sin(20*math.Pi/180), 1.1 * math.Cos(20*math.Pi/180), true},
		{"the datum", datumE, datumN, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			st := openGpkg(t)
			take(t, st, ImportJob{}, base()...)
			file := inMemory("winter.csv", trunks(groundOf(t, st), func(i int) bool { return i%13 != 5 }, c.east, c.north, 0.02, "fixed,0.02"))
			job := surveyJob()
			if !c.shifted {
				report := take(t, st, job, file)
				require.Nil(t, report.Points.Shift)
				job.Shift = ShiftTakeOff
				require.Contains(t, texts(refuse(t, st, job, file)), "no shift of about a row or a vine was found")
				return
			}
			report := refuse(t, st, job, file)
			require.Contains(t, texts(report), "shifted")
			require.InDelta(t, c.east, report.Points.Shift.EastM, 0.02, "%+v", report.Points.Shift)
			require.InDelta(t, c.north, report.Points.Shift.NorthM, 0.02)
			require.False(t, report.Points.Shift.TakenOff)

			job.Shift = ShiftTakeOff
			report = take(t, st, job, file)
			require.True(t, report.Points.Shift.TakenOff)
			require.Equal(t, report.Points.Read, report.Points.Sure)
			require.Less(t, report.Points.Blocks[0].MostAsideM, 0.1)
			again := take(t, st, job, file)
			require.False(t, again.Changed())
			list, err := KeptEvidence(context.Background(), st, block0(t, st).ID)
			require.NoError(t, err)
			require.InDelta(t, c.east, list[0].EastM, 0.02, "what was taken off is kept beside the points")

			job.Shift = ShiftLeave
			report = take(t, st, job, file)
			require.Equal(t, report.Points.Read, report.Points.Replaced, "another answer takes the place of the first")
			require.Contains(t, report.Notices[0].String(), "Left as it is")
		})
	}
}

// Points between rows, away from all blocks and without a valid position are told
// and never forced; a table in metres wants its coordinate system; what cannot be
// read is refused with its line.
func TestSurvey_Odd(t *testing.T) {
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...)
	g := groundOf(t, st)
	f := frame.New(orb.Point(g.Origin))
	mid := func(i int, share float64) orb.Point { // from a vine towards the one in the next row
		j := i + 21
		return f.Inverse(float64(g.X[i])+share*float64(g.X[j]-g.X[i]), float64(g.Y[i])+share*float64(g.Y[j]-g.Y[i]))
	}
	row := func(name string, p orb.Point, more string) string {
		return fmt.Sprintf("%s,%.10f,%.10f,%s\n", name, p[1], p[0], more)
	}
	const head = "name,lat,lon,quality,row,vine\n"
	report := take(t, st, surveyJob(), inMemory("odd.csv", head+row("between", mid(30, 0.5), "fixed,,")+row("afar", orb.Point{11.5, 45.3}, "fixed,,")+
		row("lost", mid(30, 0), "0,,")+row("said", mid(31, 0), "4,2,11")+row("other", mid(32, 0), "4,2,13")+row("good", mid(33, 0), "4,2,13")))
	fate := map[string]string{}
	for _, it := range report.Points.Items {
		fate[it.Name] = it.Became + ": " + it.Why
	}
	require.Contains(t, fate["between"], "doubtful: between two rows")
	require.Contains(t, fate["afar"], "outside: near no block")
	require.Contains(t, fate["lost"], "no valid position")
	require.NotContains(t, fate, "said")
	require.Contains(t, fate["other"], "the file says vine 13, the point lies nearest to vine 12")
	require.Equal(t, []int{2, 3, 1}, []int{report.Points.Sure, report.Points.Doubtful, report.Points.Outside})

	for _, c := range []struct{ text, says string }{
		{"easting,northing\n686107.02,5008700.1\n", "not of which coordinate system"},
		{"name,note\na,b\n", "no place"},
		{"lat,lon,fix\n45.21,11.37,perfect\n", `found "perfect"`},
		{"lat,lon\n45.3,11.9\n", "no point lies near a block"},
		{"lat,lon,row,vine\n45.21,11.37,99,1\n", "no row of this label"},
	} {
		job := surveyJob()
		if strings.Contains(c.text, "row,vine") {
			job.Block = "B1"
		}
		require.Contains(t, texts(refuse(t, st, job, inMemory("bad.csv", c.text))), c.says)
	}
	job := surveyJob()
	job.Date = time.Time{}
	require.Contains(t, texts(refuse(t, st, job, inMemory("bad.csv", "lat,lon\n45.21,11.37\n"))), "points without their day")
	require.Contains(t, texts(refuse(t, openGpkg(t), surveyJob(), inMemory("bad.csv", "lat,lon\n45.21,11.37\n"))), "no blocks")
}

// A table in metres and GeoJSON give the same as longitude and latitude.
func TestSurvey_Forms(t *testing.T) {
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...)
	g := groundOf(t, st)
	crs, err := frame.ParseCRS("EPSG:32632")
	require.NoError(t, err)
	f := frame.New(orb.Point(g.Origin))
	table, features := "point,E,N,accuracy_cm,date\n", []string{}
	for i := range 21 {
		p := f.Inverse(float64(g.X[i]), float64(g.Y[i]))
		x, y := crs.FromWGS84(p)
		table += fmt.Sprintf("p%d,%.3f,%.3f,1.5,2026-11-19\n", i, x, y)
		features = append(features, fmt.Sprintf(`{"type":"Feature","properties":{"fix":"RTK_FIXED","accuracy":0.015,"date":"2026-11-18"},"geometry":{"type":"Point","coordinates":[%.10f,%.10f,101.5]}}`, p[0], p[1]))
	}
	job := surveyJob()
	job.CRS = "EPSG:32632"
	report := take(t, st, job, inMemory("metres.csv", table))
	require.Equal(t, []int{21, 21, 0}, []int{report.Points.Sure, report.Points.Covered, report.Points.Without})
	require.Equal(t, "2026-11-19", report.Points.Blocks[0].Day.String())
	report = take(t, st, surveyJob(), inMemory("points.geojson", `{"type":"FeatureCollection","features":[`+strings.Join(features, ",")+`]}`))
	require.Equal(t, 21, report.Points.Sure)
	list, err := KeptEvidence(context.Background(), st, g.Block)
	require.NoError(t, err)
	require.Len(t, list, 2)
	require.NoError(t, eachPart(context.Background(), st, g.Block, &list[1], func(p *keptPoints) {
		require.Equal(t, []string{"fixed", "fixed"}, p.Fix[:2])
		require.Equal(t, []vine.ID{g.ID[0], g.ID[1]}, p.Vine[:2])
	}))
}
