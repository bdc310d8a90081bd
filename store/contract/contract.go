// Package contract is the one test suite that every store must pass: each
// sentence of package store's promises has a test here.
package contract

import (
	"testing"

	"courson/geo/vine"
	"courson/store"
)

// Harness lets the suite make stores of one kind.
type Harness struct {
	// Open gives a store of its own with nothing in it. The suite closes it.
	Open func(t *testing.T) store.Store
	// Again opens the data of a store that is still open a second time, as
	// another process would. The suite closes it.
	Again func(t *testing.T, s store.Store) store.Store
	// Corrupt damages cached states behind the store's back, in ways of which
	// Rebuild must find every one wrong for the vine: by name.
	Corrupt map[string]func(t *testing.T, s store.Store, v vine.ID)
}

// Run holds a store to its promises.
func Run(t *testing.T, h Harness) {
	for _, group := range []struct {
		name  string
		tests map[string]func(*testing.T, Harness)
	}{
		{"ground", groundTests()},
		{"labels", labelTests()},
		{"drop", dropTests()},
		{"move", moveTests()},
		{"update", updateTests()},
		{"append", appendTests()},
		{"events", eventTests()},
		{"states", stateTests()},
		{"revisions", revisionTests()},
		{"changes", changeTests()},
		{"plans", planTests()},
		{"rebuild", rebuildTests()},
		{"many at once", crowdTests()},
	} {
		t.Run(group.name, func(t *testing.T) {
			for _, name := range sorted(group.tests) {
				t.Run(name, func(t *testing.T) { group.tests[name](t, h) })
			}
		})
	}
}

// open gives an empty store that is closed at the test's end.
func (h Harness) open(t *testing.T) store.Store {
	t.Helper()
	s := h.Open(t)
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	return s
}

func (h Harness) again(t *testing.T, s store.Store) store.Store {
	t.Helper()
	other := h.Again(t, s)
	t.Cleanup(func() {
		if err := other.Close(); err != nil {
			t.Errorf("close the second handle: %v", err)
		}
	})
	return other
}
