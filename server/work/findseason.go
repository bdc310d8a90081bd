package work

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"courson/geo/stand"
	"courson/store"
)

// earlierSeasons is how many seasons back a block is compared.
const earlierSeasons = 3

// FindSeason works out the findings of blocks in a season, straight from the
// store; codes empty: of all. progress is told how many blocks are done.
func FindSeason(ctx context.Context, st store.Store, season int, codes []string, progress func(done, total int)) ([]*Findings, error) {
	blocks, err := st.Blocks(ctx)
	if err != nil {
		return nil, fmt.Errorf("blocks: %w", err)
	}
	for _, c := range codes {
		if !slices.ContainsFunc(blocks, func(b store.Block) bool { return b.Code == c }) {
			return nil, fmt.Errorf("there is no block %q: %w", c, store.ErrNotFound)
		}
	}
	seasons, err := st.Seasons(ctx)
	if err != nil {
		return nil, fmt.Errorf("seasons: %w", err)
	}
	var out []*Findings
	for i, b := range blocks {
		if len(codes) > 0 && !slices.Contains(codes, b.Code) {
			continue
		}
		f, err := findBlockSeason(ctx, st, b, season, seasons)
		if err != nil {
			return nil, err
		}
		out = append(out, f)
		if progress != nil {
			progress(i+1, len(blocks))
		}
	}
	return out, nil
}

func findBlockSeason(ctx context.Context, st store.Store, b store.Block, season int, seasons []int) (*Findings, error) {
	g, _, err := GroundOf(ctx, st, b)
	if err != nil {
		return nil, err
	}
	measured := func(season int) (Measured, error) { return MeasuredOn(ctx, st, g, season) }
	book, err := ReadRulebook(ctx, st)
	if err != nil {
		return nil, err
	}
	settled, err := book.For(b)
	if err != nil {
		return nil, err
	}
	job := FindJob{Cultivar: Cultivar(b), Search: settled.Patches, Stop: func() bool { return ctx.Err() != nil }}
	if job.Now, err = measured(season); err != nil {
		return nil, err
	}
	if job.Since, err = ComparedWith(ctx, st, season); err != nil {
		return nil, err
	}
	for _, s := range EarlierSeasons(seasons, season, job.Since) {
		m, err := measured(s)
		if err != nil {
			return nil, err
		}
		job.Earlier = append(job.Earlier, m)
	}
	job.Now.Covariate, job.Now.Before = settled.Vigour.Covariate, job.before
	return Find(job)
}

// before gives the first of the earlier seasons.
func (j *FindJob) before() (*Measured, error) {
	if len(j.Earlier) == 0 {
		return nil, nil
	}
	return &j.Earlier[0], nil
}

// MeasuredIn gives a block in a season with all that was measured, and what may
// help to estimate the rest.
func MeasuredIn(ctx context.Context, st reader, b store.Block, season int) (Measured, error) {
	g, _, err := GroundOf(ctx, st, b)
	if err != nil {
		return Measured{}, err
	}
	m, err := MeasuredOn(ctx, st, g, season)
	if err != nil {
		return m, err
	}
	m.Before = func() (*Measured, error) { return BeforeIn(ctx, st, g, season) }
	m.Covariate, err = CovariateOf(ctx, st, b)
	return m, err
}

// MeasuredOn gives what was measured, on ground that is known.
func MeasuredOn(ctx context.Context, st reader, g *stand.Ground, season int) (Measured, error) {
	s, err := LoadStand(ctx, st, g, season)
	if err != nil {
		return Measured{}, err
	}
	in, err := VigourInput(ctx, st, s)
	return Measured{Stand: s, Columns: in.Columns}, err
}

// EarlierSeasons gives the seasons that a season is compared with, newest
// first, of the known ones, which rise; since is one of them where it is known.
func EarlierSeasons(known []int, season, since int) (out []int) {
	for _, s := range slices.Backward(known) {
		if s < season && (len(out) < earlierSeasons || s == since) {
			out = append(out, s)
		}
	}
	return out
}

// PaperCompare is the kind of paper that keeps with which earlier season the map
// compares a season; its key is the season.
const PaperCompare store.PaperKind = "compare"

type compared struct {
	Since int `json:"since"`
}

// ComparedWith gives the season that a season is compared with on the map; 0
// where nobody chose one.
func ComparedWith(ctx context.Context, st reader, season int) (int, error) {
	list, err := papersOf[compared](ctx, st, store.PaperQuery{Kind: PaperCompare, Key: strconv.Itoa(season)})
	if err != nil || len(list) == 0 {
		return 0, err
	}
	return list[0].Since, nil
}

// SaveComparedWith chooses it; 0 leaves it to the program again.
func SaveComparedWith(tx store.Tx, season, since int, by string, now time.Time) error {
	p := store.Paper{Kind: PaperCompare, Key: strconv.Itoa(season), Season: season, By: by, Made: now, Value: []byte("{}")}
	if since == 0 {
		return tx.SavePaper(p)
	}
	return savePaper(tx, p, compared{since})
}

// Cultivar is what grows in a block, with the rootstock: vines are expected to
// grow alike where that is the same.
func Cultivar(b store.Block) string {
	if b.Rootstock == "" {
		return b.Variety
	}
	return b.Variety + " on " + b.Rootstock
}
