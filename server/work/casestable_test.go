package work

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

// mostCases is how many cases there are: O-01 to O-56 of testdata/import/README.md.
const mostCases = 56

// TestCases runs every case of a file or a use that goes wrong; one without a test
// fails.
func TestCases(t *testing.T) {
	tests := caseTests()
	for n := 1; n <= mostCases; n++ {
		id := fmt.Sprintf("O-%02d", n)
		t.Run(id, func(t *testing.T) {
			require.NotEmpty(t, tests[id], "the case has no test")
			for _, c := range tests[id] {
				t.Run(c.name, c.run)
			}
		})
		delete(tests, id)
	}
	require.Empty(t, tests, "tests of cases that there are not")
}

type caseTest struct {
	name string
	run  func(*testing.T)
}

// caseTests gives the tests of each case. What is right for a file stands beside
// its name in outcomes; here are the cases of more than one file, or of none.
func caseTests() map[string][]caseTest {
	out := map[string][]caseTest{}
	number := regexp.MustCompile(`^o(\d\d)`)
	for _, c := range outcomes() {
		id := "O-" + number.FindStringSubmatch(filepath.Base(c.file))[1]
		out[id] = append(out[id], caseTest{c.file, c.run})
	}
	add := func(id, name string, run func(*testing.T)) { out[id] = append(out[id], caseTest{name, run}) }
	add("O-18", "many points, read on meanwhile", manyPoints)
	add("O-21", "labels as typed, where the blocks are known", labelsAsTyped)
	add("O-43", "each point's fate", TestSurvey_MixedFixes)
	image := func(name string) File { return onDisk("../../testdata/raster/" + name) }
	add("O-50", "declared", imageCase(image("o50a_nodata_declared.tif"), "", ImageAnswers{}))
	add("O-50", "not declared", imageCase(image("o50b_nodata_undeclared.tif"), "no_value", ImageAnswers{NoValue: []float64{-9999}}))
	add("O-51", "turned to the rows", turnedImage)
	add("O-52", "times 10,000, not said", imageCase(image("o52a_times_10000_no_tag.tif"), "factor", ImageAnswers{Factor: 1e-4}))
	add("O-52", "times 10,000, said", imageCase(image("o52b_times_10000_scale_tag.tif"), "", ImageAnswers{}))
	add("O-53", "0 to 255", imageCase(image("o53_byte_0_255.tif"), "factor", ImageAnswers{Factor: 1. / 255}))
	add("O-54", "the tag says otherwise", imageCase(image("o54_nodata_nan_but_9999.tif"), "no_value", ImageAnswers{NoValue: []float64{-9999}}))
	add("O-55", "zones that a terminal would turn down", elsewhere("../../geo/format/isoxml/check_test.go", "TestMend_ZonesForTerminal"))
	add("O-56", "two phones, one vine", twoPhones)
	return out
}

// elsewhere is for a case whose test stands in the package that it is about, and
// runs there.
func elsewhere(file, name string) func(*testing.T) {
	return func(t *testing.T) {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		require.Contains(t, string(text), "func "+name+"(t *testing.T) {")
	}
}

// manyPoints is O-18 in small: what memory and time it takes at 100 MB is measured
// by BenchmarkImportHundredMB of cmd/courson. Others read the store meanwhile; all points come in.
func manyPoints(t *testing.T) {
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...)
	reads := 0
	job := ImportJob{Season: 2025, Progress: func(stage string, _, _ int64) {
		if stage == "store vines" {
			n, err := st.CountVines(t.Context())
			require.NoError(t, err)
			require.Equal(t, 168, n, "what is not kept yet does not show")
			reads++
		}
	}}
	report := take(t, st, job, inMemory("big.geojson", string(vinePoints(60, 200))))
	require.Equal(t, Count{Read: 12_000, Made: 12_000}, report.Vines)
	require.Positive(t, reads)
}

