package logbook

import (
	"fmt"

	"courson/geo/vine"
	"courson/store"
)

// CheckPlan says what no store can keep of a plan.
func CheckPlan(p store.Plan, entries []store.PlanEntry) error {
	if p.Kind == "" {
		return fmt.Errorf("the plan's kind is missing")
	}
	if p.Season < vine.MinSeason || p.Season > vine.MaxSeason {
		return fmt.Errorf("season %d is not between %d and %d", p.Season, vine.MinSeason, vine.MaxSeason)
	}
	if err := checkTexts("plan", "kind", string(p.Kind), "by", p.By, "source", p.Source); err != nil {
		return err
	}
	once := make(map[vine.ID]bool, len(entries))
	for _, e := range entries {
		if once[e.Vine] {
			return fmt.Errorf("%w: the plan names vine %d twice", store.ErrConflict, e.Vine)
		}
		once[e.Vine] = true
		if err := checkTexts("plan", "reason", e.Reason); err != nil {
			return err
		}
	}
	return nil
}
