// Package stand holds the vines of one block in one season as columns: the one
// structure that tiles, pages and analyses read.
//
// The ground (where the vines are) does not change with the season and is
// shared by the stands of all seasons of a block. Vines lie in row order and,
// within a row, by rising number from the numbering end; vine i of the ground
// is entry i of every column.
package stand

import "courson/geo/vine"

// Ground is where the vines of a block stand. It is never changed after it is
// made; a corrected import makes a new one.
type Ground struct {
	Block    vine.ID
	Code     string     // the block's code, first part of every address
	Revision int64      // the block's ground revision
	Origin   [2]float64 // lon, lat of the block frame's origin, degrees (WGS 84)

	RowSpacingM  float64 // distance between rows, m
	VineSpacingM float64 // planting distance along the row, m

	Rows []Row

	ID       []vine.ID
	Row      []int32   // index into Rows
	Number   []int32   // number in the row, 1 and up
	Chainage []float32 // metres along the planted row from its numbering end
	X, Y     []float32 // metres east and north in the block's frame
	// WX, WY are the position on the world as 32-bit fractions of the Web
	// Mercator square (EPSG:3857; x to the east from 180° W, y to the south
	// from 85.0511° N). One unit is 9.3 mm at the equator. Tiles and the page
	// are drawn from these.
	WX, WY   []uint32
	Occupied []float32 // metres of row really occupied by the vine; half way to its neighbours
	Planted  []int16   // season of the first plant's first leaf; 0 unknown
	Part     []uint8   // which part of a row that a road cuts, from 0; nil where every row is whole

	byID     []int32 // indices by rising id; nil where the ids rise already
	finished bool    // Finish has seen it
}

// Row is one row of a block.
type Row struct {
	ID    vine.ID
	Label string
	First int // index of its first vine
	Count int // number of vines
	// Ends are the world positions of the numbering end and the far end.
	Ends [2][2]uint32
}

// Len is the number of vine positions.
func (g *Ground) Len() int { return len(g.ID) }

// Address gives the address of vine i.
func (g *Ground) Address(i int) vine.Address {
	return vine.Address{Block: g.Code, Row: g.Rows[g.Row[i]].Label, Number: int(g.Number[i])}
}

// Flags are yes-no facts of a vine, one bit each; part of the stand format.
type Flags uint8

// The flags.
const (
	FlagClash     Flags = 1 << 0 // devices disagree about it
	FlagNote      Flags = 1 << 1 // has a note this season
	FlagLookAgain Flags = 1 << 2 // to be looked at again
	FlagDiffers   Flags = 1 << 3 // what was left differs from the plan
)

// None marks a byte or value without content in the columns that say so.
const None = 255

// Stand is a block's vines in one season. Columns have the ground's length.
type Stand struct {
	Ground   *Ground
	Season   int
	Revision int64 // the block's revision that the columns show
	Rule     Rule  // how weights and scores become classes of vigour

	Condition []vine.Condition
	Leaf      []uint8         // growing season of the plant's life; 0 unknown or not there
	Progress  []vine.Progress // of pruning
	Flags     []Flags

	// Vigour is the class 1 (weakest) to 5, 0 where nothing was measured; as
	// found, and until then from the pruning weight per metre of row where
	// weighed, else from the score.
	Vigour  []uint8
	WeightG []float32 // pruning weight of the vine, g; -1 where not weighed
	Score   []float32 // visual score, on the scale of the estate; -1 where none
	YieldG  []float32 // yield of the vine, g; -1 where not weighed

	Nodes []uint8 // nodes the pruning plan gives; None where no plan
	Left  []uint8 // nodes left by the pruner; None where not said

	// Follow is the job at shoot thinning that the wood left asks for; nil where
	// no vine has one. See FollowOf.
	Follow []vine.FollowUp

	// Changed is the block revision at which the vine's columns last changed.
	Changed []int64

	// Found is what was worked out of the measures; nil until it is.
	Found *Found
}
