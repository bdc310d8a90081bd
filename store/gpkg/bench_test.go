package gpkg_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"

	"courson/geo/vine"
	"courson/store"
	"courson/store/gpkg"
)

// bigEstate is an estate of blocks of 100 rows of 100 vines.
const (
	benchRows   = 100
	benchPerRow = 100
)

// importBlock saves one block and what a source says of its vines, as an import
// does: rows whole, then the events of the block in one call. Per row there are
// runs of equal condition (one event for each condition) and one weighing of all
// its vines.
func importBlock(ctx context.Context, tx store.Tx, n int) error {
	west, south := 3.0+float64(n%10)*0.01, 43.0+float64(n/10)*0.01
	blocks := []store.Block{{Code: fmt.Sprintf("B%03d", n), Planted: 2010, RowSpacingM: 2.5, VineSpacingM: 1,
		Outline: orb.MultiPolygon{{{{west, south}, {west + 0.005, south}, {west + 0.005, south + 0.005}, {west, south}}}}}}
	if err := tx.SaveBlocks(blocks); err != nil {
		return err
	}
	rows := make([]store.Row, benchRows)
	for i := range rows {
		x := west + float64(i)*3e-5
		rows[i] = store.Row{Block: blocks[0].ID, Label: strconv.Itoa(i + 1), Ord: i + 1, LengthM: benchPerRow,
			Line: orb.MultiLineString{{{x, south}, {x, south + 1e-3}}}}
	}
	if err := tx.SaveRows(rows); err != nil {
		return err
	}
	var events []vine.Event
	now := time.Date(2027, 1, 12, 9, 0, 0, 0, time.UTC)
	event := func(target vine.Target, body vine.Body) {
		events = append(events, vine.Event{ID: uuid.Must(uuid.NewV7()), Device: vine.ImportPrefix + "bench", Seq: uint64(n*1000 + len(events)),
			At: now, Received: now, By: "bench", Season: 2027, Target: target, Kind: body.Kind(), Body: body})
	}
	for _, r := range rows {
		vines := make([]store.Vine, benchPerRow)
		for k := range vines {
			vines[k] = store.Vine{Block: r.Block, Row: r.ID, Number: k + 1, ChainageM: float64(k),
				Point: orb.Point{r.Line[0][0][0], south + float64(k)*1e-5}}
		}
		if err := tx.SaveVines(vines); err != nil {
			return err
		}
		target := vine.Target{Block: r.Block, Row: r.ID}
		var weak, dead []vine.ID
		values := make([]float64, len(vines))
		for k, v := range vines {
			target.Vines = append(target.Vines, v.ID)
			values[k] = float64((k*37+int(r.ID)*11)%900) / 2
			switch {
			case k%13 == 5:
				weak = append(weak, v.ID)
			case k%50 == 7:
				dead = append(dead, v.ID)
			}
		}
		event(vine.Target{Block: r.Block, Row: r.ID}, vine.Sighting{Condition: vine.Bearing})
		event(vine.Target{Block: r.Block, Row: r.ID, Vines: weak}, vine.Sighting{Condition: vine.Weak})
		event(vine.Target{Block: r.Block, Row: r.ID, Vines: dead}, vine.Sighting{Condition: vine.Dead})
		event(target, vine.Measure{Quantity: vine.PruningWeight, Unit: "g", Values: values})
	}
	_, err := tx.Append(ctx, events)
	return err
}

// bigEstate imports blocks in one transaction and gives their ids.
func bigEstate(tb testing.TB, s *gpkg.Store, blocks int) []vine.ID {
	tb.Helper()
	err := s.Update(tb.Context(), func(tx store.Tx) error {
		for n := range blocks {
			if err := importBlock(tb.Context(), tx, n); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		tb.Fatal(err)
	}
	list, err := s.Blocks(tb.Context())
	if err != nil {
		tb.Fatal(err)
	}
	ids := make([]vine.ID, len(list))
	for i, b := range list {
		ids[i] = b.ID
	}
	return ids
}

func openBench(tb testing.TB) (*gpkg.Store, string) {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), "bench.gpkg")
	s, err := gpkg.Open(tb.Context(), path, gpkg.Options{Create: true})
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { s.Close() })
	return s, path
}

// peakMB gives the most memory that the process held, where the system tells.
func peakMB() float64 {
	text, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			kb, _ := strconv.ParseFloat(strings.Fields(rest)[0], 64)
			return kb / 1024
		}
	}
	return 0
}

// BenchmarkImport imports a million vines with their conditions and weights.
// Run it alone: the peak is the process's.
func BenchmarkImport(b *testing.B) {
	for b.Loop() {
		s, path := openBench(b)
		bigEstate(b, s, 100)
		if err := s.Close(); err != nil {
			b.Fatal(err)
		}
		info, err := os.Stat(path)
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(info.Size())/(1<<20), "file-MB")
	}
	b.ReportMetric(peakMB(), "peak-MB")
}

func BenchmarkAppend(b *testing.B) {
	s, _ := openBench(b)
	blocks := bigEstate(b, s, 10)
	var vines []store.Vine
	for v, err := range s.Vines(b.Context(), blocks[3]) {
		if err != nil {
			b.Fatal(err)
		}
		vines = append(vines, v)
	}
	seq := 0
	for _, n := range []int{1, 200} {
		b.Run(strconv.Itoa(n), func(b *testing.B) {
			for b.Loop() {
				events := make([]vine.Event, n)
				for i := range events {
					seq++
					now := time.Date(2027, 1, 12, 9, 0, seq, 0, time.UTC)
					v := vines[(seq*7)%len(vines)]
					events[i] = vine.Event{ID: uuid.Must(uuid.NewV7()), Device: "phone", Seq: uint64(seq), At: now, Received: now, Season: 2027,
						Target: vine.Target{Block: v.Block, Row: v.Row, Vines: []vine.ID{v.ID}},
						Kind:   vine.KindWork, Body: vine.Work{Operation: vine.Pruning, Progress: vine.Done}}
				}
				if _, err := s.Append(b.Context(), events); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkLoad reads a million vines and their states.
func BenchmarkLoad(b *testing.B) {
	s, _ := openBench(b)
	blocks := bigEstate(b, s, 100)
	b.Run("vines", func(b *testing.B) {
		for b.Loop() {
			for _, id := range blocks {
				for _, err := range s.Vines(b.Context(), id) {
					if err != nil {
						b.Fatal(err)
					}
				}
			}
		}
	})
	b.Run("states", func(b *testing.B) {
		for b.Loop() {
			for _, id := range blocks {
				for _, err := range s.States(b.Context(), id, 2027, 0) {
					if err != nil {
						b.Fatal(err)
					}
				}
			}
		}
	})
}
