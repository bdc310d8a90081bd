package work

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"time"

	"courson/geo/crew"
	"courson/geo/patch"
	"courson/geo/pruning"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// ErrStandards tells that standards say something that cannot be meant.
var ErrStandards = errors.New("standards that cannot be used")

// Standards is what the owner of a block sets.
type Standards struct {
	Vigour   VigourStandards   `json:"vigour"`
	Patches  PatchStandards    `json:"patches"`
	Rows     RowStandards      `json:"rows"`
	Replants ReplantStandards  `json:"replants"`
	Pruning  pruning.Standards `json:"pruning"`

	Operations OperationStandards `json:"operations"`
}

// RowStandards say how a row is found one's way in.
type RowStandards struct {
	VinesPerSection int `json:"vines_per_section"` // between two posts; 0 not known
}

// VigourStandards say when a vine is weak or strong.
type VigourStandards struct {
	// LimitsKgM are the pruning weights per metre of row, kg/m, from which the
	// classes weak, middling, strong and very strong begin. One set for all
	// seasons: a legend that moves compares nothing.
	LimitsKgM stand.VigourLimits `json:"limits_kg_m"`
	// Covariate is what may help where vigour has to be estimated: CovariateSeason,
	// CovariateIndex or CovariateNone.
	Covariate string `json:"covariate"`
}

func (s VigourStandards) check() error {
	before := 0.0
	for _, limit := range s.LimitsKgM {
		if !(limit > before && limit < 20) {
			return fmt.Errorf("%w: vigour.limits_kg_m: found %v, wanted four rising weights above 0 and below 20 kg/m", ErrStandards, s.LimitsKgM)
		}
		before = limit
	}
	switch s.Covariate {
	case CovariateSeason, CovariateIndex, CovariateNone:
		return nil
	}
	return fmt.Errorf("%w: vigour.covariate: found %q, wanted %s, %s or %s", ErrStandards, s.Covariate, CovariateSeason, CovariateIndex, CovariateNone)
}

// PatchStandards say how patches are looked for.
type PatchStandards struct {
	Rate       float64 `json:"rate"`        // share of false findings among the vines found; default 0.05 (common practice)
	Level      float64 `json:"level"`       // probability from which an area of a sample is likely weak; default 0.8 (common practice)
	Least      int     `json:"least_vines"` // fewest vines found that make a patch; default 10 (chosen by us)
	AlongM     float64 `json:"along_m"`     // reach of the test along the rows, m; 0: as wide as the values want
	AcrossRows float64 `json:"across_rows"` // and across them, in row distances; 0: the same
}

// DefaultStandards are those of a block of which nothing was said.
func DefaultStandards() Standards {
	return Standards{Vigour: VigourStandards{stand.DefaultVigourLimits(), CovariateSeason},
		Patches: PatchStandards{Rate: 0.05, Level: 0.8, Least: 10}, Replants: defaultReplants(), Pruning: pruning.DefaultStandards(),
		Operations: OperationStandards{Own: []crew.Operation{}}}
}

// Check refuses what cannot be meant.
func (s Standards) Check() error {
	if err := s.Vigour.check(); err != nil {
		return err
	}
	p := s.Patches
	if n := s.Rows.VinesPerSection; n < 0 || n > 100 {
		return fmt.Errorf("%w: rows.vines_per_section: found %d, wanted 0 (not known) to 100", ErrStandards, n)
	}
	for _, f := range []struct {
		field        string
		v, low, high float64
	}{
		{"rate", p.Rate, 0.001, 0.5}, {"level", p.Level, 0.5, 0.999}, {"least_vines", float64(p.Least), 1, 10_000},
		{"along_m", p.AlongM, 0, 200}, {"across_rows", p.AcrossRows, 0, 50},
	} {
		if !(f.v >= f.low && f.v <= f.high) || math.IsNaN(f.v) {
			return fmt.Errorf("%w: patches.%s: found %v, wanted %v to %v", ErrStandards, f.field, f.v, f.low, f.high)
		}
	}
	if err := s.Replants.check(); err != nil {
		return err
	}
	if err := s.Pruning.Check(); err != nil {
		return fmt.Errorf("%w: pruning: %w", ErrStandards, err)
	}
	return s.Operations.check()
}

// Settled are the standards that count for a block, and who set them.
type Settled struct {
	Standards
	Own  bool // the block has its own; else the estate's or the defaults
	By   string
	Made time.Time // zero: defaults
	// System is what the block's training system is taken for; Unclear why it
	// could not be read from the block's own words.
	Unclear string
}

// Rulebook is the newest standards of all blocks.
type Rulebook struct{ of map[vine.ID]store.Standards }

// ReadRulebook reads them.
func ReadRulebook(ctx context.Context, st reader) (Rulebook, error) {
	list, err := st.Standards(ctx)
	if err != nil {
		return Rulebook{}, fmt.Errorf("standards: %w", err)
	}
	return NewRulebook(list), nil
}

