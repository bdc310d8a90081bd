package demoestate

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"time"

	"github.com/google/uuid"

	"courson/geo/vine"
)

// logbook makes the estate's events: one per row and distinct fact, as a person
// walking the row would record them.
type logbook struct {
	rng    *rand.Rand
	zone   *time.Location
	seq    map[string]uint64
	events []vine.Event
}

// rowOf is a row with its vines and their invented truth.
type rowOf struct {
	block, row vine.ID
	vines      []vine.ID
	plants     []plant
	spacing    float64
	design     design
}

// add records one event on a device of the estate.
func (l *logbook) add(device, by string, at time.Time, season int, t vine.Target, body vine.Body) uuid.UUID {
	l.seq[device]++
	e := vine.Event{
		ID: l.id(at), Device: device, Seq: l.seq[device], At: at.UTC(), When: at.UTC(),
		Received: at.Add(7 * time.Minute).UTC(), By: by, Season: season, Target: t, Kind: body.Kind(), Body: body,
	}
	l.events = append(l.events, e)
	return e.ID
}

// id is a UUIDv7 (RFC 9562) of the given time whose random part comes from the
// seed, so that the same estate has the same ids.
func (l *logbook) id(at time.Time) uuid.UUID {
	var id uuid.UUID
	binary.BigEndian.PutUint64(id[:8], uint64(at.UnixMilli())<<16|uint64(l.rng.Uint32N(1<<12)))
	binary.BigEndian.PutUint64(id[8:], l.rng.Uint64())
	id[6] = id[6]&0x0f | 0x70
	id[8] = id[8]&0x3f | 0x80
	return id
}

// survey records how every vine of the row stands in winter w: one event per
// condition, planting and cause. After the first winter only changes are recorded.
func (l *logbook) survey(r rowOf, w int, day time.Time) {
	type fact struct {
		condition vine.Condition
		cause     string
		planted   int
	}
	groups := map[fact][]vine.ID{}
	order := []fact{}
	for i, p := range r.plants {
		if p.condition[w] == vine.Unseen || w > 0 && p.condition[w] == p.condition[w-1] && p.planted[w] == p.planted[w-1] {
			continue
		}
		f := fact{condition: p.condition[w], cause: p.cause[w]}
		if f.condition == vine.Replanted {
			f.planted = p.planted[w]
		}
		if groups[f] == nil {
			order = append(order, f)
		}
		groups[f] = append(groups[f], r.vines[i])
	}
	for n, f := range order {
		s := vine.Sighting{Condition: f.condition, Cause: f.cause, Planted: f.planted}
		if f.condition == vine.Replanted {
			s.Rootstock, s.Batch = r.design.rootstock, "nursery delivery, spring"
		}
		if f.condition == vine.Doubtful {
			again := day.AddDate(0, 4, 0)
			s.LookAgain = &again
		}
		l.add("survey tablet", "survey walk", day.Add(time.Duration(n)*time.Minute), seasonAt(w), r.some(groups[f]), s)
	}
}

// some targets listed vines of the row.
func (r rowOf) some(vines []vine.ID) vine.Target {
	return vine.Target{Block: r.block, Row: r.row, Vines: vines}
}

// scores records a visual score, 1 weakest to 5, for every living vine.
func (l *logbook) scores(r rowOf, w int, day time.Time) {
	vines, values := []vine.ID{}, []float64{}
	for i, p := range r.plants {
		if p.woodKgM[w] == 0 {
			continue
		}
		vines = append(vines, r.vines[i])
		values = append(values, l.score(p.woodKgM[w]))
	}
	if len(vines) > 0 {
		l.add("survey tablet", "survey walk", day.Add(20*time.Minute), seasonAt(w), r.some(vines),
			vine.Measure{Quantity: vine.VisualScore, Unit: vine.VisualScore.Unit(), Scale: ScoreScale, Values: values})
	}
}

// ScoreScale is the scale of the estate's visual scores.
const ScoreScale = "1-5"

// score is what an eye makes of so much wood; now and then it errs by one.
func (l *logbook) score(kgM float64) float64 {
	s := 1.0
	for _, limit := range []float64{0.15, 0.30, 0.60, 1.00} {
		if kgM >= limit {
			s++
		}
	}
	if l.rng.Float64() < 0.08 {
		s += float64(l.rng.IntN(2)*2 - 1)
	}
	return min(5, max(1, s))
}

