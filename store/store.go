// Package store says what every store of Courson keeps and promises. The two
// stores, gpkg (one GeoPackage file) and postgis, hold to the same contract,
// tested by store/contract.
//
// Stores hand over records; Go computes. All geometry is longitude, latitude in
// degrees on WGS 84 (EPSG:4326), in that order.
package store

import (
	"context"
	"encoding/json"
	"errors"
	"iter"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"

	"courson/geo/vine"
)

// What can be wrong with a call, whatever the store. Errors wrap one of these
// or are faults.
var (
	ErrNotFound = errors.New("not found")
	ErrConflict = errors.New("conflicts with what is stored")
	ErrBusy     = errors.New("the store is busy, try again")
	ErrReadOnly = errors.New("the store cannot be written to")
	ErrTooNew   = errors.New("the data was written by a newer version")
)

// Store keeps one estate. All methods may be called from several goroutines at
// once. A cancelled context stops the work and leaves nothing half written.
type Store interface {
	Ground
	Log
	Plans

	// Update runs f in one transaction: either all that f did is kept, and was
	// kept when Update returns, or nothing. It is the only way to write ground,
	// plans and imports. Only one Update runs at a time.
	Update(ctx context.Context, f func(tx Tx) error) error

	// Rebuild folds the whole log anew and mends the cached states that differ,
	// block by block. It reports how many vines it looked at and how many were
	// wrong. With write false it only counts.
	Rebuild(ctx context.Context, write bool, progress func(done, total int)) (Rebuilt, error)

	// Changes gives notice of what changed, by this process or another one on
	// the same store, until ctx ends; then the channel is closed. A slow reader
	// gets notices joined, never lost: the last revision of every changed block
	// arrives.
	Changes(ctx context.Context) (<-chan Change, error)

	// Ready tells whether the store can be read and written now (only read, where
	// it was opened for reading).
	Ready(ctx context.Context) error

	Close() error
}

// Ground gives what lies where.
//
// A sequence holds no lock on the store while its reader is at work: other
// calls may be made meanwhile.
type Ground interface {
	// Estate is the zero record, with its id, until it is saved.
	Estate(ctx context.Context) (Estate, error)
	// Blocks come in order of code, compared byte by byte.
	Blocks(ctx context.Context) ([]Block, error)
	// Rows of a block come in their order in the block (Ord, then id).
	Rows(ctx context.Context, block vine.ID) ([]Row, error)
	// Vines of a block come in row order and by number. A sequence ends after
	// the first error.
	Vines(ctx context.Context, block vine.ID) iter.Seq2[Vine, error]
	// CountVines gives the number of vines of the whole estate, without the cost
	// of reading them.
	CountVines(ctx context.Context) (int, error)
	// Vine gives one vine, wrapped ErrNotFound if there is none.
	Vine(ctx context.Context, id vine.ID) (Vine, error)
	// OldLabels gives the labels a block, row or vine had before, newest first:
	// a block's codes, a row's labels, a vine's tags and, for its old numbers, the
	// whole addresses it had then (H3/12/41). Only what stood at the end of a
	// transaction counts. Empty for an id that was never given.
	OldLabels(ctx context.Context, id vine.ID) ([]OldLabel, error)
	// FindLabel gives the vines whose address, tag or any old label equals the
	// text (letter case and blanks around it count not), at most 50, in order of
	// id. An address may also be written with a code or label that its block or
	// row had before.
	FindLabel(ctx context.Context, text string) ([]Vine, error)
}

// Log takes and gives events, and the states that follow from them.
type Log interface {
	// Append stores events that are new, in one transaction, folds the touched
	// vines and raises their blocks' revisions. Every event gets its answer, in
	// the order given: stored, known (it was there before; nothing changed) or
	// refused with a reason (bad value, no such block, row or vine, a vine named
	// twice, a void of a void). A refused event does not keep the others out. An
	// event whose id is known is known whatever else it says: the first record
	// stands. Received must be set by the caller; When zero is set to At. Times
	// are kept in UTC to the microsecond. The same event twice in one call is one
	// event. When the call returns an error, nothing was stored.
	Append(ctx context.Context, events []vine.Event) ([]Answer, error)

	// Events gives the log by query, in order of receipt (cursor).
	Events(ctx context.Context, q EventQuery) ([]LoggedEvent, error)

	// States gives, for every vine of the block about which anything is
	// recorded up to the season, its state in that season (carried forward where
	// the season itself has no record), as long as the vine changed after the
	// given block revision (0: all). What was taken back still counts as
	// recorded. Order is that of Vines. A block that does not exist has none.
	States(ctx context.Context, block vine.ID, season int, after int64) iter.Seq2[VineState, error]

	// Seasons gives the seasons in which anything is recorded or planned, rising;
	// not those that were dropped since.
	Seasons(ctx context.Context) ([]int, error)
}

