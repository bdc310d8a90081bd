package vine_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"courson/geo/vine"
)

func TestFollowUp(t *testing.T) {
	spur := func(nodes int, faces string) vine.Arm {
		return vine.Arm{Spurs: []vine.Spur{{Nodes: nodes, FirstBudFaces: faces}}}
	}
	for _, c := range []struct {
		name string
		arms []vine.Arm
		want vine.FollowUp
	}{
		{"nothing said", nil, vine.FollowNone},
		{"first bud below, two nodes", []vine.Arm{spur(2, "below")}, vine.FollowNone},
		{"first bud below, three nodes", []vine.Arm{spur(3, "below")}, vine.FollowNone},
		{"inverted, three nodes", []vine.Arm{spur(3, "above")}, vine.FollowRubOff},
		{"inverted, one node and the base bud", []vine.Arm{spur(1, "above")}, vine.FollowBothPush},
		{"both on one vine: the rubbing off is named", []vine.Arm{spur(1, "above"), spur(3, "above")}, vine.FollowRubOff},
		{"inverted, two nodes: nothing is to be kept apart", []vine.Arm{spur(2, "above")}, vine.FollowNone},
	} {
		p := vine.Pruned{Arms: c.arms}
		assert.Equal(t, c.want, p.FollowUp(), c.name)
		assert.Equal(t, c.want, vine.State{Pruned: &p}.FollowUp(), c.name)
		done := vine.State{Pruned: &p, Work: map[string]vine.Progress{vine.ShootThinning: vine.Done}}
		if c.want == vine.FollowNone {
			assert.Equal(t, vine.FollowNone, done.FollowUp(), c.name)
		} else {
			assert.Equal(t, vine.FollowDone, done.FollowUp(), c.name)
		}
	}
	assert.Equal(t, vine.FollowNone, vine.State{}.FollowUp())
}
