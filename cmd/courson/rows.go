package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/paulmach/orb"

	"courson/server/work"
	"courson/store"
)

// rowsCommand makes rows in a block and numbers them.
type rowsCommand struct {
	Make   makeRowsCommand   `cmd:"" help:"Make the rows and vines of a block that has none yet."`
	Number numberRowsCommand `cmd:"" help:"Number rows and vines of a block anew; what they were called before is still found."`
}

// groundFlags are common to what changes the ground of one block.
type groundFlags struct {
	dataFlags
	By     string `placeholder:"NAME" help:"Who does this; wanted unless it is a dry run."`
	DryRun bool   `help:"Say what would come of it; keep nothing."`
	Block  string `arg:"" placeholder:"CODE" help:"Code of the block."`
}

type makeRowsCommand struct {
	groundFlags
	Bearing     float64   `placeholder:"DEGREES" help:"Bearing of the rows, clockwise from north."`
	Line        []float64 `placeholder:"LON,LAT,…" help:"One of the rows in place of a bearing: longitudes and latitudes of two points or more along it. Write --line=… where it begins with a minus."`
	RowSpacing  float64   `required:"" placeholder:"METRES" help:"From row to row."`
	VineSpacing float64   `required:"" placeholder:"METRES" help:"From vine to vine."`
	Headland    float64   `placeholder:"METRES" help:"Ground left free between row ends and the edge of the block."`
	Sides       *float64  `placeholder:"METRES" help:"Ground left free beside the outer rows; without it half a row spacing."`
	Count       int       `placeholder:"N" help:"How many rows; without it all that fit."`
	Side        string    `placeholder:"WORD" help:"Compass word of the side at which a count begins; with --line the side towards which it goes on."`
	Start       float64   `placeholder:"METRES" help:"From the row's end to vine 1."`
	End         float64   `placeholder:"METRES" help:"Ground left free at the far end."`
	RowsFrom    string    `placeholder:"WORD" help:"Compass word of the side where the first row lies."`
	VinesFrom   string    `placeholder:"WORD" help:"Compass word of the end where vine 1 stands."`
	Snake       bool      `help:"Count every other row from its other end."`
	First       int       `placeholder:"N" default:"1" help:"Number of the first row."`
}

// Run makes the rows, or says what they would come to.
func (c *makeRowsCommand) Run(p *program) (err error) {
	line, err := lineOf(c.Line)
	if err != nil {
		return err
	}
	order := work.RowsOrder{Line: line, BearingDeg: c.Bearing, RowSpacingM: c.RowSpacing, VineSpacingM: c.VineSpacing, HeadlandM: c.Headland, SideM: c.Sides, Count: c.Count,
		Side: c.Side, StartM: c.Start, EndM: c.End, RowsFrom: c.RowsFrom, VinesFrom: c.VinesFrom, Snake: c.Snake, First: c.First}
	return c.change(p, func(st store.Store, b store.Block) error {
		if c.DryRun {
			m, err := work.TryRows(p.ctx, st, b.ID, order)
			if err != nil {
				return err
			}
			return tellRows(p.stdout, m, "would be made")
		}
		var m *work.RowsMade
		err := st.Update(p.ctx, func(tx store.Tx) (err error) {
			m, err = work.MakeRows(p.ctx, tx, b.ID, order, c.By, p.now())
			return err
		})
		if err != nil {
			return err
		}
		return tellRows(p.stdout, m, "made")
	})
}

// lineOf reads longitudes and latitudes in turn.
func lineOf(numbers []float64) (line []orb.Point, err error) {
	if len(numbers)%2 != 0 {
		return nil, fmt.Errorf("--line: %d numbers, wanted a longitude and a latitude for each point: %w", len(numbers), errUsage)
	}
	for i := 0; i < len(numbers); i += 2 {
		line = append(line, orb.Point{numbers[i], numbers[i+1]})
	}
	return line, nil
}

func tellRows(out io.Writer, m *work.RowsMade, became string) error {
	if m.Known {
		became = "there already, nothing changed"
	}
	text := fmt.Sprintf("block %s: %d rows, %d vines, %.0f m of row: %s\n", m.Code, len(m.Rows), m.Vines, m.RowM, became)
	text += fmt.Sprintf("  planted ground %.2f ha of %.2f ha, %.0f vines per hectare of it\n", m.PlantedM2/10_000, m.AreaM2/10_000, m.VinesPerHa)
	if m.Short > 0 {
		text += fmt.Sprintf("  %d rows left out: too short for two vines\n", m.Short)
	}
	if m.Missed > 0 {
		text += fmt.Sprintf("  for %d rows of that number there is no ground\n", m.Missed)
	}
	_, err := io.WriteString(out, text)
	return err
}

type numberRowsCommand struct {
	groundFlags
	Code      string `placeholder:"CODE" help:"New code of the block."`
	RowsFrom  string `placeholder:"WORD" help:"Compass word of the side where the first row lies; without it rows keep their labels."`
	First     int    `placeholder:"N" help:"Number of the first row."`
	VinesFrom string `placeholder:"WORD" help:"Compass word of the end where vine 1 stands; without it rows keep their ends."`
	Snake     bool   `help:"Count every other row from its other end."`
}

// Run numbers a block anew, or says what would change.
func (c *numberRowsCommand) Run(p *program) error {
	order := work.NumberOrder{Code: c.Code, RowsFrom: c.RowsFrom, First: c.First, VinesFrom: c.VinesFrom, Snake: c.Snake}
	return c.change(p, func(st store.Store, b store.Block) error {
		if c.DryRun {
			n, err := work.TryNumbers(p.ctx, st, b.ID, order)
			if err != nil {
				return err
			}
			return tellNumbers(p.stdout, n, "would be numbered anew")
		}
		var n *work.Numbers
		err := st.Update(p.ctx, func(tx store.Tx) (err error) {
			n, err = work.Renumber(p.ctx, tx, b.ID, order, c.By, p.now())
			return err
		})
		if err != nil {
			return err
		}
		return tellNumbers(p.stdout, n, "numbered anew")
	})
}

func tellNumbers(out io.Writer, n *work.Numbers, became string) error {
	if !n.Changed {
		_, err := fmt.Fprintf(out, "block %s: nothing to change\n", n.Code)
		return err
	}
	text := fmt.Sprintf("block %s: %d vines %s\n", n.Code, n.Vines, became)
	for _, r := range n.Rows {
		turned := ""
		if r.Turned {
			turned = ", vine 1 at the other end"
		}
		if r.Label != r.Was || r.Turned {
			text += fmt.Sprintf("  row %s was %s%s\n", r.Label, r.Was, turned)
		}
	}
	if n.Orders > 0 {
		text += fmt.Sprintf("  %d open orders name them and are written anew\n", n.Orders)
	}
	_, err := io.WriteString(out, text)
	return err
}

// change opens the store, finds the block, and does the rest.
func (g groundFlags) change(p *program, do func(store.Store, store.Block) error) (err error) {
	if g.By == "" && !g.DryRun {
		return fmt.Errorf("--by: say who does this: %w", errUsage)
	}
	st, err := g.open(p.ctx, p, false, g.DryRun)
	if err != nil {
		return err
	}
	defer closeStore(st, &err)
	blocks, err := work.BlocksOf(p.ctx, st, []string{g.Block})
	if err != nil {
		return err
	}
	err = do(st, blocks[0])
	var wrong *work.DrawnError
	if errors.As(err, &wrong) && wrong.Field != "" {
		return fmt.Errorf("%s: %w", wrong.Field, err)
	}
	return err
}
