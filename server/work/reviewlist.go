package work

import (
	"context"
	"fmt"
	"time"

	"courson/geo/replant"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// PaperReview keeps lists of gaps to look at that were handed over.
const PaperReview store.PaperKind = "gap-review"

// ReviewList is places of one block at which a person looks, phone in hand, and
// says what stands there.
type ReviewList struct{ Handed }

// ReviewLists gives lists that were handed over, by block code and age.
func ReviewLists(ctx context.Context, st reader, q HandedQuery) ([]ReviewList, error) {
	return handedLists(ctx, st, PaperReview, q, func(l *ReviewList) *Handed { return &l.Handed })
}

// HandOver keeps a list for the phones and gives it its id.
func (l *ReviewList) HandOver(tx store.Tx, g *stand.Ground, by string, now time.Time) error {
	if err := l.begin(g, by, now); err != nil {
		return err
	}
	return savePaper(tx, l.paper(PaperReview), l)
}

// Withdraw takes a list from the phones; what was said stays.
func (l ReviewList) Withdraw(tx store.Tx, by string, now time.Time) error {
	l.withdraw(by, now)
	return savePaper(tx, l.paper(PaperReview), l)
}

// JudgeGaps weighs what is known of each place of a block.
func JudgeGaps(ctx context.Context, st reader, b ShareBlock, zone *time.Location) (*replant.Findings, error) {
	evidence, _, _, err := evidenceOf(ctx, st, b, zone)
	if err != nil {
		return nil, err
	}
	f, err := replant.Judge(evidence, b.Settled.Replants.Find)
	if err != nil {
		return nil, fmt.Errorf("gaps of block %s: %w", b.Block.Code, err)
	}
	return f, nil
}

// How a place of a list stands.
const (
	ReviewOpen    = "open"
	ReviewLater   = "later"   // doubtful, and the day to look again has not come
	ReviewSettled = "settled" // nothing to look at any more
)

// ReviewTally is how far a list has got.
type ReviewTally struct {
	Number int `json:"number"` // places on the list
	Done   int `json:"done"`   // settled
	Later  int `json:"later"`
}

// FieldReview is a list of places to look at as a phone needs it.
type FieldReview struct {
	ID     string      `json:"id"`
	Season int         `json:"season"`
	Block  vine.ID     `json:"block"`
	Code   string      `json:"code"`
	Crew   string      `json:"crew"`
	By     string      `json:"by"`
	Made   time.Time   `json:"made"`
	Rows   []ReviewRow `json:"rows"` // in walking order
	ReviewTally
}

// ReviewRow is the places to look at in one row, in walking order.
type ReviewRow struct {
	HandedRow
	Places []ReviewPlace `json:"places"`
}

// ReviewPlace is one of them.
type ReviewPlace struct {
	ID        vine.ID      `json:"id"`
	Number    int          `json:"number"`
	State     string       `json:"state"`      // what is taken to stand there
	LookAgain string       `json:"look_again"` // of a doubtful one
	How       string       `json:"how"`        // open, later or settled
	Differ    bool         `json:"differ"`     // what is known contradicts itself
	Said      []ReviewSaid `json:"said"`
}

// ReviewSaid is what one source said last, in words that the phone translates by.
type ReviewSaid struct {
	Source string `json:"source"`
	State  string `json:"state"` // what would hold by this source alone
	Day    string `json:"day"`
}

// ForField gives a list for a phone; places that the ground no longer has are left
// out.
func (l ReviewList) ForField(s *stand.Stand, f *replant.Findings, today replant.Day, section int) FieldReview {
	g := s.Ground
	out := FieldReview{ID: l.ID, Season: l.Season, Block: l.Block, Code: g.Code, Crew: l.Crew, By: l.By, Made: l.Made, Rows: []ReviewRow{}}
	for _, run := range walkingRuns(g, l.places(g)) {
		row := ReviewRow{HandedRow: handedRow(g, run, section), Places: []ReviewPlace{}}
		for _, i := range run.vines {
			p := reviewPlace(g, f, i, today)
			out.count(p.How)
			row.Places = append(row.Places, p)
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

func (t *ReviewTally) count(how string) {
	t.Number++
	switch how {
	case ReviewSettled:
		t.Done++
	case ReviewLater:
		t.Later++
	}
}

func reviewPlace(g *stand.Ground, f *replant.Findings, i int, today replant.Day) ReviewPlace {
	v := f.Verdicts[i]
	p := ReviewPlace{ID: g.ID[i], Number: int(g.Number[i]), State: v.State.String(), How: ReviewOpen, Differ: v.Contradictions != 0, Said: []ReviewSaid{}}
	if v.State == replant.Doubtful && v.LookAgain != 0 {
		p.LookAgain = v.LookAgain.String()
	}
	switch {
	case !v.ToLook():
		p.How = ReviewSettled
	case v.State == replant.Doubtful && v.LookAgain > today && !p.Differ:
		p.How = ReviewLater
	}
	for _, s := range f.Said(i) {
		p.Said = append(p.Said, ReviewSaid{s.Source.String(), s.State.String(), s.Day.String()})
	}
	return p
}
