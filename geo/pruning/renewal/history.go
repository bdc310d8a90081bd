package renewal

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"courson/geo/vine"
)

// Rebuilt says that an arm was grown anew from a low shoot: what was cut before
// that season is on wood that is gone, and its climb starts again.
type Rebuilt struct {
	Arm    string
	Season int // the winter in which the new wood took over
}

// History is what a vine's winters leave for the next one.
type History struct {
	Arms  []ArmHistory // by name
	First int          // earliest season with a record; 0: none
	Last  int          // latest season with a record
	// Silent are recorded seasons that say nothing of the arms ("pruned as
	// instructed"): what is said of paths and climbs leaves them out.
	Silent []int
}

// ArmHistory is one arm over its recorded winters.
type ArmHistory struct {
	Name    string
	Seasons []int     // in which the arm is recorded, rising
	Cuts    []MadeCut // large ones since the arm was last rebuilt, by season
	Path    Path
	Harm    []MadeCut // cuts that break or narrow the path

	ClimbMM float64 // since the first record or since it was rebuilt
	// ClimbYearMM is the mean climb of a recorded winter.
	ClimbYearMM float64

	Spurs  []vine.Spur // left in its last recorded winter
	Canes  []vine.Cane
	Expect []Expected // what should stand there now, one for each spur
}

// isHead names wood that lies between the trunk and every other arm.
func isHead(name string) bool { return name == "head" || name == "trunk" }

// NewHistory reads what was left in each season. Cuts recorded on the "head" or
// "trunk" count for the path of every arm, since both lie between the roots and
// all arms.
func NewHistory(winters map[int]vine.Pruned, rebuilt []Rebuilt, settings Settings) (History, error) {
	s, err := settings.filled()
	if err != nil {
		return History{}, err
	}
	var h History
	arms := map[string]*ArmHistory{}
	var common []MadeCut
	for _, season := range slices.Sorted(maps.Keys(winters)) {
		if season < vine.MinSeason || season > vine.MaxSeason {
			return History{}, fmt.Errorf("%w: season %d (%d to %d)", vine.ErrBadEvent, season, vine.MinSeason, vine.MaxSeason)
		}
		if h.First == 0 {
			h.First = season
		}
		h.Last = season
		if len(winters[season].Arms) == 0 {
			h.Silent = append(h.Silent, season)
		}
		for _, a := range winters[season].Arms {
			if arms[a.Name] == nil {
				arms[a.Name] = &ArmHistory{Name: a.Name}
			}
			cuts := arms[a.Name].add(season, a, since(rebuilt, a.Name))
			if isHead(a.Name) {
				common = append(common, cuts...)
			}
		}
	}
	for _, name := range slices.Sorted(maps.Keys(arms)) {
		h.Arms = append(h.Arms, arms[name].finish(common, since(rebuilt, name), s))
	}
	return h, nil
}

// since gives the season from which an arm's wood counts: a new head brings new
// arms, a new trunk brings all.
func since(rebuilt []Rebuilt, arm string) (season int) {
	for _, r := range rebuilt {
		if r.Arm == arm || r.Arm == "trunk" || r.Arm == "head" && arm != "trunk" {
			season = max(season, r.Season)
		}
	}
	return season
}

// add takes one winter in and gives its cuts.
func (a *ArmHistory) add(season int, left vine.Arm, from int) (cuts []MadeCut) {
	if n := len(a.Seasons); n == 0 || a.Seasons[n-1] != season {
		a.Seasons = append(a.Seasons, season)
		a.Spurs, a.Canes = nil, nil
	}
	a.Spurs, a.Canes = append(a.Spurs, left.Spurs...), append(a.Canes, left.Canes...)
	if season < from {
		return nil
	}
	a.ClimbMM += left.ClimbMM
	for _, c := range left.LargeCuts {
		cuts = append(cuts, MadeCut{season, Face(c.Face), c.DiameterMM})
	}
	a.Cuts = append(a.Cuts, cuts...)
	return cuts
}

func (a *ArmHistory) finish(common []MadeCut, from int, s Settings) ArmHistory {
	on := slices.Clone(a.Cuts)
	if !isHead(a.Name) {
		on = append(on, common...)
		slices.SortStableFunc(on, func(x, y MadeCut) int { return x.Season - y.Season })
	}
	a.Path, a.Harm = s.path(on)
	counted := 0
	for _, season := range a.Seasons {
		if season >= from {
			counted++
		}
	}
	if counted > 0 {
		a.ClimbYearMM = a.ClimbMM / float64(counted)
	} else {
		a.Path = NotRecorded
	}
	a.Expect = expect(a.Spurs, a.Canes)
	return *a
}

// Arm gives one arm's history; ok is false where no winter recorded it.
func (h History) Arm(name string) (ArmHistory, bool) {
	for _, a := range h.Arms {
		if a.Name == name {
			return a, true
		}
	}
	return ArmHistory{Name: name, Path: NotRecorded}, false
}

// Text says an arm's state in one line.
func (a ArmHistory) Text() string {
	if len(a.Seasons) == 0 {
		return a.Name + ": no winter recorded."
	}
	faces := map[Face]int{}
	for _, c := range a.Cuts {
		faces[c.Face]++
	}
	var cuts []string
	for _, f := range []Face{Upper, SideFace, Lower} {
		if faces[f] > 0 {
			cuts = append(cuts, fmt.Sprintf("%d %s", faces[f], f))
		}
	}
	if cuts == nil {
		cuts = []string{"none"}
	}
	return fmt.Sprintf("%s: path of the sap %s; large cuts: %s; climbed %.0f mm, %.0f mm a winter.",
		a.Name, a.Path, strings.Join(cuts, ", "), a.ClimbMM, a.ClimbYearMM)
}
