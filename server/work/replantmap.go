package work

import (
	"context"
	"fmt"
	"hash/fnv"
	"time"

	"courson/geo/replant"
	"courson/geo/stand"
	"courson/geo/vine"
)

// ReplantColumn gives what maps show of the places of a block in a season: kinds
// of gap, and how far their replacement has come; nil where no place has any.
func ReplantColumn(ctx context.Context, st reader, b ShareBlock) ([]stand.Replanting, error) {
	estate, err := st.Estate(ctx)
	if err != nil {
		return nil, fmt.Errorf("replants of block %s: %w", b.Block.Code, err)
	}
	zone, err := time.LoadLocation(estate.Zone)
	if err != nil {
		zone = time.UTC
	}
	found, err := judgeBlock(ctx, st, b, zone)
	if err != nil {
		return nil, err
	}
	moves, err := ReplantMoves(ctx, st, b.Block.ID)
	if err != nil {
		return nil, err
	}
	cal := vine.Hemisphere(estate.South, zone)
	places, _ := replant.Follow(replant.MovesUpTo(moves, b.Stand.Season, cal)) // refused steps were refused when made
	at := make(map[vine.ID]replant.Place, len(places))
	for _, p := range places {
		at[p.Vine] = p
	}
	var out []stand.Replanting
	for i, id := range b.Stand.Ground.ID {
		p, on := at[id]
		shows := replant.Shown(found.Verdicts[i], p, on, b.Stand.Season, cal)
		if shows == stand.ReplantNone {
			continue
		}
		if out == nil {
			out = make([]stand.Replanting, b.Stand.Ground.Len())
		}
		out[i] = shows
	}
	return out, nil
}

// judgeBlock weighs all that is known of the places of a block.
func judgeBlock(ctx context.Context, st reader, b ShareBlock, zone *time.Location) (*replant.Findings, error) {
	evidence, _, _, err := evidenceOf(ctx, st, b, zone)
	if err != nil {
		return nil, err
	}
	found, err := replant.Judge(evidence, b.Settled.Replants.Find)
	if err != nil {
		return nil, fmt.Errorf("gaps of block %s: %w", b.Block.Code, err)
	}
	return found, nil
}

// WithReplants gives the findings with another column of replants. They keep what
// they were worked out from (Base), so that a step of a replacement does not make
// vigour and patches anew.
func (f *Findings) WithReplants(column []stand.Replanting) *Findings {
	h := fnv.New64a()
	for _, r := range column {
		_, _ = h.Write([]byte{byte(r)})
	}
	next, found := *f, *f.Found
	found.Replant = column
	found.Stamp = fmt.Sprintf("%s-%x", f.Base, h.Sum64())
	next.Found = &found
	return &next
}
