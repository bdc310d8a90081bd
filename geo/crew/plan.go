package crew

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"courson/geo/vine"
)

// Traits are what decides when a block has its turn.
type Traits struct {
	Rank         int  `json:"rank"` // the manager's own order: lower first
	FrostProne   bool `json:"frost_prone"`
	EarlyBudding bool `json:"early_budding"`
	ColdTender   bool `json:"cold_tender"`
}

// Late says how far back in the line a block stands within its rank: late-budding
// varieties on low-frost land first, early or frost-prone ones late (Late winter
// pruning, frost protection and timely disease and weed management, University of
// Georgia Extension, 2018), cold-tender ones last (Double pruning grapevines for
// spring frost protection, Purdue Extension).
func (t Traits) Late() (n int) {
	for _, yes := range []bool{t.FrostProne, t.EarlyBudding} {
		if yes {
			n++
		}
	}
	if t.ColdTender {
		n += 3
	}
	return n
}

// Block is the rows with work of one block.
type Block struct {
	ID     vine.ID `json:"id"`
	Code   string  `json:"code"`
	Traits Traits  `json:"traits"`
	Rows   []Row   `json:"rows"`
}

// PlanOptions say how a plan is made.
type PlanOptions struct {
	Share ShareOptions
	// Overrun is how many minutes of work a crew may go over its day so as to end
	// a row; such days are marked. 0: a row that is not finished goes on the next
	// day.
	Overrun float64
}

// Task is one row, or a part of it, on a crew's list for a day.
type Task struct {
	Block   vine.ID `json:"block"`
	Row     vine.ID `json:"row"`
	Label   string  `json:"label"`
	Minutes float64 `json:"minutes"`
	Begun   bool    `json:"begun"` // goes on from the day before
	Ends    bool    `json:"ends"`
}

// DayList is what one crew does on one day.
type DayList struct {
	Date    time.Time `json:"date"`
	Crew    string    `json:"crew"`
	Tasks   []Task    `json:"tasks"`
	Minutes float64   `json:"minutes"`
	Room    float64   `json:"room"` // minutes of work that the crew gets through
	Over    bool      `json:"over"` // more than that, to end a row
}

// Plan is who does which rows when.
type Plan struct {
	Lists []DayList `json:"lists"` // by date, then crew
	Left  []Task    `json:"left"`  // what the days were too few for, by crew
}

// Make plans the rows of blocks over the days. Blocks have their turn by rank and
// traits; those of one turn are shared out together, with regard to what each
// crew has from the turns before. Each crew then goes through its rows day by
// day. To plan anew after a day of rain, call it with what is left, the calendar
// from tomorrow on, and the lost day in it (Lost). The error wraps ErrShare.
func Make(blocks []Block, crews []Crew, days []Day, o PlanOptions) (Plan, error) {
	if err := checkDays(days, ErrShare); err != nil {
		return Plan{}, err
	}
	if !(o.Overrun >= 0) || math.IsInf(o.Overrun, 0) {
		return Plan{}, wrong(ErrShare, "overrun", o.Overrun, "minutes from 0")
	}
	seen := map[vine.ID]bool{}
	for _, b := range blocks {
		for _, r := range b.Rows {
			if seen[r.ID] {
				return Plan{}, wrong(ErrShare, fmt.Sprintf("row %s of block %s", r.Label, b.Code), "it twice", "each row once")
			}
			seen[r.ID] = true
		}
	}
	own, err := turns(blocks, crews, o.Share)
	if err != nil {
		return Plan{}, err
	}
	return fill(own, crews, days, o.Overrun), nil
}

// turns shares out the blocks turn by turn and gives each crew's rows in order.
func turns(blocks []Block, crews []Crew, o ShareOptions) ([][]Task, error) {
	blocks = slices.Clone(blocks)
	order := func(a, b Block) int {
		return cmp.Or(cmp.Compare(a.Traits.Rank, b.Traits.Rank), cmp.Compare(a.Traits.Late(), b.Traits.Late()))
	}
	slices.SortStableFunc(blocks, order)
	own := make([][]Task, len(crews))
	had := make([]float64, len(crews))
	copy(had, o.Had)
	if o.Had != nil && len(o.Had) != len(crews) {
		return nil, wrong(ErrShare, "had", fmt.Sprintf("%d entries", len(o.Had)), fmt.Sprintf("%d, one per crew", len(crews)))
	}
	for len(blocks) > 0 {
		var rows []Row
		n := 0
		for n < len(blocks) && order(blocks[n], blocks[0]) == 0 {
			rows = append(rows, blocks[n].Rows...)
			n++
		}
		blocks = blocks[n:]
		o.Had = had
		shares, err := ShareOut(rows, crews, o)
		if err != nil {
			return nil, err
		}
		for c, e := range shares.Each {
			had[c] += e.Minutes
			for _, r := range e.Rows {
				own[c] = append(own[c], Task{Block: rows[r].Block, Row: rows[r].ID, Label: rows[r].Label, Minutes: rows[r].Minutes})
			}
		}
	}
	return own, nil
}

// fill puts each crew's rows on the days, in their order.
func fill(own [][]Task, crews []Crew, days []Day, overrun float64) (p Plan) {
	begun := make([]bool, len(crews))
	for _, d := range days {
		for c, crew := range crews {
			list := DayList{Date: d.Date, Crew: crew.Name, Room: d.room(crew)}
			if list.Room <= 0 {
				continue
			}
			for len(own[c]) > 0 && list.Minutes < list.Room-tiny {
				next := &own[c][0]
				task, room := *next, list.Room-list.Minutes
				task.Begun, task.Ends = begun[c], task.Minutes <= room+overrun+tiny
				if !task.Ends {
					task.Minutes = room
				}
				list.Tasks = append(list.Tasks, task)
				list.Minutes += task.Minutes
				next.Minutes -= task.Minutes
				begun[c] = !task.Ends
				if task.Ends {
					own[c] = own[c][1:]
				}
			}
			if len(list.Tasks) > 0 {
				list.Over = list.Minutes > list.Room+tiny*(1+list.Room)
				p.Lists = append(p.Lists, list)
			}
		}
	}
	for c := range own {
		for k, t := range own[c] {
			t.Begun, t.Ends = k == 0 && begun[c], true
			p.Left = append(p.Left, t)
		}
	}
	return p
}
