package contract

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

// Kill is a test that kills a process in the middle of its writing, again and
// again, and looks at what it left: no acknowledged event is lost, none is
// there twice, no import is there by half. The package's TestMain must call
// KillChild.
type Kill struct {
	Rounds int
	// Target is where the child writes, in words that the child's open takes.
	Target string
	Open   func(ctx context.Context, target string) (store.Store, error)
	// Check is the store's own look at its soundness after a kill; nil: none.
	Check func(t *testing.T)

	import1 time.Duration // how long the last import took
}

// killTarget tells a process that it is the child, and where to write.
const killTarget = "COURSON_CONTRACT_KILL_TARGET"

// The words in which the child reports, one line each.
const (
	lineReady  = "ready"
	lineEvent  = "event "
	lineBegun  = "importing"
	lineImport = "import "
	lineFault  = "fault "
)

// An import of the child is a block of so many rows and vines, and so many
// events.
const (
	importRows   = 25
	importPerRow = 90
	importEvents = 2 * importRows
)

// KillChild does nothing in a process of its own. In the child of a Kill test it
// writes to the target until it is killed.
func KillChild(open func(ctx context.Context, target string) (store.Store, error)) {
	target := os.Getenv(killTarget)
	if target == "" {
		return
	}
	err := writeForever(open, target) // ends only with an error
	fmt.Println(lineFault + strings.ReplaceAll(err.Error(), "\n", " "))
	os.Exit(3)
}

func writeForever(open func(ctx context.Context, target string) (store.Store, error), target string) error {
	ctx := context.Background()
	s, err := open(ctx, target)
	if err != nil {
		return err
	}
	d := newDevice("child " + uuid.NewString())
	f := layField("kill "+d.name, 3, 20)
	if err := s.Update(ctx, f.save); err != nil {
		return err
	}
	fmt.Println(lineReady)
	for n := 1; ; n++ {
		if n%4 == 0 {
			if err := importOne(ctx, s); err != nil {
				return err
			}
		}
		batch := someEvents(f, d)
		answers, err := s.Append(ctx, batch)
		if err != nil {
			return err
		}
		var out strings.Builder
		for _, a := range answers {
			if a.Result == store.Stored {
				out.WriteString(lineEvent + a.ID.String() + "\n")
			}
		}
		io.WriteString(os.Stdout, out.String())
	}
}

func someEvents(f *field, d *device) []vine.Event {
	all := f.all()
	out := make([]vine.Event, 1+rand.IntN(30))
	for i := range out {
		v := all[rand.IntN(len(all))]
		out[i] = d.event(2027, oneVine(v), vine.Note{Text: "x"})
	}
	return out
}