// Plans keeps what was decided. A plan is never changed; a new version replaces
// it for use, the old one stays readable.
type Plans interface {
	// PlanList gives the heads of the plans of a kind and season, newest first;
	// block 0 means all blocks.
	PlanList(ctx context.Context, kind PlanKind, season int, block vine.ID) ([]Plan, error)
	// PlanEntries gives what the newest plan of the kind says for the vines of a
	// block, in no order; empty where there is none.
	PlanEntries(ctx context.Context, kind PlanKind, season int, block vine.ID) ([]PlanEntry, error)
	// PlanVersion gives one version, wrapped ErrNotFound if there is none.
	PlanVersion(ctx context.Context, id int64) (Plan, []PlanEntry, error)
	// Standards gives the newest standards of every block that has any, in order
	// of block; those of the estate first.
	Standards(ctx context.Context) ([]Standards, error)
	// Papers gives the newest version of every paper of a kind that was not taken
	// away, in order of key; of a season only those of that season.
	Papers(ctx context.Context, q PaperQuery) ([]Paper, error)
}

// Tx is a transaction being written. It sees what it has written itself, also
// in States. It is for one goroutine at a time and ends with the function it was
// given to.
type Tx interface {
	Ground
	Log
	Plans

	// SaveEstate writes the estate's own record.
	SaveEstate(Estate) error
	// SaveBlocks, SaveRows and SaveVines write records by id. A record with id 0
	// is new and is given an id, written back into the slice. A record whose id
	// is known is changed in place: ids, history and events stay; where label,
	// number or tag change, the old one is kept among the old labels. Two rows
	// of a block with one label, two vines of a row with one number, or two
	// blocks with one code, at the end of the transaction are ErrConflict. So is
	// a row that would leave its block or a vine that would leave its row: that is
	// for MoveRows and MoveVines. An id that was never given is ErrNotFound. A
	// save that changes nothing raises no revision.
	SaveBlocks([]Block) error
	SaveRows([]Row) error
	SaveVines([]Vine) error
	// MoveRows puts rows with all their vines into another block, MoveVines puts vines
	// into another row and its block, from a time on. Ids and records stay: a record of
	// a whole row or block says of a vine what it said, by where the vine stood when it
	// was made; what is recorded later of a row or block that a vine left is not about
	// it. The addresses that vines had are kept among the old labels. Labels, order,
	// lines and numbers are for SaveRows and SaveVines, plans and papers for the caller.
	// From then on Events of a block give records as they are to be read for it as it
	// stands: with the row, the block or the vines of it that they are about. Append
	// takes events that name the row or block in which vines stood before, and keeps
	// them with the one they stand in; where a row or block is no more, with the vines
	// that it had at the last. An id that is not there is ErrNotFound.
	MoveRows(rows []vine.ID, block vine.ID, at time.Time) error
	MoveVines(vines []vine.ID, row vine.ID, at time.Time) error
	// Mark tells how far the store has come within the transaction: what it makes
	// from there on has higher ids and cursors, and nobody else's has.
	Mark() (Mark, error)
	// Drop takes ground away for good: blocks with their rows, rows with their
	// vines. Their old labels, states, standards, plans and papers go with them, and
	// what plans of a block that stays say of vines that go. The log keeps what was
	// recorded, about ids that are never given again. An id that is not there, or is
	// of another kind, is ErrNotFound.
	Drop(Dropped) error
	// DropSeason takes a season off the list of seasons, for one in which nothing
	// holds any more. What is recorded or planned next brings it back.
	DropSeason(season int) error
	// SavePlan writes a new version for one block and gives its id; ID is not
	// read. Made zero is set to now.
	SavePlan(Plan, []PlanEntry) (int64, error)
	// SaveStandards writes a new version of the standards of a block, or of the
	// estate. It counts as a change of the ground: of the block, or of all blocks.
	// The value must be a JSON object. Made zero is set to now.
	SaveStandards(Standards) error
	// SavePaper writes a new version of a paper. An empty JSON object takes it
	// away; its versions stay. One of a block counts as a change of its plans. Made
	// zero is set to now.
	SavePaper(Paper) error
}

// Estate is the whole property that one store keeps.
type Estate struct {
	ID         int64
	Name       string
	South      bool   // southern hemisphere: seasons turn in May
	Zone       string // IANA time zone; "" means UTC
	USUnits    bool   // show feet, pounds, acres
	ScoreScale string // scale of visual scores, such as "1-5"
}

// Block is one piece of planted land.
type Block struct {
	ID           vine.ID
	Code         string // short, unique in the estate
	Name         string
	Variety      string
	Clone        string
	Rootstock    string
	Planted      int              // season of the first leaf of its first planting; 0 unknown
	RowSpacingM  float64          // 0 unknown
	VineSpacingM float64          // 0 unknown
	System       string           // training system
	NumberingEnd string           // compass word of the end where vine 1 stands; "" as drawn
	Outline      orb.MultiPolygon // rings wound as RFC 7946 wants; nil where only rows are known
	Extra        map[string]any   // properties of the source that have no field here, kept as they came
	Revision     int64            // raised by every change of its ground, log or plans; set by the store
	GroundRev    int64            // Revision at which outline, rows or vines last changed; set by the store
}

