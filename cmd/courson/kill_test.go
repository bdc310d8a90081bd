package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// asProgram makes the test binary behave as the program itself, so that it can
// be started and killed for real.
const asProgram = "COURSON_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		os.Exit(run(context.Background(), os.Args[1:], os.Stdout, os.Stderr))
	}
	os.Exit(m.Run())
}

// served is a program running as a process of its own.
type served struct {
	cmd *exec.Cmd
	url string
}

func serve(t *testing.T, data string) served {
	t.Helper()
	cmd := exec.Command(os.Args[0], "serve", "--data", data, "--addr", "127.0.0.1:0")
	cmd.Env = append(os.Environ(), asProgram+"=1")
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	require.NoError(t, cmd.Start())
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if m := regexp.MustCompile(`http://[0-9.:]+`).FindString(lines.Text()); m != "" {
			return served{cmd, m}
		}
	}
	t.Fatalf("the program did not start: %s", errs.String())
	return served{}
}

// kill ends the process as a power cut would.
func (s served) kill() {
	s.cmd.Process.Kill()
	s.cmd.Wait()
}

// phone sends batches one after the other and remembers what was acknowledged.
type phone struct {
	name  string
	seq   uint64
	sent  map[uuid.UUID]bool // all ever sent
	acked map[uuid.UUID]bool
	left  []vine.Event // sent without an answer: to be sent again
	block vine.ID
	vines []vine.ID
}

// work sends until the server is gone.
func (ph *phone) work(url string, rng *rand.Rand) {
	client := &http.Client{Timeout: 5 * time.Second}
	for {
		batch := ph.left
		for range 1 + rng.IntN(20) {
			ph.seq++
			e := vine.Event{ID: uuid.Must(uuid.NewV7()), Device: ph.name, Seq: ph.seq, At: time.Now().UTC(), Season: 2027,
				Target: vine.Target{Block: ph.block, Vines: []vine.ID{ph.vines[rng.IntN(len(ph.vines))]}}, Kind: vine.KindPruned, Body: vine.Pruned{}}
			batch = append(batch, e)
			ph.sent[e.ID] = true
		}
		if !ph.send(client, url, batch) {
			ph.left = batch
			return
		}
		ph.left = nil
	}
}

func (ph *phone) send(client *http.Client, url string, batch []vine.Event) bool {
	body, err := json.Marshal(map[string]any{"sent_at": time.Now().UTC(), "events": batch})
	if err != nil {
		return false
	}
	answer, err := client.Post(url+"/api/events", "application/json", bytes.NewReader(body))
	if err != nil {
		return false
	}
	defer answer.Body.Close()
	var got struct {
		Results []struct {
			ID     uuid.UUID
			Result string
		}
	}
	if answer.StatusCode != http.StatusOK || json.NewDecoder(answer.Body).Decode(&got) != nil {
		return false
	}
	for _, r := range got.Results {
		ph.acked[r.ID] = r.Result == "stored" || r.Result == "known"
	}
	return true
}

// The server is killed again and again while phones send. Afterwards it holds
// every event it acknowledged, once, and its states agree with its log.
func TestServe_KilledWhilePhonesSend(t *testing.T) {
	stores := map[string]func(t *testing.T) string{
		"gpkg":    func(t *testing.T) string { return filepath.Join(t.TempDir(), "killed.gpkg") },
		"postgis": postgisDatabase,
	}
	for name, where := range stores {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			killRounds(t, where(t), 6)
		})
	}
}