// labelsAsTyped: three blocks, labels and tags keep their zeros.
func labelsAsTyped(t *testing.T) {
	st := openGpkg(t)
	var blocks []string
	for i, code := range []string{"007", "0007", "7"} {
		x := 11.40 + 0.01*float64(i)
		blocks = append(blocks,
			feature(fmt.Sprintf(`{"block":%q}`, code), fmt.Sprintf(`{"type":"Polygon","coordinates":[[[%[1]f,45.3],[%[2]f,45.3],[%[2]f,45.301],[%[1]f,45.301],[%[1]f,45.3]]]}`, x, x+0.001)),
			feature(fmt.Sprintf(`{"block":%q,"row":%q,"vine_spacing_m":1.1}`, code, map[bool]string{true: "3", false: "03"}[code == "7"]), fmt.Sprintf(`{"type":"LineString","coordinates":[[%[1]f,45.3001],[%[1]f,45.3009]]}`, x+0.0005)))
	}
	take(t, st, ImportJob{NumberingEnd: "S"}, inMemory("ground.geojson", features(blocks...)))
	text, err := os.ReadFile(casePath("o21_leading_zeros.csv"))
	require.NoError(t, err)
	lines := strings.Split(strings.TrimSpace(string(text)), "\n")
	numbered := lines[0] + ",vine\n"
	for i, l := range lines[1:] {
		numbered += fmt.Sprintf("%s,%d\n", strings.TrimRight(l, "\r"), i+1)
	}
	report := take(t, st, ImportJob{Season: 2025}, inMemory("tags.csv", numbered))
	require.Equal(t, 4, report.Vines.Changed)
	for tag, want := range map[string][]string{"0012": {"0007", "007"}, "0013": {"007"}, "12": {"7"}} {
		found, err := st.FindLabel(t.Context(), tag)
		require.NoError(t, err)
		var codes []string
		for _, b := range blocksOf(t, st) {
			if slices.ContainsFunc(found, func(v store.Vine) bool { return v.Block == b.ID && v.Tag == tag }) {
				codes = append(codes, b.Code)
			}
		}
		require.Equal(t, want, codes, tag)
	}
	var b bytes.Buffer
	_, err = Export(t.Context(), st, ExportJob{What: Vines, Form: Table, Season: 2025, Now: clock}, &b)
	require.NoError(t, err)
	for _, typed := range []string{"007,03,1,0012", "007,03,2,0013", "0007,03,3,0012", ",7,3,4,12"} {
		require.Contains(t, b.String(), typed, "written out as typed")
	}
}

// imageCase takes an image in, which first asks what it leaves open: 141 vines
// have 0.60, 21 have 0.30, and 6 lie where the image has no value.
func imageCase(file File, asked string, answer ImageAnswers) func(*testing.T) {
	return func(t *testing.T) {
		st := openGpkg(t)
		take(t, st, ImportJob{}, base()...)
		job := ImportJob{As: Raster, Date: clock(), Units: map[string]string{"canopy_index": "NDVI"}}
		if asked != "" {
			report := refuse(t, st, job, file)
			require.Equal(t, asked, report.Problems[0].Ask.Option, texts(report))
			job.Image = answer
		}
		take(t, st, job, file)
		strong, weak := 0, 0
		for address, v := range canopy(t, st) { // strips at the patch's edge mix both
			if math.Abs(v-0.6) < 0.075 {
				strong++
			} else if require.InDelta(t, 0.3, v, 0.075, address); true {
				weak++
			}
		}
		require.Equal(t, []int{141, 21}, []int{strong, weak})
	}
}

// turnedImage: every vine of row r has 0.40 + 0.05 r.
func turnedImage(t *testing.T) {
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...)
	take(t, st, ImportJob{As: Raster, Date: clock(), Units: map[string]string{"canopy_index": "NDVI"}}, onDisk("../../testdata/raster/o51_rotated.tif"))
	got := canopy(t, st)
	require.Len(t, got, 168)
	for address, v := range got {
		var row float64
		_, err := fmt.Sscanf(address, "B1/%g/", &row)
		require.NoError(t, err)
		require.InDelta(t, 0.40+0.05*row, v, 0.001, address)
	}
}

