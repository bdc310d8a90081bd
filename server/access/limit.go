package access

import (
	"hash/maphash"
	"sync"
	"time"
)

// How often a password may be tried (chosen by us): an account ten times at once
// and then twice a minute, an address twenty times and then twelve a minute.
const (
	accountTries = 10
	accountEvery = 30 * time.Second
	placeTries   = 20
	placeEvery   = 5 * time.Second
)

// buckets is how many buckets a limiter has. Names share buckets by a hash with a
// seed of this process: memory is bounded whoever asks, names that do not exist
// are treated as those that do, and nobody can choose whose bucket to share.
const buckets = 4096

// limiter is a token bucket for each name.
type limiter struct {
	tries float64       // a full bucket
	every time.Duration // after which one more try is put in
	seed  maphash.Seed

	mu   sync.Mutex
	list [buckets]bucket
}

type bucket struct {
	used  float64   // tries missing from full
	until time.Time // when used was counted
}

func newLimiter(tries int, every time.Duration) *limiter {
	return &limiter{tries: float64(tries), every: every, seed: maphash.MakeSeed()}
}

// take takes one try for a name. Where none is left it gives how long to wait.
func (l *limiter) take(name string, now time.Time) (wait time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	b := l.at(name, now)
	if b.used+1 > l.tries {
		return max(time.Millisecond, time.Duration((b.used+1-l.tries)*float64(l.every)).Round(time.Millisecond))
	}
	b.used++
	return 0
}

// giveBack puts a try back that was not a guess.
func (l *limiter) giveBack(name string, now time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	b := l.at(name, now)
	b.used = max(0, b.used-1)
}

// at gives the bucket of a name, refilled up to now. A clock that goes back
// refills nothing.
func (l *limiter) at(name string, now time.Time) *bucket {
	b := &l.list[maphash.String(l.seed, name)%buckets]
	if passed := now.Sub(b.until); passed > 0 {
		b.used = max(0, b.used-float64(passed)/float64(l.every))
		b.until = now
	}
	return b
}
