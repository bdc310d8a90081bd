package work

import (
	"fmt"

	"courson/geo/vine"
)

// lookSurveys parts what surveys and images said of gaps: each block keeps the list,
// with the points of its own vines. Points that stand for no vine stay.
func (g *regroup) lookSurveys() (int, error) {
	list, err := KeptEvidence(g.ctx, g.st, g.from.ID)
	if err != nil || len(list) == 0 {
		return 0, err
	}
	var stay, goes []Kept
	for _, k := range list {
		rest, moved, err := g.partSurvey(k)
		if err != nil {
			return 0, err
		}
		stay, goes = append(stay, rest), append(goes, moved)
	}
	if g.to.ID != 0 {
		there, err := KeptEvidence(g.ctx, g.st, g.to.ID)
		if err != nil {
			return 0, err
		}
		goes = append(there, goes...)
	}
	if err := g.paper(PaperEvidence, fmt.Sprint(g.to.ID), 0, g.to.ID, g.by, keptList{goes}); err != nil {
		return 0, err
	}
	return len(list), g.paper(PaperEvidence, fmt.Sprint(g.from.ID), 0, g.from.ID, g.by, keptList{stay})
}

func (g *regroup) partSurvey(k Kept) (stay, goes Kept, err error) {
	var rest, moved keptPoints
	err = eachPart(g.ctx, g.st, g.from.ID, &k, func(p *keptPoints) {
		for i, id := range p.Vine {
			if g.goes[id] || id == 0 && i < len(p.Next) && g.goes[p.Next[i]] {
				moved.take(p, i)
			} else {
				rest.take(p, i)
			}
		}
	})
	if err != nil {
		return stay, goes, err
	}
	stay, goes = k, k
	stay.Points, goes.Points = len(rest.Vine), len(moved.Vine)
	stay.Stretches, goes.Stretches = g.partStretches(k.Stretches)
	if err = g.points(g.from.ID, &stay, &rest); err == nil {
		err = g.points(g.to.ID, &goes, &moved)
	}
	return stay, goes, err
}

func (g *regroup) points(block vine.ID, k *Kept, p *keptPoints) error {
	for part := 0; part*pointsInPaper < k.Points; part++ {
		some := p.part(part*pointsInPaper, min(k.Points, (part+1)*pointsInPaper))
		if err := g.paper(PaperEvidencePoints, pointsKey(block, k, part), 0, block, k.By, some); err != nil {
			return err
		}
	}
	return nil
}

// take appends one point of another list.
func (p *keptPoints) take(from *keptPoints, i int) {
	p.Name, p.Fix = takeOne(p.Name, from.Name, i), takeOne(p.Fix, from.Fix, i)
	p.Lon, p.Lat, p.ErrorM = takeOne(p.Lon, from.Lon, i), takeOne(p.Lat, from.Lat, i), takeOne(p.ErrorM, from.ErrorM, i)
	p.Fit, p.Vine, p.Next = takeOne(p.Fit, from.Fit, i), takeOne(p.Vine, from.Vine, i), takeOne(p.Next, from.Next, i)
	p.AlongM, p.AsideM, p.Score = takeOne(p.AlongM, from.AlongM, i), takeOne(p.AsideM, from.AsideM, i), takeOne(p.Score, from.Score, i)
}

func takeOne[T any](list, from []T, i int) []T {
	if len(from) == 0 {
		return list
	}
	return append(list, from[i])
}

// partStretches parts the stretches in which every trunk was measured; one over a cut
// becomes two.
func (g *regroup) partStretches(list [][2]vine.ID) (stay, goes [][2]vine.ID) {
	for _, s := range list {
		a, b := g.goes[s[0]], g.goes[s[1]]
		switch {
		case a && b:
			goes = append(goes, s)
		case !a && !b:
			stay = append(stay, s)
		default:
			near, far := g.cutAt(s)
			if near == 0 {
				continue // not over one cut of one row: nobody can say what it covers
			}
			first, second := [2]vine.ID{s[0], near}, [2]vine.ID{far, s[1]}
			if a {
				goes, stay = append(goes, first), append(stay, second)
			} else {
				stay, goes = append(stay, first), append(goes, second)
			}
		}
	}
	return stay, goes
}

// cutAt gives the two vines between which a stretch is cut, in the direction of the
// stretch; 0 where its row is not cut once.
func (g *regroup) cutAt(s [2]vine.ID) (near, far vine.ID) {
	for _, r := range g.rows {
		if r.all || r.last == 0 {
			continue
		}
		if r.holds(s[0]) || r.holds(s[1]) {
			if g.goes[s[0]] == g.goes[r.last] {
				return r.last, r.first
			}
			return r.first, r.last
		}
	}
	return 0, 0
}

func (r *rowGoes) holds(id vine.ID) bool {
	for _, v := range r.vines {
		if v.ID == id {
			return true
		}
	}
	return false
}
