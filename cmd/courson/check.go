package main

import "fmt"

type checkCommand struct {
	dataFlags
	Rebuild bool `help:"Mend what is wrong: work every state out anew from the log."`
}

// Run folds the whole log and compares it with the states kept. Without
// --rebuild nothing is changed, and anything wrong ends with status 1.
func (c *checkCommand) Run(p *program) (err error) {
	st, err := c.open(p.ctx, p, false, !c.Rebuild)
	if err != nil {
		return err
	}
	defer closeStore(st, &err)
	if err := st.Ready(p.ctx); err != nil {
		return err
	}
	b := newBar(p.stderr, "checking", p.now)
	got, err := st.Rebuild(p.ctx, c.Rebuild, b.set)
	b.end()
	if err != nil {
		return err
	}
	switch {
	case got.Wrong == 0:
		fmt.Fprintf(p.stdout, "%d vines: every state agrees with the log\n", got.Vines)
	case c.Rebuild:
		fmt.Fprintf(p.stdout, "%d vines: %d states were wrong and are mended\n", got.Vines, got.Wrong)
	default:
		fmt.Fprintf(p.stdout, "%d vines: %d states differ from the log; mend them with: courson check --rebuild\n", got.Vines, got.Wrong)
		return errQuiet
	}
	return nil
}