// canopy gives the index of every vine of the base scene that has one.
func canopy(t *testing.T, st store.Store) map[string]float64 {
	t.Helper()
	ctx := context.Background()
	g, b, _, err := LoadGround(ctx, st, block0(t, st).ID)
	require.NoError(t, err)
	out := map[string]float64{}
	for s, err := range st.States(ctx, b.ID, 2027, 0) {
		require.NoError(t, err)
		if r, ok := s.Measures[vine.CanopyIndex]; ok {
			i, _ := g.IndexOf(s.Vine)
			out[g.Address(i).String()] = r.Value
		}
	}
	return out
}

// twoPhones: what two phones recorded without a signal is kept, all five; where
// they disagree about a vine that shows, with who said what and when; sent again
// nothing changes; once somebody says what holds, it is settled.
func twoPhones(t *testing.T) {
	ctx := context.Background()
	st := openGpkg(t)
	winter := time.Date(2025, 2, 10, 10, 0, 0, 0, time.UTC)
	take(t, st, ImportJob{Date: winter, Now: func() time.Time { return winter }}, base()...)
	text, err := os.ReadFile(casePath("o56_two_phones.csv"))
	require.NoError(t, err)
	lines, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	require.NoError(t, err)
	received := time.Date(2025, 2, 12, 18, 0, 0, 0, time.UTC) // both, in the evening
	var events []vine.Event
	for i, l := range lines[1:] {
		v, err := st.FindLabel(ctx, "B1/"+strings.Replace(l[2], "-", "/", 1))
		require.NoError(t, err)
		require.Len(t, v, 1)
		at, err := time.Parse(time.RFC3339, l[1])
		require.NoError(t, err)
		var body vine.Body
		switch l[3] {
		case "buds":
			nodes := int(l[5][0] - '0')
			body = vine.Pruned{Nodes: &nodes}
		case "pruned_on":
			body = vine.Work{Operation: vine.Pruning, Progress: vine.Done}
		case "status":
			body = vine.Sighting{Condition: vine.Dead}
		default:
			body = vine.Note{Text: l[5]}
		}
		events = append(events, vine.Event{ID: uuid.Must(uuid.NewV7()), Device: l[0], Seq: uint64(i + 1), At: at, Received: received, By: l[0], Season: 2025,
			Target: vine.Target{Block: v[0].Block, Row: v[0].Row, Vines: []vine.ID{v[0].ID}}, Kind: body.Kind(), Body: body})
	}
	require.Len(t, events, 5)
	send := func(want store.Result) {
		for _, phone := range []string{"phone-A", "phone-B"} {
			var batch []vine.Event
			for _, e := range events {
				if e.Device == phone {
					batch = append(batch, e)
				}
			}
			answers, err := st.Append(ctx, batch)
			require.NoError(t, err)
			for _, a := range answers {
				require.Equal(t, want, a.Result, a.Reason)
			}
		}
	}
	send(store.Stored)
	before := dump(t, st)
	send(store.Known)
	require.Equal(t, before, dump(t, st), "the same sent twice changes nothing more")

	s := stateOf(t, st, "B1/5/9", 2025)
	require.Equal(t, []vine.Clash{{Field: vine.FieldPruned, Kept: events[1].ID, Disputed: events[0].ID}}, s.Clashes)
	require.Equal(t, vine.Dead, stateOf(t, st, "B1/5/10", 2025).Condition)
	require.Equal(t, stateOf(t, st, "B1/5/12", 2025).Notes+1, stateOf(t, st, "B1/5/13", 2025).Notes)
	seen := map[uuid.UUID]vine.Event{}
	log, err := st.Events(ctx, store.EventQuery{Season: 2025})
	require.NoError(t, err)
	for _, e := range log {
		seen[e.ID] = e.Event
	}
	for _, e := range events {
		require.Equal(t, e.By, seen[e.ID].By, "all five are in the history, with who")
		require.True(t, e.At.Equal(seen[e.ID].At), "and when")
	}
	six := 6
	record(t, st, "B1/5/9", 24, vine.Pruned{Nodes: &six})
	require.Empty(t, stateOf(t, st, "B1/5/9", 2025).Clashes, "settled by whoever has looked")
}
