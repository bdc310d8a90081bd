package geojson

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"

	"courson/geo/format"
)

// unpacked opens the stream: it unpacks gzip, skips a byte order mark and
// refuses UTF-16.
func unpacked(r io.Reader, o Options) (io.Reader, error) {
	b := bufio.NewReaderSize(r, windowSize)
	head, err := b.Peek(4)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("the file cannot be read: %w", err)
	}
	if bytes.HasPrefix(head, []byte{0x1f, 0x8b}) {
		packed := &counter{r: b}
		z, err := gzip.NewReader(packed)
		if err != nil {
			return nil, &format.Problem{Feature: format.None, What: "the file begins like gzip but is not", Found: err.Error(), Wanted: "GeoJSON, packed with gzip or not"}
		}
		b = bufio.NewReaderSize(&gunzip{z: z, packed: packed, o: o}, windowSize)
		head, _ = b.Peek(4)
	} else {
		b = bufio.NewReaderSize(&limited{r: b, most: o.MaxBytes}, windowSize)
	}
	switch {
	case bytes.HasPrefix(head, []byte("\xef\xbb\xbf")):
		_, err = b.Discard(3)
		return b, err
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}) || bytes.HasPrefix(head, []byte{0xfe, 0xff}) || len(head) >= 2 && (head[0] == 0) != (head[1] == 0):
		return nil, &format.Problem{Feature: format.None, What: "the file is written in UTF-16", Wanted: "UTF-8 (RFC 8259 section 8.1): save it again in that encoding"}
	}
	return b, nil
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
	return &format.Problem{Feature: format.None, What: "the file is too large", Cause: ErrTooLarge,
		Found: fmt.Sprintf("more than %d MB", most>>20), Wanted: "smaller files, for example one for each block"}
}

// gunzip unpacks, and stops a stream that swells beyond reason.
type gunzip struct {
	z      *gzip.Reader
	packed *counter
	n      int64
	o      Options
}

// freeBytes may be unpacked from however little.
const freeBytes = 32 << 20

func (g *gunzip) Read(p []byte) (int, error) {
	n, err := g.z.Read(p)
	g.n += int64(n)
	switch {
	case g.n > g.o.MaxBytes:
		return 0, tooLong(g.o.MaxBytes)
	case g.n > freeBytes && g.n > g.packed.n*int64(g.o.MaxRatio):
		return 0, &format.Problem{Feature: format.None, What: "the packed file swells beyond reason", Cause: ErrTooLarge,
			Found: fmt.Sprintf("%d MB from %d kB", g.n>>20, g.packed.n>>10), Wanted: fmt.Sprintf("at most %d times its packed size", g.o.MaxRatio)}
	case err != nil && !errors.Is(err, io.EOF):
		return n, &format.Problem{Feature: format.None, What: "the packed file is damaged or cut short", Found: err.Error(), Wanted: "the whole file, packed again"}
	}
	return n, err
}
