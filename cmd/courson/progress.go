package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"golang.org/x/term"
)

// bar shows how far long work has got: one line that is drawn over, at a
// terminal only. In a pipe it writes nothing.
type bar struct {
	w     io.Writer
	what  string
	shown time.Time
	now   func() time.Time
	width int
	drawn bool
}

// newBar gives a bar on w; it stays silent unless w is a terminal.
func newBar(w io.Writer, what string, now func() time.Time) *bar {
	b := &bar{what: what, now: now}
	if f, ok := w.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		b.w, b.width = w, 30
	}
	return b
}

// set shows done of total; total 0 means that the end is not known.
func (b *bar) set(done, total int) {
	if b.w == nil || b.now().Sub(b.shown) < 100*time.Millisecond && done != total {
		return
	}
	b.shown, b.drawn = b.now(), true
	if total <= 0 {
		fmt.Fprintf(b.w, "\r%s: %d ", b.what, done)
		return
	}
	full := min(b.width, b.width*done/total)
	fmt.Fprintf(b.w, "\r%s [%s%s] %3d %% ", b.what, strings.Repeat("=", full), strings.Repeat(" ", b.width-full), min(100, 100*done/total))
}

// end clears the line.
func (b *bar) end() {
	if b.w != nil && b.drawn {
		fmt.Fprint(b.w, "\r\033[K")
	}
}
