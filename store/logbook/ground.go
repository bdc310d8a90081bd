package logbook

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"

	"courson/store"
)

// CheckBlock says what no store can keep of a block's record.
func CheckBlock(b store.Block) error {
	what := fmt.Sprintf("block %q", b.Code)
	if strings.TrimSpace(b.Code) == "" {
		return fmt.Errorf("%s: code is missing", what)
	}
	err := checkTexts(what, "code", b.Code, "name", b.Name, "variety", b.Variety, "clone", b.Clone,
		"rootstock", b.Rootstock, "system", b.System, "numbering end", b.NumberingEnd)
	if err == nil {
		err = checkLengths(what, "row spacing", b.RowSpacingM, "vine spacing", b.VineSpacingM)
	}
	for _, polygon := range b.Outline {
		for _, ring := range polygon {
			if err == nil {
				err = checkPoints(what, ring)
			}
		}
	}
	return err
}

// CheckRow says what no store can keep of a row's record.
func CheckRow(r store.Row) error {
	what := fmt.Sprintf("row %q", r.Label)
	if strings.TrimSpace(r.Label) == "" {
		return fmt.Errorf("%s: label is missing", what)
	}
	err := checkTexts(what, "label", r.Label)
	if err == nil {
		err = checkLengths(what, "length", r.LengthM, "spacing", r.SpacingM)
	}
	for _, line := range r.Line {
		if err == nil {
			err = checkPoints(what, line)
		}
	}
	return err
}

// CheckVine says what no store can keep of a vine's record.
func CheckVine(v store.Vine) error {
	if v.Number >= 1 && v.Number <= math.MaxInt32 && v.Tag == "" && goodPoint(v.Point) && goodLength(v.ChainageM) {
		return nil // nearly all vines, and there are many
	}
	what := fmt.Sprintf("vine %d in row %d", v.Number, v.Row)
	if v.Number < 1 || v.Number > math.MaxInt32 {
		return fmt.Errorf("%s: numbers begin at 1", what)
	}
	if err := checkTexts(what, "tag", v.Tag); err != nil {
		return err
	}
	if err := checkPoints(what, []orb.Point{v.Point}); err != nil {
		return err
	}
	return checkLengths(what, "chainage", v.ChainageM)
}

// checkTexts takes pairs of field and text.
func checkTexts(what string, pairs ...string) error {
	for i := 0; i < len(pairs); i += 2 {
		if err := CheckText(pairs[i], pairs[i+1]); err != nil {
			return fmt.Errorf("%s: %w", what, err)
		}
	}
	return nil
}

// checkLengths takes pairs of field and metres.
func checkLengths(what string, pairs ...any) error {
	for i := 0; i < len(pairs); i += 2 {
		if m := pairs[i+1].(float64); !goodLength(m) {
			return fmt.Errorf("%s: %s of %g m", what, pairs[i], m)
		}
	}
	return nil
}

func checkPoints[T ~[]orb.Point](what string, points T) error {
	for _, p := range points {
		if !goodPoint(p) {
			return fmt.Errorf("%s: longitude %g, latitude %g lies outside the world", what, p[0], p[1])
		}
	}
	return nil
}

func goodLength(m float64) bool { return !math.IsNaN(m) && !math.IsInf(m, 0) }

func goodPoint(p orb.Point) bool {
	return p[0] >= -180 && p[0] <= 180 && p[1] >= -90 && p[1] <= 90
}
