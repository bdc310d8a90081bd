package work

import (
	"context"
	"fmt"

	"courson/geo/stand"
	"courson/geo/vigour"
)

// VigourInput gathers what vigour.Estimate works from: the stand, and all that
// was measured on its vines in its season besides the weight. Vines that are not
// on the stand's ground are newer than it and left out.
func VigourInput(ctx context.Context, st reader, s *stand.Stand) (vigour.Input, error) {
	columns := vigour.NewColumns(s.Ground.Len())
	for vs, err := range st.States(ctx, s.Ground.Block, s.Season, 0) {
		if err != nil {
			return vigour.Input{}, fmt.Errorf("measures of block %s, season %d: %w", s.Ground.Code, s.Season, err)
		}
		if i, ok := s.Ground.IndexOf(vs.Vine); ok {
			columns.SetState(i, vs.State)
		}
	}
	return vigour.Input{Stand: s, Columns: columns.All()}, nil
}
