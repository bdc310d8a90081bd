package work

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"courson/geo/pruning"
	"courson/geo/vine"
	"courson/store"
)

// countShoots puts in last year's shoots as the load rule wants them counted:
// canes by diameter classes for the effective number, canes counted (small,
// ideal, large) for ideal shoots. Only the count that stands in a vine's state is
// taken; its classes are looked up in the log.
func (j *PruneJob) countShoots(ctx context.Context, st reader, b *pruning.Block) error {
	rule := j.Standards.Rule
	if rule.Kind != pruning.EffectiveShoots && rule.Kind != pruning.IdealShoots {
		return nil
	}
	g, season := b.Stand.Ground, b.Stand.Season
	counted := map[vine.ID]vine.Reading{}
	b.Shoots = unknown(g.Len())
	for vs, err := range st.States(ctx, g.Block, season, 0) {
		if err != nil {
			return fmt.Errorf("canes counted in block %s, season %d: %w", g.Code, season, err)
		}
		r, ok := vs.Measures[vine.CaneCount]
		if !ok {
			continue
		}
		counted[vs.Vine] = r
		if i, ok := g.IndexOf(vs.Vine); ok && rule.Kind == pruning.IdealShoots {
			b.Shoots[i] = float32(r.Value) // counted without classes: all ideal
		}
	}
	if len(counted) == 0 {
		return nil
	}
	events, err := st.Events(ctx, store.EventQuery{Block: g.Block, Season: season})
	if err != nil {
		return fmt.Errorf("canes by classes in block %s, season %d: %w", g.Code, season, err)
	}
	for _, e := range events {
		m, ok := e.Body.(vine.Measure)
		if !ok || m.Quantity != vine.CaneCount || len(m.Classes) == 0 {
			continue
		}
		for k, id := range e.Target.Vines {
			r, ok := counted[id]
			if i, known := g.IndexOf(id); known && ok && k < len(m.Counts) && r.Value == m.Values[k] && r.At.Equal(e.When) {
				b.Shoots[i] = float32(shootsOf(rule, m.Classes, m.Counts[k]))
			}
		}
	}
	return nil
}

// shootsOf counts canes of classes as a rule wants.
func shootsOf(rule pruning.Rule, classes []string, counts []int) float64 {
	sum := 0.0
	for k, class := range classes {
		each := 1.0
		mm, isDiameter := middleOf(class)
		switch {
		case rule.Kind == pruning.EffectiveShoots && isDiameter:
			each = rule.Effective([]float64{mm})
		case rule.Kind == pruning.EffectiveShoots:
			continue // of a class without diameter nothing can be told
		case strings.Contains(strings.ToLower(class), "small"):
			each = rule.Small
		case strings.Contains(strings.ToLower(class), "large"):
			each = rule.Large
		}
		sum += each * float64(counts[k])
	}
	return sum
}

// middleOf gives the diameter that stands for a class such as "7-10 mm", "<7 mm"
// or ">15 mm": its middle, or just beyond its open end.
func middleOf(class string) (mm float64, ok bool) {
	text := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(class), "mm"))
	number := func(s string) (float64, bool) {
		v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
		return v, err == nil
	}
	switch {
	case strings.HasPrefix(text, "<"):
		v, ok := number(text[1:])
		return v / 2, ok
	case strings.HasPrefix(text, ">"):
		v, ok := number(text[1:])
		return v + 0.1, ok
	}
	low, high, found := strings.Cut(text, "-")
	a, okA := number(low)
	if !found {
		return a, okA
	}
	b, okB := number(high)
	return (a + b) / 2, okA && okB
}
