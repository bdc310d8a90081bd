package work

import (
	"context"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

// based gives a store with the base scene.
func based(t testing.TB, open func(testing.TB) store.Store) store.Store {
	t.Helper()
	st := open(t)
	take(t, st, ImportJob{Season: 2025}, base()...)
	return st
}

// One pound is 453.59237 g and one inch 25.4 mm (NIST Special Publication 811,
// appendix B.8); an ounce is a sixteenth of a pound.
func TestMeasures_UnitsAndScales(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := based(t, open)
		for _, c := range []struct {
			name, header, cell string
			units              map[string]string
			quantity           vine.Quantity
			want               float64
			scale              string
		}{
			{"kg in brackets", "Pruning weight [kg]", "0.62", nil, vine.PruningWeight, 620, "kg"},
			{"lb in brackets", "pruning weight (lb)", "1.5", nil, vine.PruningWeight, 680.388555, "lb"},
			{"grams", "pruning_weight_g", "430", nil, vine.PruningWeight, 430, ""},
			{"ounces", "prunings oz", "16", nil, vine.PruningWeight, 453.59237, "oz"},
			{"stated kg", "weight", "0.5", map[string]string{"pruning_weight": "kg"}, vine.PruningWeight, 500, "kg"},
			{"stated by another name", "yield", "5", map[string]string{"crop": "lb"}, vine.Yield, 2267.96185, "lb"},
			{"inches", "cane diameter (in)", "0.3", nil, vine.CaneDiameter, 7.62, "in"},
			{"feet", "shoot_length_ft", "4", nil, vine.ShootLength, 121.92, "ft"},
			{"centimetres of girth", "trunk girth cm", "16", nil, vine.TrunkGirth, 160, "cm"},
			{"canes", "cane count", "14", nil, vine.CaneCount, 14, ""},
			{"score on a scale of its own", "visual score (0-10)", "7", nil, vine.VisualScore, 7, "0-10"},
			{"score on a stated scale", "score", "8", map[string]string{"visual_score": "1-9"}, vine.VisualScore, 8, "1-9"},
			{"score on the estate's", "score", "4", nil, vine.VisualScore, 4, "1-5"},
			{"score with its scale beside", "score,score_scale", "8,1-9", nil, vine.VisualScore, 8, "1-9"},
			{"index alone", "NDVI", "0.71", nil, vine.CanopyIndex, 0.71, "NDVI"},
			{"index named", "canopy index [NIR/R]", "5.2", nil, vine.CanopyIndex, 5.2, "NIR/R"},
			{"index stated", "canopy_index", "0.3", map[string]string{"canopy_index": "ndre"}, vine.CanopyIndex, 0.3, "NDRE"},
			{"index named beside", "canopy_index,index_name", "0.3,ndre", nil, vine.CanopyIndex, 0.3, "NDRE"},
		} {
			t.Run(c.name, func(t *testing.T) {
				sheet := inMemory("m.csv", "block,row,vine,"+c.header+"\nB1,1,5,"+c.cell+"\n")
				job := ImportJob{As: Measures, Season: 2026, Units: c.units}
				take(t, st, job, sheet)
				got := stateOf(t, st, "B1/1/5", 2026).Measures[c.quantity]
				require.InDelta(t, c.want, got.Value, 1e-9*c.want)
				require.Equal(t, c.scale, got.Scale)
				before := dump(t, st)
				again := take(t, st, job, sheet)
				require.False(t, again.Changed())
				require.Equal(t, before, dump(t, st))
			})
		}
	})
}

