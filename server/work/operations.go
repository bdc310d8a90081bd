package work

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"courson/geo/crew"
	"courson/geo/vine"
	"courson/store"
)

// OperationStandards are the estate's own kinds of work.
type OperationStandards struct {
	// Own stands beside the usual operations; one with the name of a usual one
	// takes its place.
	Own []crew.Operation `json:"own"`
}

// mostOperations bounds the list, chosen by us.
const mostOperations = 100

func (s OperationStandards) check() error {
	if len(s.Own) > mostOperations {
		return fmt.Errorf("%w: operations.own: found %d operations, wanted at most %d", ErrStandards, len(s.Own), mostOperations)
	}
	if _, err := crew.NewTable(s.list(), nil); err != nil {
		return fmt.Errorf("%w: operations.own: %w", ErrStandards, err)
	}
	return nil
}

// list gives the usual operations and the own ones.
func (s OperationStandards) list() []crew.Operation {
	out := crew.Operations()
	for _, own := range s.Own {
		k := slices.IndexFunc(out, func(o crew.Operation) bool { return o.Name == own.Name })
		if k < 0 {
			out = append(out, own)
		} else {
			out[k] = own
		}
	}
	return out
}

// OperationList gives the operations that are done in a block, with the block's own
// minutes for pruning unless the estate has put its own pruning on the list.
func (s Settled) OperationList() []crew.Operation {
	list := s.Operations.list()
	w := s.Pruning.Work
	for k := range list {
		if list[k].Name == vine.Pruning && !slices.ContainsFunc(s.Operations.Own, func(o crew.Operation) bool { return o.Name == vine.Pruning }) {
			list[k].Minutes = crew.Minutes{Cane: w.CaneMinutes, Spur: w.SpurMinutes, Young: w.YoungMinutes}
		}
	}
	return list
}

// SaveOperations puts the estate's own operations anew; all else in its standards
// stays. Errors wrap ErrStandards.
func SaveOperations(ctx context.Context, tx store.Tx, own []crew.Operation, by string, now time.Time) error {
	if err := (OperationStandards{Own: own}).check(); err != nil {
		return err
	}
	list, err := tx.Standards(ctx)
	if err != nil {
		return fmt.Errorf("standards: %w", err)
	}
	parts := map[string]json.RawMessage{}
	if k := slices.IndexFunc(list, func(s store.Standards) bool { return s.Block == 0 }); k >= 0 {
		if err := json.Unmarshal(list[k].Value, &parts); err != nil {
			return fmt.Errorf("standards of the estate: %w", err)
		}
	}
	if parts["operations"], err = json.Marshal(OperationStandards{Own: own}); err != nil {
		return err
	}
	value, err := json.Marshal(parts)
	if err != nil {
		return err
	}
	return tx.SaveStandards(store.Standards{Block: 0, Made: now, By: by, Value: value})
}
