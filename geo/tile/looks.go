package tile

import (
	"math"
	"sync"

	"courson/geo/stand"
	"courson/geo/vine"
)

// themeLooks holds what each theme looks like, prepared when first asked for.
type themeLooks struct {
	mu     sync.Mutex
	themes map[Theme]*looksOf
}

// looksOf is the inks of a theme and its marks at the sizes drawn so far.
type looksOf struct {
	*themeInks
	gap  [2]int // in themes without them: the marks for dead and missing
	mu   sync.Mutex
	sets map[markSize]markSet
}

// markSet is the marks of each class, then of dead and missing; each is drawn
// when it is first needed.
type markSet []*lazyMark

// lazyMark is a mark whose sprites wait to be drawn.
type lazyMark struct {
	once sync.Once
	mark mark
	set  *spriteSet
}

// sprites draws the mark once; nil for a class that shows nothing.
func (m *lazyMark) sprites(t *themeInks) *spriteSet {
	if m == nil {
		return nil
	}
	m.once.Do(func() { m.set = newSprites(t, m.mark) })
	return m.set
}

// markSize tells sizes apart by eighths of a pixel.
type markSize struct {
	dot   int // radius
	glyph int // radius, 0 for no glyphs
	scale int
}

// of gives a theme's looks.
func (l *themeLooks) of(t Theme) (*looksOf, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if k := l.themes[t]; k != nil {
		return k, nil
	}
	inks, err := inksOf(Legends(nil)[t])
	if err != nil {
		return nil, err
	}
	k := &looksOf{themeInks: inks, sets: map[markSize]markSet{}}
	n := len(inks.classes)
	k.gap = [2]int{n, n + 1}
	if t == ThemeCondition {
		k.gap = [2]int{int(inks.byCode[vine.Dead]), int(inks.byCode[vine.Missing])}
	}
	if l.themes == nil {
		l.themes = map[Theme]*looksOf{}
	}
	l.themes[t] = k
	return k, nil
}

// mark gives which mark a vine has in a theme, and whether it is a glyph.
// Gaps are gaps in every theme but that of replants, which tells their kinds.
func (l *looksOf) mark(theme Theme, s *stand.Stand, i int) (int, bool) {
	if theme != ThemeReplants {
		switch s.Condition[i] {
		case vine.Dead:
			return l.gap[0], true
		case vine.Missing:
			return l.gap[1], true
		}
	}
	k := int(l.byCode[codeOfVine(theme, s, i)])
	return k, l.classes[k].Symbol.glyph()
}

// codeOfVine is the class code that a vine shows in a theme.
func codeOfVine(theme Theme, s *stand.Stand, i int) uint8 {
	switch theme {
	case ThemeCondition:
		return uint8(s.Condition[i])
	case ThemeProgress:
		return uint8(s.Progress[i])
	case ThemeDoubt:
		return s.DoubtOf(i)
	case ThemeChange:
		return s.ChangeOf(i)
	case ThemePatches:
		return uint8(s.PatchOf(i))
	case ThemeLoad:
		return s.LoadOf(i)
	case ThemeFollowUps:
		return uint8(s.FollowOf(i))
	case ThemeReplants:
		return uint8(s.ReplantOf(i))
	case ThemeZones:
		return s.ZoneOf(i)
	}
	return s.Vigour[i]
}

// at gives the marks for vines so far apart. Where there is no room for
// glyphs, those of living vines become dots and gaps are left open.
func (l *looksOf) at(d distances, scale int) markSet {
	r := max(leastDot, min(mostDot, dotShare*min(d.vines, d.rows)))
	size := markSize{dot: int(math.Round(r * float64(scale) * 8)), scale: scale}
	if d.vines >= glyphsFrom {
		size.glyph = max(size.dot*5/4, int(leastGlyph*float64(scale)*8))
	}
	return l.sized(size)
}

// dot gives the mark of a class as a dot that can be found from far out.
func (l *looksOf) dot(code uint8, scale int) *spriteSet {
	set := l.sized(markSize{dot: int(2 * leastDot * float64(scale) * 8), scale: scale})
	if s := set[l.byCode[code]].sprites(l.themeInks); s != nil {
		return s
	}
	return set[0].sprites(l.themeInks)
}

// sized gives the marks of a size.
func (l *looksOf) sized(size markSize) markSet {
	l.mu.Lock()
	defer l.mu.Unlock()
	if s, ok := l.sets[size]; ok {
		return s
	}
	set := make(markSet, len(l.classes)+2)
	for i, c := range l.classes {
		set[i] = l.lazy(size, c.Symbol, l.class[i])
	}
	if size.glyph == 0 {
		if l.gap[0] < len(l.classes) {
			set[l.gap[0]], set[l.gap[1]] = nil, nil
		}
	} else {
		set[len(l.classes)] = l.lazy(size, SymbolSquare, l.halo)
		set[len(l.classes)+1] = l.lazy(size, SymbolCross, l.glyph)
	}
	l.sets[size] = set
	return set
}

func (l *looksOf) lazy(size markSize, s Symbol, fill ink) *lazyMark {
	m := mark{symbol: s, fill: fill, radius: float64(size.dot) / 8}
	switch {
	case s.glyph() && size.glyph > 0:
		m.radius = float64(size.glyph) / 8
	case s.glyph():
		m.symbol = SymbolDisc
	}
	m.casing = max(0.5*float64(size.scale), 0.17*m.radius)
	return &lazyMark{mark: m}
}
