package work

import (
	"slices"

	"courson/geo/crew"
	"courson/geo/stand"
	"courson/geo/vine"
)

// OrderTally is what an order comes to.
type OrderTally struct {
	Vines int     // that the operation has something to do on
	Done  int     // of those, done or skipped
	Hours float64 // one person's, for what is left
}

// Tally counts an order and the hours that are left of it, by the standard
// minutes of its operation; those of pruning are the block's own.
func Tally(s *stand.Stand, progress []vine.Progress, o Order, settled Settled) (OrderTally, error) {
	table, err := crew.NewTable(settled.OperationList(), nil)
	if err != nil {
		return OrderTally{}, err
	}
	op, _ := table.Operation(o.Operation) // one no longer on the list: of living vines
	var t OrderTally
	minutes := 0.0
	for _, r := range o.Rows {
		r.vines(s.Ground, func(i int) {
			if !op.Reaches(s.Condition[i]) {
				return
			}
			t.Vines++
			if progress[i] == vine.Done || progress[i] == vine.Skipped {
				t.Done++
				return
			}
			minutes += table.Minutes(crew.Key{Operation: o.Operation, System: systemOf(settled), Class: crew.ClassOf(s, i)}, false)
		})
	}
	t.Hours = minutes / 60
	return t, nil
}

// systemOf is the block's training system as rates are kept for it.
func systemOf(settled Settled) crew.System {
	sys := crew.System{Key: settled.Pruning.System.Name, Form: crew.Cane}
	if settled.Pruning.System.CanesAtMost() == 0 {
		sys.Form = crew.Spur
	}
	return sys
}

// FieldCautions are what to mind at orders of these operations, each once; those
// of pruning where there is no order.
func FieldCautions(orders []FieldOrder) []string {
	operations := []string{}
	for _, o := range orders {
		operations = append(operations, o.Operation)
	}
	if len(orders) == 0 {
		operations = append(operations, vine.Pruning)
	}
	var out []string
	for _, op := range operations {
		for _, c := range crew.Cautions(op) {
			if !slices.Contains(out, c.Advice) {
				out = append(out, c.Advice)
			}
		}
	}
	return out
}
