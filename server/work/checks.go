package work

import (
	"context"
	"fmt"
	"time"

	"courson/geo/crew"
	"courson/geo/stand"
	"courson/geo/vine"
)

// CheckVine is a vine to look at: what was to be left and what was.
type CheckVine struct {
	ID      vine.ID `json:"id"`
	Address string  `json:"address"`
	By      string  `json:"by"`
	Planned string  `json:"planned"`
	Left    string  `json:"left"`
}

// CheckJob says of which day vines are drawn.
type CheckJob struct {
	Day   string // 2027-01-12
	Share float64
	Least int
	Seed  uint64
	Zone  *time.Location
}

// Checks draws vines at random of those that were pruned on a day: of each
// person's a share, and at least so many; in walking order.
func Checks(ctx context.Context, st reader, s *stand.Stand, plan map[vine.ID]Planned, job CheckJob) ([]CheckVine, error) {
	g := s.Ground
	states := map[vine.ID]vine.State{}
	var done []crew.DoneVine
	for vs, err := range st.States(ctx, g.Block, s.Season, 0) {
		if err != nil {
			return nil, fmt.Errorf("what was left in block %s: %w", g.Code, err)
		}
		i, ok := g.IndexOf(vs.Vine)
		if !ok || vs.Pruned == nil || vs.PrunedAt.In(job.Zone).Format(time.DateOnly) != job.Day {
			continue
		}
		states[vs.Vine] = vs.State
		row := g.Rows[g.Row[i]]
		done = append(done, crew.DoneVine{Vine: vs.Vine, Row: row.ID, Label: row.Label, Number: int(g.Number[i]), Who: vs.PrunedBy})
	}
	list, err := crew.CheckList(done, job.Share, job.Least, job.Seed)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrOrder, err)
	}
	out := []CheckVine{}
	for _, d := range list {
		i, _ := g.IndexOf(d.Vine)
		c := CheckVine{ID: d.Vine, Address: g.Address(i).String(), By: d.Who, Left: "as instructed"}
		if p, ok := plan[d.Vine]; ok {
			c.Planned = p.Text()
		}
		if n, ok := states[d.Vine].Pruned.NodesLeft(); ok {
			c.Left = fmt.Sprintf("%d nodes", n)
		}
		out = append(out, c)
	}
	return out, nil
}
