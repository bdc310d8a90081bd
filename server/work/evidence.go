package work

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"courson/geo/replant"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// The kinds of paper that keep what surveys and images say of gaps: of each block
// the list, its key the block's id; and the points, up to 20,000 in a paper, whose
// key is block, survey and number.
const (
	PaperEvidence       store.PaperKind = "evidence"
	PaperEvidencePoints store.PaperKind = "evidence-points"
)

// pointsInPaper keeps a paper of points well below the 4 MB that it may have.
const pointsInPaper = 20_000

// Kept is one survey, or the detections of one day, of one block.
type Kept struct {
	ID     string      `json:"id"`
	Kind   Kind        `json:"kind"` // Surveyed or Detections
	Name   string      `json:"name"`
	Day    replant.Day `json:"day"` // its last
	Season int         `json:"season"`
	By     string      `json:"by,omitempty"`
	Made   time.Time   `json:"made"`
	Points int         `json:"points"`
	// Of a survey: points taken for a place, surely or with notice, those that a
	// person must look at, and those that stand for no place.
	Sure     int `json:"sure"`
	Noticed  int `json:"noticed"`
	Doubtful int `json:"doubtful"`
	Aside    int `json:"aside"`
	// What was taken off all points before they were matched, m.
	EastM  float64 `json:"east_m,omitempty"`
	NorthM float64 `json:"north_m,omitempty"`
	// Stretches are the first and last vine of each stretch of a row in which every
	// trunk was measured.
	Stretches [][2]vine.ID `json:"stretches,omitempty"`
	Digest    string       `json:"digest"` // of the points, to know them again
}

type keptList struct {
	Kept []Kept `json:"kept"`
}

// keptPoints are points in columns. Positions are as they were surveyed.
type keptPoints struct {
	Name   []string  `json:"name,omitempty"`
	Fix    []string  `json:"fix,omitempty"`
	Lon    []float64 `json:"lon"`
	Lat    []float64 `json:"lat"`
	ErrorM []float64 `json:"error_m,omitempty"`
	Fit    []int     `json:"fit,omitempty"`
	Vine   []vine.ID `json:"vine"`
	Next   []vine.ID `json:"next,omitempty"`
	AlongM []float64 `json:"along_m,omitempty"`
	AsideM []float64 `json:"aside_m,omitempty"`
	Score  []float64 `json:"score,omitempty"`
}

// part gives some of the points.
func (p *keptPoints) part(from, to int) keptPoints {
	return keptPoints{Name: cut(p.Name, from, to), Fix: cut(p.Fix, from, to), Lon: cut(p.Lon, from, to), Lat: cut(p.Lat, from, to), ErrorM: cut(p.ErrorM, from, to),
		Fit: cut(p.Fit, from, to), Vine: cut(p.Vine, from, to), Next: cut(p.Next, from, to), AlongM: cut(p.AlongM, from, to), AsideM: cut(p.AsideM, from, to), Score: cut(p.Score, from, to)}
}

func cut[T any](list []T, from, to int) []T {
	if len(list) == 0 {
		return nil
	}
	return list[from:to]
}

// KeptEvidence lists the surveys and detections of a block, in the order in which
// they came.
func KeptEvidence(ctx context.Context, st reader, block vine.ID) ([]Kept, error) {
	list, err := papersOf[keptList](ctx, st, store.PaperQuery{Kind: PaperEvidence, Key: fmt.Sprint(block)})
	if err != nil || len(list) == 0 {
		return nil, err
	}
	return list[0].Kept, nil
}

// keptUpTo lists those up to a season.
func keptUpTo(ctx context.Context, st reader, block vine.ID, season int) ([]Kept, error) {
	list, err := KeptEvidence(ctx, st, block)
	return slices.DeleteFunc(list, func(k Kept) bool { return k.Season > season }), err
}

func pointsKey(block vine.ID, k *Kept, part int) string {
	return fmt.Sprintf("%d/%s/%d", block, k.ID, part)
}

