package vine

// ShootThinning is the operation in spring that takes surplus shoots off.
const ShootThinning = "shoot thinning"

// FollowUp is the job at shoot thinning that the wood left in winter asks for.
// Its numbers are part of the stand format.
type FollowUp uint8

// The jobs. Common practice: a spur whose first clear bud sits on top is left
// with three nodes, so that the right shoot stands below once the unwanted ones
// are rubbed off; or with one node and the base bud, both of which must push.
const (
	FollowNone     FollowUp = 0
	FollowRubOff   FollowUp = 1 // rub the first and the base shoots off, keep the second and third
	FollowBothPush FollowUp = 2 // see that the node and the base bud both pushed
	FollowDone     FollowUp = 3 // there was one, and shoot thinning is done
)

// FollowUp gives the job that what was left asks for; of several the first in
// the order of their numbers.
func (p Pruned) FollowUp() FollowUp {
	job := FollowNone
	for _, a := range p.Arms {
		for _, s := range a.Spurs {
			switch {
			case s.FirstBudFaces != "above":
			case s.Nodes >= 3:
				return FollowRubOff
			case s.Nodes == 1:
				job = FollowBothPush
			}
		}
	}
	return job
}

// FollowUp gives the job that is due in the state's season, or that it is done.
func (s State) FollowUp() FollowUp {
	if s.Pruned == nil {
		return FollowNone
	}
	job := s.Pruned.FollowUp()
	if job != FollowNone && s.Work[ShootThinning] == Done {
		return FollowDone
	}
	return job
}