func TestMeasures_Addresses(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := based(t, open)
		found, err := st.FindLabel(context.Background(), "B1/4/4")
		require.NoError(t, err)
		take(t, st, ImportJob{As: Measures, Season: 2026}, inMemory("place.csv", "block,row,vine,weight_g,date,weighed by\nB1,1,2,300,2026-01-14,Ana\nB1,1,3,310,2026-01-15,\n"),
			inMemory("tag.csv", "tag,weight_g\n2-4,320\n"), inMemory("address.csv", "address,weight_g\nB1/3/3,330\n"),
			inMemory("id.csv", "courson_id,weight_g\n"+itoa(found[0].ID)+",340\n"))
		for address, want := range map[string]float64{"B1/1/2": 300, "B1/1/3": 310, "B1/2/4": 320, "B1/3/3": 330, "B1/4/4": 340} {
			require.Equal(t, want, stateOf(t, st, address, 2026).Measures[vine.PruningWeight].Value, address)
		}
		got := stateOf(t, st, "B1/1/2", 2026).Measures[vine.PruningWeight]
		require.Equal(t, "2026-01-14", got.At.In(time.UTC).Format(time.DateOnly))
		events, err := st.Events(context.Background(), store.EventQuery{Season: 2026, Device: "import:place.csv"})
		require.NoError(t, err)
		require.Len(t, events, 2)
		require.Equal(t, []string{"Ana", ""}, []string{events[0].By, events[1].By})
	})
}

// Counts by classes: 4 of 6 to 8 mm, 6 of 8 to 10 mm and 2 over 10 mm are 12
// canes; with middles of 7, 9 and 11 mm (the open class as wide as its
// neighbour) their mean is (28 + 54 + 22) / 12 = 8.667 mm.
func TestMeasures_CanesByClasses(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := based(t, open)
		const sheet = "block,row,vine,canes >10 mm,canes 6-8 mm,canes 8-10 mm\nB1,1,2,2,4,6\nB1,1,3,,5,\nB1,1,4,,,\nB1,1,6,0,0,0\n"
		job := ImportJob{As: Measures, Season: 2026}
		report := take(t, st, job, inMemory("canes.csv", sheet))
		require.Contains(t, noticesOf(report), "an empty class beside filled ones was read as no cane")
		got := stateOf(t, st, "B1/1/2", 2026).Measures
		require.Equal(t, 12.0, got[vine.CaneCount].Value)
		require.InDelta(t, 104.0/12, got[vine.CaneDiameter].Value, 1e-9)
		require.Equal(t, fromClasses, got[vine.CaneDiameter].Scale)
		got = stateOf(t, st, "B1/1/3", 2026).Measures
		require.Equal(t, 5.0, got[vine.CaneCount].Value)
		require.Equal(t, 7.0, got[vine.CaneDiameter].Value)
		require.Empty(t, stateOf(t, st, "B1/1/4", 2026).Measures)
		got = stateOf(t, st, "B1/1/6", 2026).Measures
		require.Equal(t, 0.0, got[vine.CaneCount].Value)
		require.NotContains(t, got, vine.CaneDiameter, "no canes have no diameter")

		events, err := st.Events(context.Background(), store.EventQuery{Season: 2026})
		require.NoError(t, err)
		m := events[0].Body.(vine.Measure)
		if m.Quantity != vine.CaneCount {
			m = events[1].Body.(vine.Measure)
		}
		require.Equal(t, []string{"6-8 mm", "8-10 mm", ">10 mm"}, m.Classes, "kept as given, by diameter")
		require.Equal(t, [][]int{{4, 6, 2}, {5, 0, 0}, {0, 0, 0}}, m.Counts)

		again := take(t, st, job, inMemory("canes.csv", sheet))
		require.False(t, again.Changed())
		moved := strings.Replace(sheet, "B1,1,2,2,4,6", "B1,1,2,2,5,5", 1)
		put := take(t, st, job, inMemory("canes.csv", moved))
		require.True(t, put.Changed(), "the same sum in other classes is another count")
		require.InDelta(t, (35+45+22)/12.0, stateOf(t, st, "B1/1/2", 2026).Measures[vine.CaneDiameter].Value, 1e-9)
	})
}

