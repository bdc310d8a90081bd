package vine

import (
	"cmp"
	"slices"
	"strings"
	"time"
)

// ImportPrefix begins the device name of every import: a file is not a person
// in the vineyard, and a second file corrects the first.
const ImportPrefix = "import:"

// FromImport tells whether an event came in with a file.
func (e *Event) FromImport() bool { return strings.HasPrefix(e.Device, ImportPrefix) }

// record is one event made ready for folding over any number of vines.
type record struct {
	*Event
	when     time.Time // When, or At where the clock difference is unknown
	received time.Time // Received; an event that carries none disputes nothing
	pruned   *Pruned   // of a pruned event
}

// entry is a record as it counts for one vine.
type entry struct {
	*record
	pos   int       // which of the target's listed vines it is; 0 where none are listed
	made  time.Time // when, never before what the same device had recorded by then
	taken bool      // taken back by a void, or itself a void: only its season counts
}

// inOrder gives the events once each, by device, by that device's counter, and
// where two have the same counter by id. Of copies of one event that carry
// different times of receipt, the first receipt counts.
func inOrder(events []Event) []*record {
	store := make([]record, len(events))
	all := make([]*record, len(events))
	for i := range events {
		store[i] = ready(&events[i])
		all[i] = &store[i]
	}
	slices.SortFunc(all, func(a, b *record) int {
		return cmp.Or(slices.Compare(a.ID[:], b.ID[:]), byReceipt(a, b))
	})
	all = slices.CompactFunc(all, func(a, b *record) bool { return a.ID == b.ID })
	slices.SortFunc(all, func(a, b *record) int {
		return cmp.Or(strings.Compare(a.Device, b.Device), cmp.Compare(a.Seq, b.Seq), slices.Compare(a.ID[:], b.ID[:]))
	})
	return all
}

func ready(e *Event) record {
	r := record{Event: e, when: clean(e.When), received: clean(e.Received)}
	if e.When.IsZero() {
		r.when = clean(e.At)
	}
	if p, ok := e.Body.(Pruned); ok {
		r.pruned = &p
	}
	return r
}

// clean leaves only the moment: no zone and no reading of a running clock, so
// that equal moments are equal values.
func clean(t time.Time) time.Time { return t.Round(0).UTC() }

// byReceipt puts the copy first that was received first, and one without a time
// of receipt last; what else copies could differ in decides the rest, so that
// the order of the slice never does.
func byReceipt(a, b *record) int {
	if none := a.Received.IsZero(); none != b.Received.IsZero() {
		if none {
			return 1
		}
		return -1
	}
	return cmp.Or(a.received.Compare(b.received), a.when.Compare(b.when), clean(a.At).Compare(clean(b.At)),
		strings.Compare(a.Device, b.Device), cmp.Compare(a.Seq, b.Seq), cmp.Compare(a.Season, b.Season))
}

// settleOrder takes a vine's entries in the order of inOrder, marks what voids
// take back, sets the times that order them and sorts them by season and time.
// What is taken back leaves no trace in the order of the others.
func settleOrder(list []entry) {
	takeBack(list)
	var before *entry
	for i := range list {
		e := &list[i]
		e.made = e.when
		if e.taken {
			continue
		}
		if before != nil && before.Device == e.Device && before.made.After(e.made) {
			e.made = before.made
		}
		before = e
	}
	slices.SortStableFunc(list, func(a, b entry) int {
		return cmp.Or(cmp.Compare(a.Season, b.Season), a.made.Compare(b.made))
	})
}

// takeBack marks voids and the events they name. A void of a void, or of an
// event that has not arrived, does nothing.
func takeBack(list []entry) {
	var named map[[16]byte]bool
	for i := range list {
		if v, ok := list[i].Body.(Void); ok {
			if named == nil {
				named = make(map[[16]byte]bool)
			}
			named[v.Event] = true
			list[i].taken = true
		}
	}
	if named == nil {
		return
	}
	for i := range list {
		if named[list[i].ID] {
			list[i].taken = true
		}
	}
}