func killRounds(t *testing.T, data string, rounds int) {
	status, _, errs := courson("demo", "--no-serve", "--vines", "600", "--data", data)
	require.Equal(t, exitDone, status, errs)
	var phones []*phone
	for round := range rounds {
		s := serve(t, data)
		if phones == nil {
			phones = newPhones(t, s.url, 3)
		}
		var wg sync.WaitGroup
		for i, ph := range phones {
			wg.Go(func() { ph.work(s.url, rand.New(rand.NewPCG(uint64(round), uint64(i)))) })
		}
		time.Sleep(time.Duration(150+rand.IntN(450)) * time.Millisecond)
		s.kill()
		wg.Wait()
	}
	s := serve(t, data)
	defer s.kill()
	client := &http.Client{Timeout: 20 * time.Second}
	for _, ph := range phones {
		for len(ph.left) > 0 { // what had no answer is sent again, as a phone does
			n := min(200, len(ph.left))
			require.True(t, ph.send(client, s.url, ph.left[:n]))
			ph.left = ph.left[n:]
		}
	}
	stored := storedIDs(t, s.url, phones[0])
	for _, ph := range phones {
		assert.Greater(t, len(ph.acked), 10, "phone %s got through", ph.name)
		for id := range ph.sent {
			assert.True(t, ph.acked[id], "event %s was never acknowledged", id)
			assert.Equal(t, 1, stored[id], "event %s stands so many times in the log", id)
		}
	}
	s.kill()
	status, out, errs := courson("check", "--data", data)
	assert.Equal(t, exitDone, status, out+errs)
}

// newPhones gives phones that work in the first block.
func newPhones(t *testing.T, url string, n int) []*phone {
	t.Helper()
	var blocks struct{ Blocks []struct{ ID vine.ID } }
	getJSON(t, url+"/api/blocks?season=2027", &blocks)
	require.NotEmpty(t, blocks.Blocks)
	var found struct{ Vines []struct{ ID vine.ID } }
	vines := []vine.ID{}
	for i := 1; i <= 6; i++ {
		getJSON(t, fmt.Sprintf("%s/api/vines?find=A1/2/%d", url, i), &found)
		require.NotEmpty(t, found.Vines)
		vines = append(vines, found.Vines[0].ID)
	}
	phones := make([]*phone, n)
	for i := range phones {
		phones[i] = &phone{name: fmt.Sprintf("phone %d", i), sent: map[uuid.UUID]bool{}, acked: map[uuid.UUID]bool{},
			block: blocks.Blocks[0].ID, vines: vines}
	}
	return phones
}

// storedIDs counts the events in the histories of the phones' vines.
func storedIDs(t *testing.T, url string, ph *phone) map[uuid.UUID]int {
	t.Helper()
	out := map[uuid.UUID]int{}
	for _, v := range ph.vines {
		var got struct{ Events []vine.Event }
		getJSON(t, fmt.Sprintf("%s/api/vines/%d", url, v), &got)
		for _, e := range got.Events {
			if len(e.Target.Vines) == 1 && e.Target.Vines[0] == v { // not the whole-row records of the demo
				out[e.ID]++
			}
		}
	}
	return out
}

func getJSON(t *testing.T, url string, into any) {
	t.Helper()
	answer, err := http.Get(url)
	require.NoError(t, err)
	defer answer.Body.Close()
	require.Equal(t, http.StatusOK, answer.StatusCode, url)
	require.NoError(t, json.NewDecoder(answer.Body).Decode(into))
}

// postgisDatabase makes a database of its own on the test server.
func postgisDatabase(t *testing.T) string {
	t.Helper()
	server := os.Getenv("COURSON_TEST_POSTGIS")
	if server == "" {
		if os.Getenv("COURSON_TEST_REQUIRE") != "" {
			t.Fatal("COURSON_TEST_POSTGIS is not set")
		}
		t.Skip("COURSON_TEST_POSTGIS is not set: no PostGIS to test against")
	}
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, server)
	require.NoError(t, err)
	defer conn.Close(ctx)
	name := fmt.Sprintf("courson_program_%d", rand.Uint32())
	_, err = conn.Exec(ctx, "CREATE DATABASE "+name)
	require.NoError(t, err)
	t.Cleanup(func() {
		conn, err := pgx.Connect(ctx, server)
		if assert.NoError(t, err) {
			defer conn.Close(ctx)
			_, err = conn.Exec(ctx, "DROP DATABASE "+name+" WITH (FORCE)")
			assert.NoError(t, err)
		}
	})
	cfg := conn.Config()
	return fmt.Sprintf("postgres://%s@%s:%d/%s?sslmode=disable", cfg.User, cfg.Host, cfg.Port, name)
}