// A sheet that is put right changes what it says and nothing else.
func TestMeasures_PutRight(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := based(t, open)
		job := ImportJob{As: Measures, Season: 2026}
		take(t, st, job, inMemory("m.csv", "block,row,vine,date,weight_kg,NDVI\nB1,1,2,2026-01-14,0.4,0.5\nB1,1,3,2026-01-14,0.5,0.6\n"))
		steps := []struct {
			name, sheet string
			made        map[string]int
		}{
			{"another number", "block,row,vine,date,weight_kg,NDVI\nB1,1,2,2026-01-14,0.45,0.5\nB1,1,3,2026-01-14,0.5,0.6\n", map[string]int{"pruning_weight": 1, "canopy_index": 0}},
			{"another day", "block,row,vine,date,weight_kg\nB1,1,2,2026-01-14,0.45\nB1,1,3,2026-01-13,0.5\n", map[string]int{"pruning_weight": 1}},
			{"another index", "block,row,vine,date,NDRE\nB1,1,2,2026-01-14,0.5\nB1,1,3,2026-01-14,0.6\n", map[string]int{"canopy_index": 2}},
			{"the same in grams", "block,row,vine,date,weight_g\nB1,1,2,2026-01-14,450\nB1,1,3,2026-01-13,500\n", map[string]int{"pruning_weight": 0}},
		}
		for _, s := range steps {
			report := take(t, st, job, inMemory("m.csv", s.sheet))
			got := map[string]int{}
			for _, r := range report.Records {
				got[r.What] = r.Made
			}
			require.Equal(t, s.made, got, s.name)
		}
		got := stateOf(t, st, "B1/1/3", 2026).Measures
		require.Equal(t, "2026-01-13", got[vine.PruningWeight].At.Format(time.DateOnly))
		require.Equal(t, "NDRE", got[vine.CanopyIndex].Scale)
	})
}

func TestMeasures_Refused(t *testing.T) {
	st := based(t, openGpkg)
	for _, c := range []struct {
		name  string
		job   ImportJob
		text  string
		wants []string
	}{
		{"no unit", ImportJob{}, "block,row,vine,weight\nB1,1,1,450\nB1,1,2,300\n", []string{"line 2", "weight: a quantity without its unit", "--unit pruning_weight=g"}},
		{"unknown unit", ImportJob{}, "block,row,vine,Weight (stone)\nB1,1,1,450\n", []string{`a unit that is not known; found "stone"; wanted one of g, kg, oz, lb`}},
		{"two units", ImportJob{Units: map[string]string{"weight": "g"}}, "block,row,vine,weight_kg\nB1,1,1,0.4\n", []string{"another unit than the one stated; found kg, and g"}},
		{"stated unit of nothing", ImportJob{Units: map[string]string{"height": "m"}}, "block,row,vine,weight_g\nB1,1,1,400\n", []string{`not a quantity that is measured; found "height"`}},
		{"stated unit of another kind", ImportJob{Units: map[string]string{"weight": "mm"}}, "block,row,vine,weight\nB1,1,1,400\n", []string{`a unit that is not known; found "mm"`}},
		{"impossible weight", ImportJob{}, "block,row,vine,weight_kg\nB1,1,1,0.4\nB1,1,2,450\n", []string{"line 3", `weight_kg: out of range; found "450"; wanted 0 to 20 kg`}},
		{"weight below nought", ImportJob{}, "block,row,vine,weight_g\nB1,1,2,-4\n", []string{"out of range"}},
		{"half a cane", ImportJob{}, "block,row,vine,canes 6-8 mm\nB1,1,2,2.5\n", []string{"not a whole number"}},
		{"decimal mark of two kinds", ImportJob{}, "block;row;vine;weight_g\nB1;1;1;1.234\n", []string{"may stand for decimals or for thousands"}},
		{"score off its scale", ImportJob{}, "block,row,vine,score 1-9\nB1,1,1,10\n", []string{"wanted a score from 1 to 9"}},
		{"index without a name", ImportJob{}, "block,row,vine,canopy_index\nB1,1,1,0.5\n", []string{"an index without its name"}},
		{"canes counted or prescribed", ImportJob{}, "block,row,vine,canes\nB1,1,1,12\n", []string{"cane_count for canes counted, plan_canes for canes prescribed"}},
		{"class without unit", ImportJob{}, "block,row,vine,canes 6-8\nB1,1,1,12\n", []string{"a class of diameters without its unit"}},
		{"class upside down", ImportJob{}, "block,row,vine,canes 8-6 mm\nB1,1,1,12\n", []string{"not a class of diameters"}},
		{"classes that overlap", ImportJob{}, "block,row,vine,canes 6-8 mm,canes 7-9 mm\nB1,1,1,2,3\nB1,1,2,2,3\n", []string{"line 2", "classes that overlap"}},
		{"classes against a count", ImportJob{}, "block,row,vine,cane_count,canes 6-8 mm\nB1,1,1,4,3\n", []string{"add up to 3 canes"}},
		{"a day of another season", ImportJob{}, "block,row,vine,date,weight_g\nB1,1,1,2024-01-10,300\n", []string{"wrong season: this day is in season 2024"}},
		{"a day to come", ImportJob{Season: 2027}, "block,row,vine,date,weight_g\nB1,1,1,2027-01-10,300\n", []string{"still to come"}},
		{"no season", ImportJob{Season: -1}, "block,row,vine,weight_g\nB1,1,1,300\n", []string{"not of which season"}},
		{"a vine that is not there", ImportJob{}, "block,row,vine,weight_g\nB1,1,77,300\n", []string{"a vine that is not known"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.job.As = Measures
			switch c.job.Season {
			case 0:
				c.job.Season = 2026
			case -1:
				c.job.Season = 0
			}
			report := refuse(t, st, c.job, inMemory("m.csv", c.text))
			for _, want := range c.wants {
				require.Contains(t, texts(report), want)
			}
			require.Len(t, report.Problems, 1)
		})
	}
}

