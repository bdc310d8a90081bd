package stand

import "strconv"

// Delta is what changed in a stand since a revision, column by column for the
// vines of Index.
type Delta struct {
	Block    int64 `json:"block"`
	Season   int   `json:"season"`
	Revision int64 `json:"revision"`
	// Whole says that the ground changed: the columns are left out, and the
	// stand is to be fetched anew.
	Whole     bool    `json:"whole"`
	Index     []int   `json:"index,omitempty"`
	Condition codes   `json:"condition,omitempty"`
	Leaf      codes   `json:"leaf,omitempty"`
	Vigour    codes   `json:"vigour,omitempty"`
	Progress  codes   `json:"progress,omitempty"`
	Flags     codes   `json:"flags,omitempty"`
	Nodes     codes   `json:"nodes,omitempty"`
	Left      codes   `json:"left,omitempty"`
	Load      codes   `json:"load,omitempty"`
	Follow    codes   `json:"follow,omitempty"`
	Totals    *Totals `json:"totals,omitempty"`
}

// codes are bytes of a stand column; in JSON an array of numbers.
type codes []uint8

// MarshalJSON writes an array of numbers.
func (c codes) MarshalJSON() ([]byte, error) {
	out := []byte{'['}
	for i, v := range c {
		if i > 0 {
			out = append(out, ',')
		}
		out = strconv.AppendUint(out, uint64(v), 10)
	}
	return append(out, ']'), nil
}

// Since gives the vines that changed after a revision of the block.
func Since(s *Stand, revision int64) Delta {
	d := Delta{Block: s.Ground.Block, Season: s.Season, Revision: s.Revision, Whole: s.Ground.Revision > revision}
	if d.Whole {
		return d
	}
	for i, at := range s.Changed {
		if at <= revision {
			continue
		}
		d.Index = append(d.Index, i)
		d.Condition, d.Leaf, d.Vigour = append(d.Condition, uint8(s.Condition[i])), append(d.Leaf, s.Leaf[i]), append(d.Vigour, s.Vigour[i])
		d.Progress, d.Flags = append(d.Progress, uint8(s.Progress[i])), append(d.Flags, uint8(s.Flags[i]))
		d.Nodes, d.Left = append(d.Nodes, s.Nodes[i]), append(d.Left, s.Left[i])
		d.Load, d.Follow = append(d.Load, s.LoadOf(i)), append(d.Follow, uint8(s.FollowOf(i)))
	}
	totals := TotalsOf(s)
	d.Totals = &totals
	return d
}
