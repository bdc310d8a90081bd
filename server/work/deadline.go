package work

import (
	"context"
	"fmt"
	"time"

	"courson/store"
)

// PaperDeadline is the kind of paper that keeps until when an operation should be
// done; its key is season and operation.
const PaperDeadline store.PaperKind = "deadline"

type deadline struct {
	Day string `json:"day"`
}

func deadlineKey(season int, operation string) string { return fmt.Sprintf("%d %s", season, operation) }

// Deadline gives the day by which an operation should be done, "" where none is set.
func Deadline(ctx context.Context, st reader, season int, operation string) (string, error) {
	list, err := papersOf[deadline](ctx, st, store.PaperQuery{Kind: PaperDeadline, Key: deadlineKey(season, operation)})
	if err != nil || len(list) == 0 {
		return "", err
	}
	return list[0].Day, nil
}

// SaveDeadline sets it; an empty day takes it away.
func SaveDeadline(tx store.Tx, season int, operation, day, by string, now time.Time) error {
	paper := store.Paper{Kind: PaperDeadline, Key: deadlineKey(season, operation), Season: season, By: by, Made: now, Value: []byte("{}")}
	if day == "" {
		return tx.SavePaper(paper)
	}
	if _, err := time.Parse(time.DateOnly, day); err != nil {
		return fmt.Errorf("%w: day %q: write it like 2027-03-15", ErrOrder, day)
	}
	return savePaper(tx, paper, deadline{day})
}
