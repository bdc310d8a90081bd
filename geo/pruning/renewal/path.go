package renewal

// Path is the state of the path of the sap from the trunk to an arm.
type Path string

// States of a path, the best first.
const (
	Unbroken    Path = "unbroken"
	Narrowed    Path = "narrowed"
	Broken      Path = "broken"
	NotRecorded Path = "not recorded"
)

// MadeCut is a large cut of an earlier winter.
type MadeCut struct {
	Season     int
	Face       Face
	DiameterMM float64 // 0 not measured
}

// PathOf says whether the path of the sap survives these cuts, and which cuts harm
// it. The path is the lower face of the arm, which the rule keeps free of wounds:
//
//   - Cuts on the upper face leave it unbroken, however many.
//   - One large cut on the lower face breaks it.
//   - A cut on the side breaks it from Settings.SideBreaksMM on, since the dead
//     wood behind a cut is taken to reach about as far as the cut is wide (trade
//     rule); a smaller side cut, or one not measured, narrows it. Side cuts in
//     different winters do not add up to a break, for the record does not say
//     which side.
//
// A broken path stays broken until the arm is rebuilt: wood does not heal over a
// cut, it grows around it.
func PathOf(cuts []MadeCut, settings Settings) (Path, []MadeCut, error) {
	s, err := settings.filled()
	if err != nil {
		return "", nil, err
	}
	p, harm := s.path(cuts)
	return p, harm, nil
}

func (s Settings) path(cuts []MadeCut) (Path, []MadeCut) {
	state := Unbroken
	var harm []MadeCut
	for _, c := range cuts {
		switch {
		case c.Face == Lower || c.Face == SideFace && c.DiameterMM >= s.SideBreaksMM:
			state = Broken
		case c.Face == SideFace:
			if state == Unbroken {
				state = Narrowed
			}
		default:
			continue
		}
		harm = append(harm, c)
	}
	return state, harm
}