// eachPart reads the points of a survey, paper by paper.
func eachPart(ctx context.Context, st reader, block vine.ID, k *Kept, do func(p *keptPoints)) error {
	for part := 0; part*pointsInPaper < k.Points; part++ {
		list, err := papersOf[keptPoints](ctx, st, store.PaperQuery{Kind: PaperEvidencePoints, Key: pointsKey(block, k, part)})
		if err != nil {
			return err
		}
		if len(list) != 1 {
			return fmt.Errorf("%s %s of block %d: its points %d are missing: %w", k.Kind, k.Name, block, part, store.ErrNotFound)
		}
		do(&list[0])
	}
	return nil
}

// became is what keepEvidence did.
type became int

const (
	keptBefore became = iota
	keptNew
	keptInstead // of one of the same name and day
)

// keepEvidence keeps a survey of a block. The same points of the same day are known; other
// points under the name and day of an earlier import take their place.
func keepEvidence(ctx context.Context, tx *journal, block vine.ID, k Kept, points *keptPoints) (became, error) {
	list, err := KeptEvidence(ctx, tx, block)
	if err != nil {
		return 0, err
	}
	out, at := keptNew, len(list)
	for i, old := range list {
		switch {
		case old.Kind != k.Kind || old.Day != k.Day:
		case old.Digest == k.Digest:
			return keptBefore, nil
		case old.Name == k.Name:
			out, at = keptInstead, i
		}
	}
	id, err := uuid.NewV7()
	if err != nil {
		return 0, err
	}
	k.ID = id.String()
	var instead *Kept
	if at < len(list) {
		instead = &list[at]
	}
	tx.keep(block, k.ID, instead)
	list = append(append(append([]Kept(nil), list[:at]...), k), list[min(at+1, len(list)):]...)
	for part := 0; part*pointsInPaper < k.Points; part++ {
		p := points.part(part*pointsInPaper, min(k.Points, (part+1)*pointsInPaper))
		if err := savePaper(tx, store.Paper{Kind: PaperEvidencePoints, Key: pointsKey(block, &k, part), Block: block, Made: k.Made, By: k.By}, p); err != nil {
			return 0, err
		}
	}
	return out, savePaper(tx, store.Paper{Kind: PaperEvidence, Key: fmt.Sprint(block), Block: block, Made: k.Made, By: k.By}, keptList{list})
}

// hearKept adds what surveys and images said of a block up to the season.
func hearKept(ctx context.Context, st reader, e *replant.Evidence, g *stand.Ground, season int) error {
	list, err := keptUpTo(ctx, st, g.Block, season)
	if err != nil {
		return err
	}
	place := func(id vine.ID) int32 {
		if i, ok := g.IndexOf(id); ok {
			return int32(i)
		}
		return -1
	}
	for i := range list {
		k := &list[i]
		if k.Kind == Surveyed {
			e.Surveys = append(e.Surveys, replant.Survey{Name: k.Name, Day: k.Day, Spans: spansOf(k.Stretches, place)})
		}
		if err := eachPart(ctx, st, g.Block, k, func(p *keptPoints) { k.hear(e, p, place) }); err != nil {
			return err
		}
	}
	return nil
}

func (k *Kept) hear(e *replant.Evidence, p *keptPoints, place func(vine.ID) int32) {
	for j, id := range p.Vine {
		at := place(id)
		if k.Kind == Detections {
			if at >= 0 {
				e.Detections = append(e.Detections, replant.Detection{Vine: at, Day: k.Day, Score: float32(p.Score[j]), Source: k.Name})
			}
			continue
		}
		t := replant.Trunk{Vine: at, Next: place(p.Next[j]), Survey: int32(len(e.Surveys) - 1), Fit: replant.Fit(p.Fit[j]),
			AlongM: float32(p.AlongM[j]), AsideM: float32(p.AsideM[j]), ErrorM: float32(p.ErrorM[j])}
		if t.Fit <= replant.FitNotice && at < 0 { // its place is gone from the map
			t.Fit = replant.FitOutside
		}
		e.Trunks = append(e.Trunks, t)
	}
}

// spansOf brings stretches to places; one whose ends are no longer in order on the
// map is left out.
func spansOf(stretches [][2]vine.ID, place func(vine.ID) int32) (out []replant.Span) {
	for _, s := range stretches {
		if from, to := place(s[0]), place(s[1]); from >= 0 && to >= from {
			out = append(out, replant.Span{From: from, To: to + 1})
		}
	}
	return out
}