// weights records the pruning weight of about one vine in sixteen.
func (l *logbook) weights(r rowOf, w int, day time.Time) {
	vines, values := []vine.ID{}, []float64{}
	for i, p := range r.plants {
		if p.woodKgM[w] > 0 && (int(r.vines[i])*2654435761)>>4%16 == 0 {
			vines = append(vines, r.vines[i])
			values = append(values, max(5, 5*math.Round(p.woodKgM[w]*r.spacing*1000/5))) // the scale shows 5 g
		}
	}
	if len(vines) > 0 {
		l.add("pruning scale", "sample weighing", day.Add(40*time.Minute), seasonAt(w), r.some(vines),
			vine.Measure{Quantity: vine.PruningWeight, Unit: vine.PruningWeight.Unit(), Values: values})
	}
}

// pruned records that the first share of the row's living vines was pruned, as
// instructed but for some vines where the pruner left something else. In earlier
// winters a row was noted once; in the present one a phone notes every stretch.
func (l *logbook) pruned(r rowOf, w int, day time.Time, share float64, by string, nodes func(i int) int) {
	asSaid := []vine.ID{}
	device := "phone of " + by
	t := day
	flush := func() {
		if len(asSaid) > 0 {
			l.add(device, by, t, seasonAt(w), r.some(asSaid), vine.Pruned{})
			asSaid = []vine.ID{}
		}
	}
	upTo := int(math.Round(share * float64(len(r.vines))))
	for i, p := range r.plants[:upTo] {
		if p.woodKgM[w] == 0 {
			continue
		}
		t = t.Add(l.minutes(p.woodKgM[w]))
		if int(r.vines[i])*2654435761>>4%arms == 0 {
			l.add(device, by, t, seasonAt(w), r.some([]vine.ID{r.vines[i]}), l.armByArm(nodes(i)))
			continue
		}
		if l.rng.Float64() >= 0.025 {
			asSaid = append(asSaid, r.vines[i])
			if w == 2 && len(asSaid) == stretch {
				flush()
			}
			continue
		}
		left := max(4, nodes(i)-2-2*l.rng.IntN(2))
		canes, spurs := min(1, max(0, left/8)), 2
		l.add(device, by, t, seasonAt(w), r.some([]vine.ID{r.vines[i]}),
			vine.Pruned{Nodes: &left, Canes: &canes, Spurs: &spurs, Reason: "second cane too thin"})
	}
	flush()
}

// stretch is how many vines are done between two looks at the phone.
const stretch = 12

// minutes is what one vine takes one person: strong ones longer (planning figures:
// common practice), with some spread.
func (l *logbook) minutes(kgM float64) time.Duration {
	return time.Duration((2.2 + 1.2*min(1, kgM) + 0.6*l.rng.Float64()) * float64(time.Minute))
}

// arms: one vine in so many is recorded arm by arm, every winter.
const arms = 40

// armByArm is what was left on a two-armed vine: spurs with the way their first
// bud faces, the cane on one arm, large cuts mostly on the upper side.
func (l *logbook) armByArm(nodes int) vine.Pruned {
	spur := func() vine.Spur {
		switch n := l.rng.IntN(8); {
		case n == 0:
			return vine.Spur{Nodes: 3, FirstBudFaces: "above"}
		case n == 1:
			return vine.Spur{Nodes: 1, FirstBudFaces: "above"}
		}
		return vine.Spur{Nodes: 2, FirstBudFaces: "below"}
	}
	cut := func() []vine.Cut {
		if l.rng.IntN(3) > 0 {
			return nil
		}
		face := "upper"
		if l.rng.IntN(12) == 0 {
			face = "lower"
		}
		return []vine.Cut{{Face: face, DiameterMM: float64(18 + l.rng.IntN(12))}}
	}
	out := vine.Pruned{}
	with := l.rng.IntN(2)
	for k, name := range []string{"left", "right"} {
		a := vine.Arm{Name: name, Spurs: []vine.Spur{spur()}, LargeCuts: cut(), ClimbMM: float64(8 + l.rng.IntN(25))}
		if n := nodes - 4; k == with && n >= 4 {
			a.Canes = []vine.Cane{{Nodes: n, LengthMM: 70 * n}}
		}
		out.Arms = append(out.Arms, a)
	}
	return out
}