// NewRulebook makes one of what a store gives.
func NewRulebook(list []store.Standards) Rulebook {
	r := Rulebook{of: make(map[vine.ID]store.Standards, len(list))}
	for _, s := range list {
		r.of[s.Block] = s
	}
	return r
}

// For gives what counts for a block: its own standards over those of the estate
// over the defaults, part by part; the training system, where nobody set it, by
// the words of the block.
func (r Rulebook) For(b store.Block) (Settled, error) {
	out := Settled{}
	layers := []json.RawMessage{}
	for _, id := range []vine.ID{0, b.ID} {
		if s, ok := r.of[id]; ok && !saysNothing(s.Value) {
			layers = append(layers, s.Value)
			out.By, out.Made, out.Own = s.By, s.Made, id != 0
		}
	}
	var err error
	if out.Standards, err = layered(layers, &out.Unclear, b.System); err != nil {
		return out, fmt.Errorf("standards of block %s: %w", b.Code, err)
	}
	return out, nil
}

// saysNothing: a block that went back to what counts for the estate.
func saysNothing(value json.RawMessage) bool {
	var parts map[string]json.RawMessage
	return json.Unmarshal(value, &parts) == nil && len(parts) == 0
}

// Rule says how measures become classes of vigour in a block.
func (r Rulebook) Rule(estate store.Estate, b store.Block) (stand.Rule, error) {
	settled, err := r.For(b)
	if err != nil {
		return stand.Rule{}, err
	}
	rule := stand.Rule{Limits: settled.Vigour.LimitsKgM, Scale: stand.DefaultScale()}
	if scale, ok := stand.ParseScale(estate.ScoreScale); ok {
		rule.Scale = scale
	}
	return rule, nil
}

// ParseStandards reads what somebody wants to set, over the defaults, and checks
// it. Keys that are not known are refused.
func ParseStandards(value []byte) (Standards, error) {
	var unclear string
	return layered([]json.RawMessage{value}, &unclear, "")
}

// parts is a document part by part, as each layer gives it.
type parts struct {
	Vigour   map[string]json.RawMessage `json:"vigour"`
	Patches  map[string]json.RawMessage `json:"patches"`
	Rows     map[string]json.RawMessage `json:"rows"`
	Replants map[string]json.RawMessage `json:"replants"`
	Pruning  map[string]json.RawMessage `json:"pruning"`

	Operations map[string]json.RawMessage `json:"operations"`
}

func layered(layers []json.RawMessage, unclear *string, system string) (Standards, error) {
	all := parts{map[string]json.RawMessage{}, map[string]json.RawMessage{}, map[string]json.RawMessage{}, map[string]json.RawMessage{}, map[string]json.RawMessage{}, map[string]json.RawMessage{}}
	for _, l := range layers {
		var one parts
		if err := strictly(l, &one, ErrStandards); err != nil {
			return Standards{}, err
		}
		maps.Copy(all.Vigour, one.Vigour)
		maps.Copy(all.Patches, one.Patches)
		maps.Copy(all.Rows, one.Rows)
		maps.Copy(all.Replants, one.Replants)
		maps.Copy(all.Pruning, one.Pruning)
		maps.Copy(all.Operations, one.Operations)
	}
	s := DefaultStandards()
	for _, p := range []struct {
		from map[string]json.RawMessage
		into any
	}{{all.Vigour, &s.Vigour}, {all.Patches, &s.Patches}, {all.Rows, &s.Rows}, {all.Replants, &s.Replants}, {all.Operations, &s.Operations}} {
		if err := again(p.from, p.into); err != nil {
			return s, err
		}
	}
	if _, said := all.Pruning["system"]; !said && system != "" {
		if known, err := pruning.LookupSystem(system); err != nil {
			*unclear = err.Error()
		} else if all.Pruning["system"], err = json.Marshal(known); err != nil {
			return s, err
		}
	}
	text, err := json.Marshal(all.Pruning)
	if err != nil {
		return s, err
	}
	if s.Pruning, err = pruning.ParseStandards(text); err != nil {
		return s, fmt.Errorf("%w: pruning: %w", ErrStandards, err)
	}
	return s, s.Check()
}

func again(from map[string]json.RawMessage, into any) error {
	text, err := json.Marshal(from)
	if err != nil {
		return err
	}
	return strictly(text, into, ErrStandards)
}

// strictly reads one JSON object without keys that are not known; errors wrap
// kind.
func strictly(text []byte, into any, kind error) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return fmt.Errorf("%w: %w", kind, err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return fmt.Errorf("%w: something follows the JSON object", kind)
	}
	return nil
}

// search is how patches are looked for.
func (p PatchStandards) search(b patch.Block) patch.Input {
	return patch.Input{Blocks: []patch.Block{b}, Rate: p.Rate, Least: p.Least, AlongM: p.AlongM, AcrossRows: p.AcrossRows}
}
