package replant

// ground is what stands in a block, as shares of its positions.
type ground struct {
	resting bool
	old     float64  // plants in full crop
	cohorts []cohort // younger ones
	gaps    float64  // without a plant for a season or more
	fresh   float64  // gaps in their first season
	loss    float64  // of living plants, each winter
	lost    float64  // this winter
}

// cohort is plants of one age.
type cohort struct {
	share       float64
	leaf        int
	first, full float64 // leaf of first and of full crop
	whole       bool    // the block itself, not replants in it
}

func (c *cohort) crop() float64 { return cropShare(c.leaf, c.first, c.full) }

// start is the block as it stands now; its gaps count as a season old. room is where
// cohorts are kept.
func (b *BlockCase) start(m *Money, room []cohort) ground {
	all := float64(b.Positions)
	g := ground{gaps: float64(b.Gaps) / all, loss: m.Loss.Value, cohorts: room}
	young := 0
	for k, n := range b.Young {
		young += n
		g.cohorts = append(g.cohorts, cohort{float64(n) / all, k + 1, m.FirstCrop.Value, m.FullReplant.Value, false})
	}
	g.old = float64(b.Positions-b.Gaps-young) / all
	return g
}

func newBlock(m *Money, room []cohort) ground {
	took := m.BlockTake.Value
	return ground{cohorts: append(room, cohort{took, 1, m.FirstCrop.Value, m.FullBlock.Value, true}), gaps: 1 - took, loss: m.Loss.Value}
}

// winter ages gaps and takes the year's losses.
func (g *ground) winter(losses bool) {
	g.gaps, g.fresh, g.lost = g.gaps+g.fresh, 0, 0
	if !losses {
		return
	}
	take := func(share *float64) {
		g.lost += *share * g.loss
		*share *= 1 - g.loss
	}
	take(&g.old)
	for i := range g.cohorts {
		take(&g.cohorts[i].share)
	}
	g.fresh = g.lost
}

// fill plants today's gaps in equal parts over the years, and what was lost this
// winter where the plan keeps up. It gives the share of positions planted. What
// does not take stays a gap.
func (g *ground) fill(b *BlockCase, t int, m *Money) float64 {
	take := m.Survival.Value
	var fresh, standing float64
	if b.KeepUp {
		fresh = g.fresh
	}
	if t < b.Over {
		standing = min(g.gaps, float64(b.Gaps)/float64(b.Positions)/float64(b.Over))
	}
	g.fresh -= fresh * take
	g.gaps -= standing * take
	if fresh+standing > 0 {
		g.cohorts = append(g.cohorts, cohort{(fresh + standing) * take, 1, m.FirstCrop.Value, m.FullReplant.Value, false})
	}
	return fresh + standing
}

func (g *ground) living() float64 {
	sum := g.old
	for i := range g.cohorts {
		sum += g.cohorts[i].share
	}
	return sum
}

// crop gives the yield as a share of the block without gaps in full crop.
// Neighbours make up c of what they bear themselves.
func (g *ground) crop(m *Money) float64 {
	stand := 1.0 // crop of the neighbours
	for i := range g.cohorts {
		if g.cohorts[i].whole {
			stand = g.cohorts[i].crop()
		}
	}
	c := m.Compensation.Value * stand
	sum := g.old + g.gaps*c
	for i := range g.cohorts {
		k := &g.cohorts[i]
		own := k.crop()
		if !k.whole {
			own = max(own, c)
		}
		sum += k.share * own
	}
	return sum
}

// age lets plants grow a leaf older; those in full crop join the old ones.
func (g *ground) age() {
	keep := g.cohorts[:0]
	for _, k := range g.cohorts {
		if k.leaf++; !k.whole && k.crop() >= 1 {
			g.old += k.share
		} else {
			keep = append(keep, k)
		}
	}
	g.cohorts = keep
}
