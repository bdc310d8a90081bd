package work

import (
	"context"
	"fmt"
	"slices"
	"time"

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// PaperLostDay is the kind of paper that keeps a day on which nobody can work, for
// rain or whatever else; its key is the day.
const PaperLostDay store.PaperKind = "lost-day"

type lostDay struct {
	Day string `json:"day"`
}

// LostDays gives the days of a season on which nobody can work.
func LostDays(ctx context.Context, st reader, season int) ([]string, error) {
	list, err := papersOf[lostDay](ctx, st, store.PaperQuery{Kind: PaperLostDay, Season: season})
	if err != nil {
		return nil, err
	}
	out := make([]string, 0, len(list))
	for _, d := range list {
		out = append(out, d.Day)
	}
	slices.Sort(out)
	return out, nil
}

// SaveLostDay marks a day as lost, or takes that back. Orders stay where they
// are; see Postponed.
func SaveLostDay(tx store.Tx, season int, day string, lost bool, by string, now time.Time) error {
	if _, err := time.Parse(time.DateOnly, day); err != nil {
		return fmt.Errorf("%w: day %q: write it like 2027-01-12", ErrOrder, day)
	}
	paper := store.Paper{Kind: PaperLostDay, Key: fmt.Sprintf("%d %s", season, day), Season: season, By: by, Made: now, Value: []byte("{}")}
	if !lost {
		return tx.SavePaper(paper)
	}
	return savePaper(tx, paper, lostDay{day})
}

// Postponed gives the orders of a lost day, and with later all after it, as they
// stand when each has moved on by so many days of work. Sundays and days that are
// lost are no days of work; an order that stood on a Sunday goes on from there.
// Orders for no day stay out.
func Postponed(orders []Order, day string, days int, later bool, lost []string) ([]Order, error) {
	if _, err := time.Parse(time.DateOnly, day); err != nil {
		return nil, fmt.Errorf("%w: day %q: write it like 2027-01-12", ErrOrder, day)
	}
	if days < 1 || days > mostDays {
		return nil, fmt.Errorf("%w: days: found %d, wanted 1 to %d", ErrOrder, days, mostDays)
	}
	var out []Order
	for _, o := range orders {
		if o.Day == "" || o.Day < day || o.Day > day && !later {
			continue
		}
		at, err := time.Parse(time.DateOnly, o.Day)
		if err != nil {
			return nil, fmt.Errorf("order %s: %w", o.ID, err)
		}
		for n := 0; n < days; {
			at = at.AddDate(0, 0, 1)
			if at.Weekday() != time.Sunday && !slices.Contains(lost, at.Format(time.DateOnly)) {
				n++
			}
		}
		o.Day = at.Format(time.DateOnly)
		out = append(out, o)
	}
	return out, nil
}

// SaveLost marks a day as lost and keeps the orders that move for it, all or
// none. grounds are those of the orders' blocks.
func SaveLost(tx store.Tx, season int, day string, moved []Order, grounds map[vine.ID]*stand.Ground, by string, now time.Time) error {
	if err := SaveLostDay(tx, season, day, true, by, now); err != nil {
		return err
	}
	for _, o := range moved {
		if err := SaveOrder(tx, grounds[o.Block], &o, by, now); err != nil {
			return err
		}
	}
	return nil
}

// stillAhead counts the lost days from today on.
func stillAhead(job ProgressJob) (n int) {
	today := job.Today.Format(time.DateOnly)
	for _, d := range job.Lost {
		if d >= today {
			n++
		}
	}
	return n
}
