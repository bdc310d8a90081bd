package server

import (
	"encoding/json"
	"errors"
	"io"
	"net/http"
)

// readJSON reads a request's body strictly: one JSON value of at most so many
// bytes, without unknown fields.
func readJSON(w http.ResponseWriter, r *http.Request, most int64, into any) error {
	if err := wantJSON(r); err != nil {
		return err
	}
	dec := json.NewDecoder(http.MaxBytesReader(w, r.Body, most))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		var tooBig *http.MaxBytesError
		if errors.As(err, &tooBig) || r.Context().Err() != nil {
			return err
		}
		return refuse(http.StatusBadRequest, fieldOf(err), "the request is not what is wanted here: %v", err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return refuse(http.StatusBadRequest, "", "something follows the JSON value at byte %d", dec.InputOffset())
	}
	return nil
}
