package logbook

import (
	"bytes"
	"encoding/json"
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
		if err := CheckEntry(e); err != nil {
			return err
		}
	}
	return nil
}

// CheckEntry refuses what no store can keep of one vine.
func CheckEntry(e store.PlanEntry) error {
	if err := checkTexts("plan", "reason", e.Reason); err != nil {
		return err
	}
	if len(e.Detail) == 0 {
		return nil
	}
	if b := bytes.TrimSpace(e.Detail); len(b) == 0 || b[0] != '{' || !json.Valid(b) {
		return fmt.Errorf("detail of vine %d must be a JSON object, found %.40q", e.Vine, e.Detail)
	}
	return CheckJSON("detail", e.Detail)
}
