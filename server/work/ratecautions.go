package work

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"strings"
	"time"

	"courson/geo/format"
)

// cautionsName is the text that goes with every zip of rates; terminals and maps
// look at the other files alone.
const cautionsName = "CAUTIONS.txt"

// withCautions writes a zip and puts the cautions in it. Nothing is written where
// the zip cannot be.
func (r *Rated) withCautions(w io.Writer, made time.Time, write func(io.Writer) ([]format.Notice, error)) ([]format.Notice, error) {
	var body bytes.Buffer
	notices, err := write(&body)
	if err != nil {
		return nil, err
	}
	from, err := zip.NewReader(bytes.NewReader(body.Bytes()), int64(body.Len()))
	if err != nil {
		return nil, fmt.Errorf("zip of rates: %w", err)
	}
	to := zip.NewWriter(w)
	for _, f := range from.File {
		if err := to.Copy(f); err != nil {
			return nil, fmt.Errorf("zip of rates: %w", err)
		}
	}
	out, err := to.CreateHeader(&zip.FileHeader{Name: cautionsName, Method: zip.Deflate, Modified: made})
	if err != nil {
		return nil, fmt.Errorf("zip of rates: %w", err)
	}
	if _, err := io.WriteString(out, r.cautionText()); err != nil {
		return nil, fmt.Errorf("zip of rates: %w", err)
	}
	if err := to.Close(); err != nil {
		return nil, fmt.Errorf("zip of rates: %w", err)
	}
	return notices, nil
}

func (r *Rated) cautionText() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s, block %s, season %d. Aim: %s.\r\n\r\n", r.Rates.Material.Name, r.Block.Code, r.Stand.Season, r.Rates.Aim)
	for _, text := range r.Rates.Cautions {
		fmt.Fprintf(&b, "- %s\r\n", text)
	}
	return b.String()
}