// Unlikely values are stored and named, with what makes them unlikely.
func TestMeasures_Unlikely(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := based(t, open)
		sheet := "block,row,vine,weight_kg,cane_count\n"
		for i := 1; i <= 20; i++ {
			sheet += "B1,1," + itoa(int64(i)) + ",0.4" + itoa(int64(i%5)) + ",10\n"
		}
		sheet = strings.Replace(sheet, "B1,1,7,0.42,", "B1,1,7,4.2,", 1)
		sheet += "B1,7,3,0.4,8\n" // a missing vine
		job := ImportJob{As: Measures, Season: 2026, DryRun: true}
		dry := take(t, st, job, inMemory("m.csv", sheet))
		job.DryRun = false
		report := take(t, st, job, inMemory("m.csv", sheet))
		require.Equal(t, dry.Unlikely, report.Unlikely, "a dry run tells the same")
		var lines []string
		for _, u := range report.Unlikely {
			lines = append(lines, u.String())
		}
		require.Contains(t, lines, "B1/1/7 pruning_weight 4200 g (4.2 kg) (m.csv, line 8): 420 g a cane; 2 to 150 g is usual; 3818 g/m; 0 to 2000 is usual")
		require.Contains(t, lines, "B1/7/3 pruning_weight 400 g (0.4 kg) (m.csv, line 22): the vine is missing")
		for _, u := range report.Unlikely {
			require.Contains(t, []string{"B1/1/7", "B1/7/3"}, u.Address)
		}
		require.Equal(t, 4200.0, stateOf(t, st, "B1/1/7", 2026).Measures[vine.PruningWeight].Value)
		later := take(t, st, job, inMemory("n.csv", "block,row,vine,weight_kg\nB1,2,1,0.42\n"))
		require.Empty(t, later.Unlikely, "only values of the file are named")
	})
}

// What was taken in with units, scales and days comes out and back in unchanged.
func TestMeasures_OutAndBack(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := based(t, open)
		take(t, st, ImportJob{As: Measures, Season: 2026}, inMemory("m.csv", "block,row,vine,weight_lb,NDRE,score 0-10,canes 6-8 mm,canes 8-10 mm\nB1,1,2,1.1,0.31,7,3,4\nB1,1,3,0.9,0.29,6,2,1\n"))
		before := dump(t, st)
		for _, form := range []Form{Table, GeoJSON} {
			var out strings.Builder
			_, err := Export(context.Background(), st, ExportJob{What: Vines, Form: form, Season: 2026, Now: clock}, &out)
			require.NoError(t, err)
			report := take(t, st, ImportJob{}, inMemory("out."+string(form), out.String()))
			require.False(t, report.Changed(), form)
			require.Equal(t, before, dump(t, st))
		}
	})
}

func noticesOf(r Report) string {
	var b strings.Builder
	for _, n := range r.Notices {
		b.WriteString(n.String() + "\n")
	}
	return b.String()
}

func itoa(n int64) string { return strconv.FormatInt(n, 10) }
