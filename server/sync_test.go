package server

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

// phone is a device that sends what it has until all of it was answered.
type phone struct {
	name   string
	events []json.RawMessage
}

// newPhone records work on the vines of a block, one event each.
func newPhone(t testing.TB, name string, block vine.ID, vines []vine.ID) phone {
	p := phone{name: name}
	for i, v := range vines {
		raw, err := json.Marshal(map[string]any{"id": uuid.Must(uuid.NewV7()), "device": name, "seq": i + 1, "at": testNow.Add(-time.Hour),
			"season": 2027, "block": block, "vines": []vine.ID{v}, "kind": "work", "value": map[string]string{"operation": "pruning", "progress": "done"}})
		require.NoError(t, err)
		p.events = append(p.events, raw)
	}
	return p
}

// send posts in batches; a batch that came to nothing is sent again, and every
// third one is sent twice although it was answered, as when the answer is lost.
func (p phone) send(client *http.Client, base string, size int) error {
	for n := 0; len(p.events) > 0; n++ {
		batch := p.events[:min(size, len(p.events))]
		body, err := json.Marshal(map[string]any{"sent_at": testNow, "events": batch})
		if err != nil {
			return err
		}
		ans, again, err := postBatch(client, base, string(body))
		if err != nil {
			return fmt.Errorf("%s: %w", p.name, err)
		}
		if again {
			time.Sleep(20 * time.Millisecond)
			continue
		}
		for _, r := range ans.Results {
			if r.Result == store.Refused {
				return fmt.Errorf("%s: refused: %s", p.name, r.Reason)
			}
		}
		if n%3 == 2 {
			if _, _, err := postBatch(client, base, string(body)); err != nil {
				return err
			}
		}
		p.events = p.events[len(batch):]
	}
	return nil
}

func postBatch(client *http.Client, base, body string) (ans batchAnswer, again bool, err error) {
	res, err := client.Post(base+"/api/events", "application/json", strings.NewReader(body))
	if err != nil {
		return ans, false, err
	}
	defer res.Body.Close()
	raw, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode == http.StatusServiceUnavailable {
		return ans, true, err
	}
	if res.StatusCode != http.StatusOK {
		return ans, false, fmt.Errorf("status %d: %s", res.StatusCode, raw)
	}
	return ans, false, json.Unmarshal(raw, &ans)
}

// sendAll lets all phones send at once.
func sendAll(t testing.TB, web *httptest.Server, phones []phone, size int) {
	client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: len(phones)}}
	defer client.CloseIdleConnections()
	var wg sync.WaitGroup
	for _, p := range phones {
		wg.Go(func() { assert.NoError(t, p.send(client, web.URL, size)) })
	}
	wg.Wait()
}

// TestSync_ManyPhones has phones send at once, while pages read, and counts:
// nothing lost, nothing doubled, and the map shows it.
func TestSync_ManyPhones(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		var phones []phone
		var vines []vine.ID
		for i, v := range f.home.vines {
			vines = append(vines, v.ID)
			if i%10 == 9 {
				phones = append(phones, newPhone(t, fmt.Sprintf("home-%d", i), f.home.ID, vines[i-9:]),
					newPhone(t, fmt.Sprintf("again-%d", i), f.home.ID, vines[i-9:]))
			}
		}
		stop, read := make(chan struct{}), make(chan struct{})
		go func() {
			defer close(read)
			for {
				select {
				case <-stop:
					return
				default:
					f.get(tilePath(t, f.home, 17))
				}
			}
		}()
		sendAll(t, f.web, phones, 3)
		close(stop)
		<-read
		events, err := f.store.Events(t.Context(), store.EventQuery{Block: f.home.ID})
		require.NoError(t, err)
		seen := map[uuid.UUID]bool{}
		for _, e := range events {
			assert.False(t, seen[e.ID], "stored twice")
			seen[e.ID] = true
		}
		assert.Len(t, seen, 2*len(f.home.vines))
		var b blockAnswer
		f.get("/api/blocks/H3?season=2027").into(t, &b)
		assert.Equal(t, len(f.home.vines), b.Totals.Progress["done"])
		for id, progress := range vinesIn(t, f.get(tilePath(t, f.home, 18)).body, "progress") {
			assert.Equal(t, float64(vine.Done), progress, "vine %d", id)
		}
	})
}

// BenchmarkSync has 100 phones with 1,000 events each send at once.
func BenchmarkSync(b *testing.B) {
	path, blocks := bigEstate(b)
	for b.Loop() {
		b.StopTimer()
		s, end := benchServer(b, path)
		web := httptest.NewServer(s.Handler())
		var phones []phone
		for k := range 100 {
			v, err := s.stands.Stand(b.Context(), blocks[k].ID, 2027)
			require.NoError(b, err)
			phones = append(phones, newPhone(b, uuid.NewString(), blocks[k].ID, v.Stand.Ground.ID[4000:5000]))
		}
		b.StartTimer()
		sendAll(b, web, phones, 200)
		b.StopTimer()
		web.Close()
		end()
		b.StartTimer()
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/sync")
}
