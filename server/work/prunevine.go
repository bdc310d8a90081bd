package work

import (
	"context"
	"encoding/json"
	"fmt"
	"strconv"
	"time"

	"courson/geo/pruning"
	"courson/geo/pruning/renewal"
	"courson/geo/vine"
	"courson/store"
)

// HistoryOf reads the winters before a season out of a vine's life; those of an
// earlier plant in the same place are left out.
func HistoryOf(life vine.Life, season int, settings renewal.Settings) (renewal.History, error) {
	from := 0
	for _, p := range life.Plantings {
		from = max(from, p.From)
	}
	winters := map[int]vine.Pruned{}
	for _, st := range life.States {
		if st.Pruned != nil && st.Season < season && st.Season >= from {
			winters[st.Season] = *st.Pruned
		}
	}
	return renewal.NewHistory(winters, nil, settings)
}

// PaperRenewal is the kind of paper that keeps the renewals of a vine over several
// winters; its key is the vine's id.
const PaperRenewal store.PaperKind = "renewal"

// renewals is the value of such a paper.
type renewals struct {
	Plans []renewal.Renewal `json:"plans"`
}

// Renewals gives the renewals planned for the vines of a block, by vine; block 0:
// of all blocks.
func Renewals(ctx context.Context, st reader, block vine.ID) (map[vine.ID][]renewal.Renewal, error) {
	papers, err := st.Papers(ctx, store.PaperQuery{Kind: PaperRenewal})
	if err != nil {
		return nil, fmt.Errorf("renewals: %w", err)
	}
	out := map[vine.ID][]renewal.Renewal{}
	for _, p := range papers {
		if block != 0 && p.Block != block {
			continue
		}
		id, err := strconv.ParseInt(p.Key, 10, 64)
		if err != nil {
			return nil, fmt.Errorf("renewals: key %q is not a vine", p.Key)
		}
		var r renewals
		if err := json.Unmarshal(p.Value, &r); err != nil {
			return nil, fmt.Errorf("renewals of vine %d: %w", id, err)
		}
		out[id] = r.Plans
	}
	return out, nil
}

// SaveRenewals sets the renewals of a vine; none takes them away. The error wraps
// renewal.ErrPlan where they cannot be right.
func SaveRenewals(tx store.Tx, v store.Vine, plans []renewal.Renewal, by string, now time.Time) error {
	value := []byte("{}")
	if len(plans) > 0 {
		if err := renewal.CheckPlans(plans); err != nil {
			return err
		}
		var err error
		if value, err = json.Marshal(renewals{plans}); err != nil {
			return err
		}
	}
	return tx.SavePaper(store.Paper{Kind: PaperRenewal, Key: strconv.FormatInt(v.ID, 10), Block: v.Block, Made: now, By: by, Value: value})
}

// DrawVine draws a vine as the last recorded winter with arms left it, with the
// older cuts; nil where no winter says anything of its arms.
func DrawVine(label string, season int, system pruning.System, life vine.Life, h renewal.History) ([]byte, error) {
	var arms []vine.Arm
	at := 0
	for _, st := range life.States {
		if st.Pruned != nil && len(st.Pruned.Arms) > 0 && st.Season <= season {
			arms, at = st.Pruned.Arms, st.Season
		}
	}
	if arms == nil {
		return nil, nil
	}
	return renewal.Draw(renewal.Vine{Label: label, Season: at, Form: formOf(system, arms), Arms: arms, History: h},
		renewal.Style{Labels: true, ID: "v"})
}

// formOf tells how a vine of a system is built.
func formOf(s pruning.System, arms []vine.Arm) renewal.Form {
	switch {
	case s.Cordon():
		return renewal.Cordon
	case s.CanesAtMost() == 0:
		return renewal.Goblet
	case len(arms) > 1:
		return renewal.TwoArms
	}
	return renewal.FromHead
}
