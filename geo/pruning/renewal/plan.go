package renewal

import (
	"cmp"
	"fmt"
	"slices"

	"courson/geo/vine"
)

// Step is a winter's part of a renewal.
type Step uint8

// The steps, in their order.
const (
	NotBegun  Step = iota
	Leave          // a low shoot is left
	Use            // it is cut to length and takes over
	RemoveOld      // the old wood goes
)

func (s Step) String() string {
	return []string{"not begun", "leave a low shoot", "use it", "remove the old wood"}[min(int(s), 3)]
}

// stepWords are how the record says the last step done.
func stepWords() []string { return []string{"none", "left", "used", "removed"} }

// MarshalText writes none, left, used or removed.
func (s Step) MarshalText() ([]byte, error) {
	if s > RemoveOld {
		return nil, fmt.Errorf("%w: step %d", ErrPlan, s)
	}
	return []byte(stepWords()[s]), nil
}

// UnmarshalText reads what MarshalText writes; empty is none.
func (s *Step) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*s = NotBegun
		return nil
	}
	k := slices.Index(stepWords(), string(text))
	if k < 0 {
		return fmt.Errorf("%w: step %q (none, left, used or removed)", ErrPlan, text)
	}
	*s = Step(k)
	return nil
}

// Renewal is the plan to build an arm (or the trunk) anew over several winters, as
// in "renewal left 2024, use 2025, remove old trunk 2026" (trunk renewal steps,
// Growing table grapes in a temperate climate). A season is the harvest that a
// winter prepares.
type Renewal struct {
	Arm    string `json:"arm"`              // which arm, or "trunk"
	Left   int    `json:"left"`             // season in which the shoot is left
	Use    int    `json:"use"`              // season in which it takes over
	Remove int    `json:"remove,omitempty"` // season in which the old wood goes; 0: when no longer needed
	Done   Step   `json:"done,omitempty"`   // the last step that was done
}

// longestPlan is how many winters a plan may span, chosen by us against slips.
const longestPlan = 15

// Check refuses plans whose steps are not in order: a shoot left this winter can
// take over next winter at the earliest, and old wood goes with that or later.
func (r Renewal) Check() error {
	switch {
	case r.Arm == "":
		return fmt.Errorf("%w: it names no arm", ErrPlan)
	case r.Left < vine.MinSeason || r.Left > vine.MaxSeason:
		return fmt.Errorf("%w: arm %s: the shoot is left in season %d (%d to %d)", ErrPlan, r.Arm, r.Left, vine.MinSeason, vine.MaxSeason)
	case r.Use <= r.Left:
		return fmt.Errorf("%w: arm %s: a shoot left in %d cannot take over in %d; %d at the earliest", ErrPlan, r.Arm, r.Left, r.Use, r.Left+1)
	case r.Remove != 0 && r.Remove < r.Use:
		return fmt.Errorf("%w: arm %s: the old wood would go in %d, before the new takes over in %d", ErrPlan, r.Arm, r.Remove, r.Use)
	case max(r.Use, r.Remove) > r.Left+longestPlan:
		return fmt.Errorf("%w: arm %s: it spans more than %d winters", ErrPlan, r.Arm, longestPlan)
	case r.Done > RemoveOld:
		return fmt.Errorf("%w: arm %s: step %d", ErrPlan, r.Arm, r.Done)
	}
	return nil
}

// Plan gives the renewal that a choice begins when it leaves a low shoot in the
// winter of a season: to take over a winter later, the old wood to go a winter
// after that. ok is false where the choice leaves none.
func (c Choice) Plan(season int) (r Renewal, ok bool) {
	if c.Rebuild == nil {
		return Renewal{}, false
	}
	return Renewal{Arm: c.Arm, Left: season, Use: season + 1, Remove: season + 2}, true
}

// CheckPlans refuses plans of one vine that are wrong, or that run on the same arm
// at the same time.
func CheckPlans(plans []Renewal) error {
	for i, r := range plans {
		if err := r.Check(); err != nil {
			return err
		}
		for _, q := range plans[:i] {
			if q.Arm == r.Arm && q.Left <= r.end() && r.Left <= q.end() {
				return fmt.Errorf("%w: arm %s: one from %d to %d and one from %d to %d; end one first", ErrPlan, r.Arm, q.Left, q.end(), r.Left, r.end())
			}
		}
	}
	return nil
}

func (r Renewal) end() int { return max(r.Use, r.Remove) }

// DueStep is what a plan asks for this winter.
type DueStep struct {
	Arm    string
	Step   Step
	Season int // for which it was planned
	Late   int // winters overdue; 0 on time
	Text   string
	// Cautions go with the removal of old wood.
	Cautions []string
}

// season gives when a step is planned; 0: no day set.
func (r Renewal) season(s Step) int {
	return []int{0, r.Left, r.Use, r.Remove}[min(int(s), 3)]
}

// Due lists what the plans of a vine ask for in the winter of a season, by arm:
// steps of this season and those that were not done in theirs. A step comes only
// after the one before it, but steps planned for one season fall due together.
func Due(plans []Renewal, season int) (out []DueStep) {
	for _, r := range plans {
		planned := 0
		for s := r.Done + 1; s <= RemoveOld; s++ {
			at := r.season(s)
			if at == 0 || at > season || planned != 0 && at != planned {
				break
			}
			planned = at
			out = append(out, r.due(s, season))
		}
	}
	slices.SortStableFunc(out, func(a, b DueStep) int {
		return cmp.Or(cmp.Compare(a.Arm, b.Arm), cmp.Compare(a.Step, b.Step))
	})
	return out
}

func (r Renewal) due(s Step, season int) DueStep {
	d := DueStep{Arm: r.Arm, Step: s, Season: r.season(s), Late: season - r.season(s)}
	switch s {
	case Leave:
		d.Text = fmt.Sprintf("Renewal of %s: leave a low shoot, cut to 2 nodes, and tie it up; never one from below the graft union.", r.Arm)
	case Use:
		d.Text = fmt.Sprintf("Renewal of %s: cut the shoot left in %d to length; it takes over if it is thick enough, else wait a winter.", r.Arm, r.Left)
	default:
		d.Text = fmt.Sprintf("Renewal of %s: remove the old wood, if the new wood carries well without it.", r.Arm)
		d.Cautions = append([]string{"A large wound: saw in dry weather, leave a stub and let it dry back."}, WoundCare()...)
	}
	if d.Late > 0 {
		d.Text += fmt.Sprintf(" Planned for %d.", d.Season)
	}
	return d
}
