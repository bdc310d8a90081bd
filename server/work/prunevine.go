package work

import (
	"maps"
	"slices"
	"strings"

	"courson/geo/pruning"
	"courson/geo/pruning/renewal"
	"courson/geo/vine"
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

// The operations by which the steps of a renewal over several winters are kept in
// the log, each followed by the arm: "leave renewal: left". A step that is planned
// for a season is recorded there as not started.
const (
	opLeave  = "leave renewal"
	opUse    = "use renewal"
	opRemove = "remove old wood"
)

// RenewalDue is a step of a renewal that falls due in a season.
type RenewalDue struct{ Arm, Step, Text string }

// RenewalsDue gives the steps recorded for a season that are not done yet.
func RenewalsDue(life vine.Life, season int) []RenewalDue {
	var out []RenewalDue
	for _, st := range life.States {
		if st.Season != season {
			continue
		}
		for _, op := range []string{opLeave, opUse, opRemove} {
			for _, work := range slices.Sorted(maps.Keys(st.Work)) {
				name, arm, _ := strings.Cut(work, ":")
				if p := st.Work[work]; strings.TrimSpace(name) != op || p == vine.Done || p == vine.Skipped {
					continue
				}
				arm = strings.TrimSpace(arm)
				out = append(out, RenewalDue{arm, op, renewalText(op, arm)})
			}
		}
	}
	return out
}

func renewalText(op, arm string) string {
	where := "the vine"
	if arm != "" {
		where = "arm " + arm
	}
	switch op {
	case opLeave:
		return "Leave a low shoot to renew " + where + "."
	case opUse:
		return "The shoot left to renew " + where + " takes over: cut it to length."
	}
	return "Take off the old wood of " + where + ", clear of the sap path."
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
