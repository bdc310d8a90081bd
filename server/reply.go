package server

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"sync"

	kgzip "github.com/klauspost/compress/gzip"
)

// gzipLevel is fast and hardly larger than the slow levels (measured: a tile of
// 153 kB takes 0.7 ms and leaves 44 kB).
const gzipLevel = 3

// smallest is the size in bytes below which compressing does not pay.
const smallest = 1200

// reply is one finished answer: the same content with or without compression.
type reply struct {
	contentType string
	tag         string // content tag without quotes, of the uncompressed form
	plain       []byte // nil: only zipped is held
	zipped      []byte // nil: not compressed
}

// send writes the reply in the form the client can read, or 304 where the
// client has it already. It answers HEAD with the same headers.
func (a reply) send(w http.ResponseWriter, r *http.Request) error {
	h := w.Header()
	if h.Get("Cache-Control") == "" {
		h.Set("Cache-Control", "no-cache")
	}
	zip := a.zipped != nil && acceptsGzip(r)
	if a.zipped != nil {
		h.Add("Vary", "Accept-Encoding")
	}
	if a.tag != "" {
		h.Set("ETag", quoteTag(a.tag, zip))
		if matchesTag(r, a.tag) {
			w.WriteHeader(http.StatusNotModified)
			return nil
		}
	}
	h.Set("Content-Type", a.contentType)
	body := a.plain
	switch {
	case zip:
		h.Set("Content-Encoding", "gzip")
		body = a.zipped
	case body == nil:
		var err error
		if body, err = unzip(a.zipped); err != nil {
			return err
		}
	}
	h.Set("Content-Length", strconv.Itoa(len(body)))
	w.WriteHeader(http.StatusOK)
	_, _ = w.Write(body) // the client may be gone: nobody left to tell
	return nil
}

// quoteTag writes a strong tag. The compressed form is other bytes and so has
// another tag.
func quoteTag(tag string, zipped bool) string {
	if zipped {
		return `"` + tag + `-g"`
	}
	return `"` + tag + `"`
}

// matchesTag tells whether the request names the content in If-None-Match, in
// either form.
func matchesTag(r *http.Request, tag string) bool {
	for _, line := range r.Header.Values("If-None-Match") {
		for part := range strings.SplitSeq(line, ",") {
			part = strings.TrimPrefix(strings.TrimSpace(part), "W/")
			if part == "*" || part == quoteTag(tag, false) || part == quoteTag(tag, true) {
				return true
			}
		}
	}
	return false
}

// acceptsGzip reads Accept-Encoding.
func acceptsGzip(r *http.Request) bool {
	any := false
	for _, line := range r.Header.Values("Accept-Encoding") {
		for part := range strings.SplitSeq(line, ",") {
			name, params, _ := strings.Cut(part, ";")
			refused := false
			if _, q, ok := strings.Cut(params, "q="); ok {
				f, err := strconv.ParseFloat(strings.TrimSpace(q), 64)
				refused = err != nil || f <= 0
			}
			switch strings.ToLower(strings.TrimSpace(name)) {
			case "gzip", "x-gzip":
				return !refused
			case "*":
				any = !refused
			}
		}
	}
	return any
}

// zipper compresses with writers used again.
type zipper struct{ pool sync.Pool }

func (z *zipper) zip(plain []byte) ([]byte, error) {
	var out bytes.Buffer
	out.Grow(len(plain)/3 + 64)
	zw, ok := z.pool.Get().(*kgzip.Writer)
	if !ok {
		var err error
		if zw, err = kgzip.NewWriterLevel(&out, gzipLevel); err != nil {
			return nil, fmt.Errorf("compress: %w", err)
		}
	} else {
		zw.Reset(&out)
	}
	defer z.pool.Put(zw)
	if _, err := zw.Write(plain); err != nil {
		return nil, fmt.Errorf("compress: %w", err)
	}
	if err := zw.Close(); err != nil {
		return nil, fmt.Errorf("compress: %w", err)
	}
	return out.Bytes(), nil
}

func unzip(zipped []byte) ([]byte, error) {
	zr, err := gzip.NewReader(bytes.NewReader(zipped))
	if err != nil {
		return nil, fmt.Errorf("uncompress: %w", err)
	}
	plain, err := io.ReadAll(zr)
	if err != nil {
		return nil, fmt.Errorf("uncompress: %w", err)
	}
	return plain, nil
}

// sendJSON writes v with a tag made from its content.
func (s *Server) sendJSON(w http.ResponseWriter, r *http.Request, v any) error {
	body, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("encode answer: %w", err)
	}
	a := reply{contentType: "application/json", plain: body}
	if r.Method == http.MethodGet || r.Method == http.MethodHead {
		a.tag = contentTag(body)
	}
	if len(body) >= smallest && acceptsGzip(r) {
		if a.zipped, err = s.zipper.zip(body); err != nil {
			return err
		}
	} else {
		w.Header().Add("Vary", "Accept-Encoding")
	}
	return a.send(w, r)
}

// contentTag is a tag made from the bytes themselves.
func contentTag(body []byte) string {
	sum := sha256.Sum256(body)
	return hex.EncodeToString(sum[:12])
}
