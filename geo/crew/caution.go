package crew

// Caution is a hazard of the work and what keeps it off. Cautions stand on every
// order and sheet; local work-safety rules apply.
type Caution struct {
	Hazard string `json:"hazard"` // a word of its own, which pages translate by
	Advice string `json:"advice"`
	Source string `json:"source"`
}

// Hazards, in the words that pages translate by.
const (
	HazardShears   = "shears"
	HazardWet      = "wet"
	HazardFrozen   = "frozen"
	HazardWrist    = "wrist"
	HazardMachine  = "machine" // that does the work itself
	HazardClearing = "clearing"
	HazardRollover = "rollover"
	HazardObstacle = "obstacles"
	HazardApart    = "apart" // cutting and pulling are not done together
	HazardWires    = "wires"
	HazardTool     = "tool" // that ties
	HazardSprays   = "sprays"
	HazardHeat     = "heat"
	HazardBending  = "bending"
	HazardLifting  = "lifting"
	HazardDigging  = "digging"
	HazardAuger    = "auger"
	HazardEyes     = "eyes"
	HazardCold     = "cold"
	HazardSlope    = "slope"
	HazardMachines = "machines" // of others, in the rows
	HazardAlone    = "alone"
	HazardRules    = "rules"
)

// Cautions gives what to mind at an operation, the gravest first; for one that is
// not of the usual list, what belongs to all work in the rows.
func Cautions(operation string) []Caution {
	hazards, ok := hazardsOf()[operation]
	if !ok {
		hazards = []string{HazardCold, HazardSlope}
	}
	hazards = append(hazards, HazardMachines, HazardAlone, HazardRules)
	known := cautionsByHazard()
	out := make([]Caution, len(hazards))
	for k, h := range hazards {
		out[k] = known[h]
		out[k].Hazard = h
	}
	return out
}

// hazardsOf lists what belongs to each usual operation besides what belongs to
// all.
func hazardsOf() map[string][]string {
	return map[string][]string{
		PrePruning:    {HazardMachine, HazardClearing, HazardRollover, HazardObstacle, HazardFrozen, HazardCold},
		Pruning:       {HazardShears, HazardWet, HazardFrozen, HazardEyes, HazardWrist, HazardCold, HazardSlope},
		PullingBrush:  {HazardApart, HazardEyes, HazardWires, HazardLifting, HazardCold, HazardSlope},
		Tying:         {HazardWires, HazardEyes, HazardTool, HazardFrozen, HazardWrist, HazardCold, HazardSlope},
		ShootThinning: {HazardSprays, HazardHeat, HazardEyes, HazardBending, HazardWrist, HazardSlope},
		Checking:      {HazardSprays, HazardEyes, HazardCold, HazardSlope},
		Replanting:    {HazardDigging, HazardAuger, HazardLifting, HazardWires, HazardCold, HazardSlope},
	}
}

// Where the advice is from. "Common practice" stands where it is the usual
// instruction of the trade.
const (
	msa       = "farm health insurer MSA and press on pruning risks, 2019"
	bc        = "Worker health and safety, British Columbia best practices guide"
	wrist     = "Don't wreck your wrists pruning vines for wine, WorkSafeBC"
	trunk     = "Growers respond to trunk disease threat, Wine Australia"
	frozen    = "Pruning the vine, Washington Post, 1977 and 1978"
	customary = "common practice"
)

func cautionsByHazard() map[string]Caution {
	return map[string]Caution{
		HazardShears:   {Advice: "Powered shears only for trained people. Keep the other hand away from the cut and do not hold the cane that is cut; wear a cut-detecting glove. Switch off to clean and sharpen. Do not prune and pull brush at once.", Source: msa},
		HazardWet:      {Advice: "No pruning in rain nor for 36 h after it (advice of Wine Australia): disease enters the wounds.", Source: trunk},
		HazardFrozen:   {Advice: "Do not cut or bend frozen wood: it snaps.", Source: frozen},
		HazardWrist:    {Advice: "Sharp shears of the right size; breaks, change of task, warm-up. Report early signs of pain.", Source: wrist},
		HazardMachine:  {Advice: "Nobody but the trained driver near the machine while it runs: keep at least 10 m away (common practice; more where its manual says so). Guards stay on.", Source: customary},
		HazardClearing: {Advice: "Before wood is cleared from it: stop the engine, take the key, and wait until every part stands still.", Source: customary},
		HazardRollover: {Advice: "Seat belt on and roll bar up. No machine on ground that is too steep, too wet or frozen.", Source: customary},
		HazardObstacle: {Advice: "Walk the rows before: loose wires, broken posts and stakes are marked or taken out. Young vines are left to the hand.", Source: customary},
		HazardApart:    {Advice: "Nobody pulls brush beside somebody who cuts.", Source: msa},
		HazardWires:    {Advice: "Wires are under tension: wear gloves, loosen them slowly, stand beside the wire and not in its line.", Source: customary},
		HazardTool:     {Advice: "Tying tool: fingers out of its jaws; off when it is cleaned or filled.", Source: customary},
		HazardSprays:   {Advice: "Do not enter a sprayed block before the time on the label is over. Wash hands before eating.", Source: customary},
		HazardHeat:     {Advice: "Heat and sun: hat, water within reach, shade and breaks; begin early in the day.", Source: customary},
		HazardBending:  {Advice: "Bend the knees, not the back; change sides and tasks.", Source: customary},
		HazardLifting:  {Advice: "Lift from the knees, share heavy loads, change tasks.", Source: customary},
		HazardDigging:  {Advice: "Before digging: find out where cables and pipes lie. No hole stays open unmarked.", Source: customary},
		HazardAuger:    {Advice: "Earth auger only for trained people: no loose clothes, straps or hair. Stop the engine before the bit is cleared.", Source: customary},
		HazardEyes:     {Advice: "Wear glasses: canes and wires whip.", Source: customary},
		HazardCold:     {Advice: "Cold and wet: warm layers, warm-up, dry gloves. Stop in frost or on ice.", Source: msa},
		HazardSlope:    {Advice: "Slopes: shoes with grip, no running. No machine beside people on steep ground.", Source: bc},
		HazardMachines: {Advice: "Nobody works in a row where a machine drives, nor in the one beside it.", Source: customary},
		HazardAlone:    {Advice: "Nobody works alone without a time to check in.", Source: customary},
		HazardRules:    {Advice: "Local work-safety rules apply.", Source: customary},
	}
}
