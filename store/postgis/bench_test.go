package postgis_test

import (
	"context"
	"fmt"
	"runtime"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/postgis"
)

// An estate of a million vines: 100 blocks of 100 rows of 100 vines; -short
// takes a hundredth.
func bigSize() (blocks, rows, vines int) {
	if testing.Short() {
		return 10, 10, 100
	}
	return 100, 100, 100
}

// layOut saves an estate of that size, block by block, as an import does.
func layOut(s store.Store, blocks, rows, vines int) error {
	return s.Update(context.Background(), func(tx store.Tx) error {
		for b := range blocks {
			if err := layOutBlock(tx, b, rows, vines); err != nil {
				return err
			}
		}
		return nil
	})
}

func layOutBlock(tx store.Tx, b, rows, vines int) error {
	x0, y0 := 5+.01*float64(b%10), 45+.01*float64(b/10)
	block := []store.Block{{Code: "B" + strconv.Itoa(b), Variety: "Rosella", Planted: 2015, RowSpacingM: 2, VineSpacingM: 1,
		Outline: orb.MultiPolygon{{{{x0, y0}, {x0 + .005, y0}, {x0 + .005, y0 + .005}, {x0, y0 + .005}, {x0, y0}}}}}}
	if err := tx.SaveBlocks(block); err != nil {
		return err
	}
	rs := make([]store.Row, rows)
	for r := range rs {
		x := x0 + .000025*float64(r)
		rs[r] = store.Row{Block: block[0].ID, Label: strconv.Itoa(r + 1), Ord: r + 1, LengthM: float64(vines),
			Line: orb.MultiLineString{{{x, y0}, {x, y0 + .00001*float64(vines)}}}}
	}
	if err := tx.SaveRows(rs); err != nil {
		return err
	}
	vs := make([]store.Vine, 0, rows*vines)
	for r := range rs {
		for v := range vines {
			vs = append(vs, store.Vine{Block: block[0].ID, Row: rs[r].ID, Number: v + 1, ChainageM: float64(v),
				Point: orb.Point{x0 + .000025*float64(r), y0 + .00001*float64(v)}})
		}
	}
	return tx.SaveVines(vs)
}

func BenchmarkImport(b *testing.B) {
	for b.Loop() {
		b.StopTimer()
		s := open(b, newDatabase(b), postgis.Options{})
		b.StartTimer()
		blocks, rows, vines := bigSize()
		require.NoError(b, layOut(s, blocks, rows, vines))
	}
	n := product(bigSize())
	b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "vines/s")
}

func product(a, b, c int) int { return a * b * c }

func BenchmarkLoad(b *testing.B) {
	blocks, rows, vines := bigSize()
	s := open(b, newDatabase(b), postgis.Options{})
	require.NoError(b, layOut(s, blocks, rows, vines))
	list, err := s.Blocks(context.Background())
	require.NoError(b, err)
	b.Run("vines", func(b *testing.B) {
		for b.Loop() {
			n := 0
			for _, block := range list {
				for _, err := range s.Vines(context.Background(), block.ID) {
					require.NoError(b, err)
					n++
				}
			}
			require.Equal(b, blocks*rows*vines, n)
		}
	})
	// One record of pruning and one weight for every vine.
	start := time.Now()
	for _, block := range list {
		require.NoError(b, s.Update(context.Background(), func(tx store.Tx) error {
			return recordBlock(tx, block.ID)
		}))
	}
	b.Logf("recorded two events for %d vines in %v", blocks*rows*vines, time.Since(start))
	b.Run("states", func(b *testing.B) {
		for b.Loop() {
			n := 0
			for _, block := range list {
				for _, err := range s.States(context.Background(), block.ID, 2027, 0) {
					if err != nil {
						b.Fatal(err)
					}
					n++
				}
			}
			require.Equal(b, blocks*rows*vines, n)
		}
	})
	b.Run("seasons later", func(b *testing.B) {
		for b.Loop() {
			for _, err := range s.States(context.Background(), list[0].ID, 2030, 0) {
				if err != nil {
					b.Fatal(err)
				}
			}
		}
	})
	b.Run("rebuild", func(b *testing.B) {
		for b.Loop() {
			r, err := s.Rebuild(context.Background(), false, nil)
			require.NoError(b, err)
			require.Zero(b, r.Wrong)
		}
	})
}

// recordBlock weighs and prunes every vine of a block, an event each.
func recordBlock(tx store.Tx, block vine.ID) error {
	var events []vine.Event
	i := 0
	for v, err := range tx.Vines(context.Background(), block) {
		if err != nil {
			return err
		}
		g, nodes := float64(300+i%400), 12+i%9
		events = append(events,
			event(vine.Measure{Quantity: vine.PruningWeight, Unit: "g", Value: &g}, block, v.ID),
			event(vine.Pruned{Nodes: &nodes}, block, v.ID))
		i++
	}
	_, err := tx.Append(context.Background(), events)
	return err
}

func BenchmarkAppend(b *testing.B) {
	s := open(b, newDatabase(b), postgis.Options{})
	bs, _, vs := plant(b, s, 4, 50, 100)
	byBlock := map[vine.ID][]vine.ID{}
	for _, v := range vs {
		byBlock[v.Block] = append(byBlock[v.Block], v.ID)
	}
	for _, n := range []int{1, 200} {
		b.Run(strconv.Itoa(n), func(b *testing.B) {
			i := 0
			for b.Loop() {
				events := make([]vine.Event, n)
				for k := range events {
					nodes := 10 + i%5
					block := bs[i/n%len(bs)].ID
					events[k] = event(vine.Pruned{Nodes: &nodes}, block, byBlock[block][(i*7)%len(byBlock[block])])
					i++
				}
				answers, err := s.Append(context.Background(), events)
				require.NoError(b, err)
				require.Equal(b, store.Stored, answers[n-1].Result)
			}
		})
	}
}

// BenchmarkSync is a hundred phones that meet the network at once, a thousand
// events each in batches of 200.
func BenchmarkSync(b *testing.B) {
	phones, batches, size := 100, 5, 200
	if testing.Short() {
		phones, batches = 10, 2
	}
	s := open(b, newDatabase(b), postgis.Options{})
	bs, _, vs := plant(b, s, 14, 43, 100)
	perBlock := len(vs) / len(bs)
	for b.Loop() {
		var wg sync.WaitGroup
		failed := make(chan error, phones)
		for p := range phones {
			wg.Go(func() {
				block := p % len(bs)
				for k := range batches {
					events := make([]vine.Event, size)
					for i := range events {
						nodes := 10 + i%5
						at := block*perBlock + (p/len(bs)*batches*size+k*size+i)%perBlock
						e := event(vine.Pruned{Nodes: &nodes}, bs[block].ID, vs[at].ID)
						e.Device, e.Seq = fmt.Sprintf("phone %d", p), uint64(k*size+i)
						e.ID = uuid.Must(uuid.NewV7())
						events[i] = e
					}
					answers, err := s.Append(context.Background(), events)
					if err == nil {
						for _, a := range answers {
							if a.Result != store.Stored {
								err = fmt.Errorf("%s: %s", a.Result, a.Reason)
							}
						}
					}
					if err != nil {
						failed <- err
						return
					}
				}
			})
		}
		wg.Wait()
		close(failed)
		for err := range failed {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(phones*batches*size*b.N)/b.Elapsed().Seconds(), "events/s")
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	b.ReportMetric(float64(m.HeapSys)/1e6, "heapMB")
}