// importOne writes a block, its rows and vines and their events in one
// transaction.
func importOne(ctx context.Context, s store.Store) error {
	f := layField("import "+uuid.NewString(), importRows, importPerRow)
	d := newDevice(vine.ImportPrefix + f.block.Code)
	fmt.Println(lineBegun)
	err := s.Update(ctx, func(tx store.Tx) error {
		if err := f.save(tx); err != nil {
			return err
		}
		for i, r := range f.rows {
			events := []vine.Event{
				d.event(2027, wholeRow(r), seen(vine.Bearing)),
				d.event(2027, someVines(f.vines[i][:importPerRow/2]...), seen(vine.Weak)),
			}
			if _, err := tx.Append(ctx, events); err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		fmt.Println(lineImport + f.block.Code)
	}
	return err
}

// Run kills children and looks at what they left.
func (k Kill) Run(t *testing.T) {
	events, imports := map[uuid.UUID]bool{}, map[string]bool{}
	for round := range k.Rounds {
		k.killOne(t, round, events, imports)
		if k.Check != nil {
			k.Check(t)
		}
		if t.Failed() {
			require.Failf(t, "after a kill", "round %d", round)
		}
	}
	s, err := k.Open(t.Context(), k.Target)
	require.NoError(t, err)
	defer s.Close()
	checkImports(t, s, imports)
	checkEvents(t, s, events)
	got, err := s.Rebuild(t.Context(), false, nil)
	require.NoError(t, err)
	assert.Zero(t, got.Wrong, "states that differ from the log")
	t.Logf("%d kills, %d events and %d imports acknowledged", k.Rounds, len(events), len(imports))
	assert.NotEmpty(t, events, "no child got to writing: nothing was tested")
	assert.NotEmpty(t, imports, "no child got through an import: nothing was tested")
}

// Child gives a process that will write to the target until it is killed.
func Child(t *testing.T, target string) *exec.Cmd {
	t.Helper()
	exe, err := os.Executable()
	require.NoError(t, err)
	child := exec.Command(exe, "-test.run=^$")
	child.Env = append(os.Environ(), killTarget+"="+target)
	child.Stderr = os.Stderr
	return child
}

// killOne lets one child write for a moment and notes what it reported. In turn
// it is killed at any moment, in the middle of an import, and just after one.
func (k *Kill) killOne(t *testing.T, round int, events map[uuid.UUID]bool, imports map[string]bool) {
	child := Child(t, k.Target)
	out, err := child.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, child.Start())
	var timer *time.Timer
	killWithin := func(most time.Duration) {
		if timer == nil {
			timer = time.AfterFunc(rand.N(most), func() { child.Process.Kill() })
		}
	}
	var begun time.Time
	for lines := bufio.NewReader(out); ; {
		line, err := lines.ReadString('\n')
		if err != nil {
			break // a line cut short was not reported
		}
		line = strings.TrimSuffix(line, "\n")
		switch {
		case line == lineReady && round%3 == 0:
			killWithin(100 * time.Millisecond)
		case line == lineReady:
		case line == lineBegun:
			begun = time.Now()
			if round%3 == 1 {
				killWithin(max(k.import1, 50*time.Millisecond))
			}
		case strings.HasPrefix(line, lineImport):
			k.import1 = time.Since(begun)
			imports[strings.TrimPrefix(line, lineImport)] = true
			killWithin(20 * time.Millisecond)
		case strings.HasPrefix(line, lineEvent):
			id, err := uuid.Parse(strings.TrimPrefix(line, lineEvent))
			require.NoError(t, err)
			events[id] = true
		default:
			t.Errorf("the child says: %s", line)
		}
	}
	child.Wait() // says that it was killed
	if timer == nil {
		require.Fail(t, "the child ended by itself")
	}
	timer.Stop()
}

func checkEvents(t *testing.T, s store.Store, acknowledged map[uuid.UUID]bool) {
	t.Helper()
	got := map[uuid.UUID]int{}
	for _, e := range logOf(t, s, store.EventQuery{}) {
		got[e.ID]++
		assert.Equal(t, 1, got[e.ID], "event %s is there twice", e.ID)
	}
	for id := range acknowledged {
		assert.Equal(t, 1, got[id], "event %s was acknowledged", id)
	}
}

func checkImports(t *testing.T, s store.Store, acknowledged map[string]bool) {
	t.Helper()
	blocks, err := s.Blocks(t.Context())
	require.NoError(t, err)
	there := map[string]bool{}
	for _, b := range blocks {
		there[b.Code] = true
		if !strings.HasPrefix(b.Code, "import ") {
			continue
		}
		rows, err := s.Rows(t.Context(), b.ID)
		require.NoError(t, err)
		assert.Len(t, rows, importRows, "rows of %s", b.Code)
		assert.Len(t, vinesOf(t, s, b.ID), importRows*importPerRow, "vines of %s", b.Code)
		assert.Len(t, statesOf(t, s, b.ID, 2027, 0), importRows*importPerRow, "states of %s", b.Code)
		assert.Len(t, logOf(t, s, store.EventQuery{Block: b.ID}), importEvents, "events of %s", b.Code)
	}
	for code := range acknowledged {
		assert.True(t, there[code], "%s was acknowledged", code)
	}
}
