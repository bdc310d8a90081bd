package access

import (
	"fmt"
	"testing"
	"time"
	"unsafe"

	"github.com/stretchr/testify/assert"
)

func TestLimiter(t *testing.T) {
	now := time.Date(2027, 1, 20, 10, 0, 0, 0, time.UTC)
	l := newLimiter(3, 10*time.Second)
	for range 3 {
		assert.Zero(t, l.take("ada", now))
	}
	assert.Equal(t, 10*time.Second, l.take("ada", now), "the fourth waits for one to be put in")
	assert.Equal(t, 4*time.Second, l.take("ada", now.Add(6*time.Second)), "asking takes nothing")
	assert.Zero(t, l.take("ada", now.Add(10*time.Second)))
	assert.Equal(t, 10*time.Second, l.take("ada", now.Add(10*time.Second)))
	assert.Equal(t, 10*time.Second, l.take("ada", now.Add(-time.Hour)), "a clock that goes back gives nothing")
	l.giveBack("ada", now.Add(10*time.Second))
	assert.Zero(t, l.take("ada", now.Add(10*time.Second)))
	later := now.Add(24 * time.Hour)
	for range 3 {
		assert.Zero(t, l.take("ada", later), "never more than full")
	}
	assert.NotZero(t, l.take("ada", later))
}

// However many names are tried, memory stays, and the name that was tried too
// often stays so.
func TestLimiter_Bounded(t *testing.T) {
	now := time.Date(2027, 1, 20, 10, 0, 0, 0, time.UTC)
	l := newLimiter(3, time.Hour)
	size := unsafe.Sizeof(*l)
	for range 4 {
		l.take("ada", now)
	}
	for i := range 50_000 {
		l.take(fmt.Sprint("name", i), now)
	}
	assert.NotZero(t, l.take("ada", now))
	assert.Less(t, size, uintptr(256<<10))
}
