package main

import (
	"encoding/json"
	"errors"
	"fmt"

	"courson/server/work"
)

// undoFlags are about imports that were taken in before.
type undoFlags struct {
	List bool   `help:"List what was imported, with the ids by which it can be taken back; take nothing in."`
	Undo string `placeholder:"ID" help:"Take back a whole import (see --list), unless something was built on it since."`
}

// past lists imports, or takes one back.
func (c *importCommand) past(p *program) (err error) {
	if len(c.Files) > 0 || c.List && c.Undo != "" {
		return fmt.Errorf("--list and --undo stand alone, without files: %w", errUsage)
	}
	st, err := c.open(p.ctx, p, false, c.List)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	if c.List {
		list, err := work.Imports(p.ctx, st)
		if err != nil || !c.JSON {
			return errors.Join(err, work.WriteImports(p.stdout, list))
		}
		return c.asJSON(p, list)
	}
	report, err := work.Undo(p.ctx, st, work.UndoJob{ID: c.Undo, By: c.By, DryRun: c.DryRun, Now: p.now})
	refused := errors.Is(err, work.ErrUndo)
	if err != nil && !refused {
		return err
	}
	w := p.stdout
	if refused && !c.JSON {
		w = p.stderr
	}
	if c.JSON {
		err = c.asJSON(p, report)
	} else {
		err = report.WriteText(w)
	}
	if refused && err == nil {
		return errQuiet // the report has said why
	}
	return err
}

func (c *importCommand) asJSON(p *program, v any) error {
	out := json.NewEncoder(p.stdout)
	out.SetIndent("", "  ")
	return out.Encode(v)
}