// Row is one row of vines, drawn from its numbering end.
type Row struct {
	ID       vine.ID
	Block    vine.ID
	Label    string              // "7", "7a"; unique in the block
	Ord      int                 // place in the block's order of rows, from 1
	Line     orb.MultiLineString // parts in order from the numbering end; more than one where a road cuts the row
	LengthM  float64             // planted length on the ground
	SpacingM float64             // of vines in this row, m; 0: the block's
	Extra    map[string]any
}

// Vine is one position in a row.
type Vine struct {
	ID        vine.ID
	Block     vine.ID
	Row       vine.ID
	Number    int // 1 and up from the numbering end; unique in the row
	Point     orb.Point
	ChainageM float64 // along the planted row from its numbering end
	Part      int     // which part of a cut row, from 0
	Planted   int     // season of the first plant's first leaf; 0: the block's
	Tag       string  // the estate's own name for it, as written; "" none
}

// OldLabel is a label something had until a day.
type OldLabel struct {
	Label string
	Until time.Time
}

// Mark is how far a store has come.
type Mark struct {
	ID     vine.ID `json:"id"`     // the last one given to a block, row or vine; 0 none
	Cursor int64   `json:"cursor"` // of the newest event; 0 none
}

// Dropped is ground to be taken away.
type Dropped struct {
	Blocks, Rows, Vines []vine.ID
}

// Answer says what became of one event.
type Answer struct {
	ID     uuid.UUID
	Result Result
	Reason string // why refused
}

// Result of one event: its words are those of the wire.
type Result string

// The results.
const (
	Stored  Result = "stored"
	Known   Result = "known"
	Refused Result = "refused"
)

// EventQuery selects events. Zero fields select nothing out.
type EventQuery struct {
	Block vine.ID // 0: all blocks; see MoveRows
	// Row and Vine select events that cover the row or the vine: also those about its whole
	// row or block. For a row that includes events about any vine in it.
	Row    vine.ID
	Vine   vine.ID
	Season int
	After  int64  // cursor: only events logged after it
	Device string // only of this device
	Limit  int    // 0: no limit
}

// LoggedEvent is an event with its place in the log.
type LoggedEvent struct {
	Cursor int64 // rises with every event stored
	vine.Event
}

// VineState is the state of one vine in one season.
type VineState struct {
	Vine    vine.ID
	Changed int64 // block revision at which any state of the vine last changed
	vine.State
}

// Rebuilt counts what Rebuild saw.
type Rebuilt struct {
	Vines, Wrong int
}

// Change is notice that a block changed.
type Change struct {
	Block    vine.ID
	Revision int64
	Ground   bool  // outline, rows or vines changed: load all anew
	Plan     bool  // a plan changed
	Seasons  []int // seasons whose states changed; empty: any
}

// PlanKind names what is planned.
type PlanKind string

// PlanPruning gives nodes, canes and spurs per vine. Later plans have kinds of
// their own.
const PlanPruning PlanKind = "pruning"

// Plan is the head of one version.
type Plan struct {
	ID     int64
	Kind   PlanKind
	Season int
	Block  vine.ID
	Made   time.Time
	By     string
	Source string         // how it was made: "import FILE", "rule …"
	Inputs map[string]any // everything it was computed from
}

// PlanEntry is what a plan says of one vine. Numbers below 0 mean not said.
type PlanEntry struct {
	Vine   vine.ID
	Nodes  int
	Canes  int
	Spurs  int
	Reason string
	// Detail is what the kind of plan says beyond that, a JSON object; empty: nothing.
	Detail json.RawMessage
}

// Standards is what the owner set for a block, in one version. What stands in it
// is not the store's business.
type Standards struct {
	Block vine.ID // 0: the estate, for every block that has none of its own
	Made  time.Time
	By    string
	Value json.RawMessage // a JSON object
}

// PaperKind names what papers are: "crew", "order", "user" …
type PaperKind string

// Paper is something that is neither ground nor record nor plan of vines, in one
// version. What stands in it is not the store's business.
type Paper struct {
	Kind   PaperKind
	Key    string  // one of its kind; 1 to 200 bytes
	Season int     // 0: of no season
	Block  vine.ID // 0: of no block
	Made   time.Time
	By     string
	Value  json.RawMessage // a JSON object
}

// PaperQuery selects papers. Zero fields but Kind select nothing out.
type PaperQuery struct {
	Kind   PaperKind
	Key    string
	Season int
	// Versions gives all versions, newest first, not the newest alone; also of what
	// was taken away.
	Versions bool
}
