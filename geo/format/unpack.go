package format

import (
	"bufio"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
)

// Limits bound how much may be read. Zero fields mean the defaults.
type Limits struct {
	MaxBytes int64 // of the unpacked file; 4 GB
	MaxRatio int   // unpacked to packed bytes of a gzip file; 100
}

func (l Limits) withDefaults() Limits {
	if l.MaxBytes <= 0 {
		l.MaxBytes = 4 << 30
	}
	if l.MaxRatio <= 0 {
		l.MaxRatio = 100
	}
	return l
}

const windowSize = 1 << 16

// Unpack gives the bytes of a file, unpacked where it is a gzip file, and stops
// with ErrTooLarge when they are more than the limits allow. Nothing is held
// but a window.
func Unpack(r io.Reader, l Limits) (*bufio.Reader, error) {
	l = l.withDefaults()
	b := bufio.NewReaderSize(r, windowSize)
	head, err := b.Peek(2)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("the file cannot be read: %w", err)
	}
	if len(head) < 2 || head[0] != 0x1f || head[1] != 0x8b {
		return bufio.NewReaderSize(&limited{r: b, most: l.MaxBytes}, windowSize), nil
	}
	packed := &counter{r: b}
	z, err := gzip.NewReader(packed)
	if err != nil {
		return nil, &Problem{Feature: None, What: "the file begins like gzip but is not", Found: err.Error(), Wanted: "the file itself, or packed with gzip"}
	}
	return bufio.NewReaderSize(&gunzip{z: z, packed: packed, l: l}, windowSize), nil
}

// counter counts the bytes that went through.
type counter struct {
	r io.Reader
	n int64
}

func (c *counter) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.n += int64(n)
	return n, err
}

// limited stops a stream that is longer than allowed.
type limited struct {
	r    io.Reader
	n    int64
	most int64
}

func (l *limited) Read(p []byte) (int, error) {
	n, err := l.r.Read(p)
	l.n += int64(n)
	if l.n > l.most {
		return 0, tooLong(l.most)
	}
	return n, err
}

// ErrTooLarge is at the root of every refusal for size.
var ErrTooLarge = errors.New("too large")

func tooLong(most int64) error {
	return &Problem{Feature: None, What: "the file is too large", Cause: ErrTooLarge,
		Found: fmt.Sprintf("more than %d MB", most>>20), Wanted: "smaller files, for example one for each block"}
}

// gunzip unpacks, and stops a stream that swells beyond reason.
type gunzip struct {
	z      *gzip.Reader
	packed *counter
	n      int64
	l      Limits
}

// freeBytes may be unpacked from however little.
const freeBytes = 32 << 20

func (g *gunzip) Read(p []byte) (int, error) {
	n, err := g.z.Read(p)
	g.n += int64(n)
	switch {
	case g.n > g.l.MaxBytes:
		return 0, tooLong(g.l.MaxBytes)
	case g.n > freeBytes && g.n > g.packed.n*int64(g.l.MaxRatio):
		return 0, &Problem{Feature: None, What: "the packed file swells beyond reason", Cause: ErrTooLarge,
			Found: fmt.Sprintf("%d MB from %d kB", g.n>>20, g.packed.n>>10), Wanted: fmt.Sprintf("at most %d times its packed size", g.l.MaxRatio)}
	case err != nil && !errors.Is(err, io.EOF):
		return n, &Problem{Feature: None, What: "the packed file is damaged or cut short", Found: err.Error(), Wanted: "the whole file, packed again"}
	}
	return n, err
}
