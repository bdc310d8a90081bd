package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"strconv"

	"courson/geo/vine"
	"courson/server/stands"
	"courson/store"
)

// problem is the body of every error answer: RFC 9457, with the field that is
// wrong where there is one.
type problem struct {
	Type     string `json:"type"`
	Title    string `json:"title"`
	Status   int    `json:"status"`
	Detail   string `json:"detail,omitempty"`
	Instance string `json:"instance,omitempty"`
	Field    string `json:"field,omitempty"`
}

// refusal is an error of the caller's making: its text goes to the caller.
type refusal struct {
	status int
	field  string
	text   string
}

func (e *refusal) Error() string { return e.text }

// refuse makes a refusal about a field ("" if about none).
func refuse(status int, field, format string, args ...any) error {
	return &refusal{status: status, field: field, text: fmt.Sprintf(format, args...)}
}

// retryAfter is what a client told to come back waits, in seconds.
const retryAfter = 2

// verdict is what the table below says of an error.
type verdict struct {
	status int
	detail string
	field  string
	fault  bool // not the caller's doing and not foreseen: log it in full
}

// judge is the only table from error to status.
func judge(err error) verdict {
	var (
		own     *refusal
		tooBig  *http.MaxBytesError
		panicky *stands.PanicError
	)
	switch {
	case errors.As(err, &own):
		return verdict{status: own.status, detail: own.text, field: own.field}
	case errors.As(err, &panicky):
		return verdict{status: http.StatusInternalServerError, fault: true}
	case errors.As(err, &tooBig):
		return verdict{status: http.StatusRequestEntityTooLarge,
			detail: fmt.Sprintf("the request is larger than %d bytes; send it in smaller batches", tooBig.Limit)}
	case errors.Is(err, store.ErrNotFound):
		return verdict{status: http.StatusNotFound, detail: err.Error()}
	case errors.Is(err, store.ErrConflict):
		return verdict{status: http.StatusConflict, detail: err.Error()}
	case errors.Is(err, store.ErrBusy):
		return verdict{status: http.StatusServiceUnavailable, detail: "the store is busy; try again in a moment"}
	case errors.Is(err, store.ErrReadOnly):
		return verdict{status: http.StatusForbidden, detail: "this server cannot write to its store; nothing was changed"}
	case errors.Is(err, vine.ErrBadEvent), errors.Is(err, vine.ErrAddress):
		return verdict{status: http.StatusBadRequest, detail: err.Error()}
	case errors.Is(err, context.DeadlineExceeded):
		return verdict{status: http.StatusGatewayTimeout, detail: "the answer took too long; try again"}
	}
	return verdict{status: http.StatusInternalServerError, fault: true}
}

// answerError writes the error answer, unless the caller has gone away.
func (s *Server) answerError(w http.ResponseWriter, r *http.Request, err error) {
	if errors.Is(err, context.Canceled) && r.Context().Err() != nil {
		return
	}
	id := requestID(r.Context())
	v := judge(err)
	if v.fault {
		reference := reference(id)
		v.detail = "something went wrong on the server; its log has the details under reference " + reference
		attrs := []slog.Attr{slog.String("reference", reference), slog.String("request", id),
			slog.String("method", r.Method), slog.String("path", r.URL.Path), slog.Any("error", err)}
		var p *stands.PanicError
		if errors.As(err, &p) {
			attrs = append(attrs, slog.String("stack", string(p.Stack)))
		}
		s.log.LogAttrs(r.Context(), slog.LevelError, "fault", attrs...)
	}
	if v.status == http.StatusServiceUnavailable {
		w.Header().Set("Retry-After", strconv.Itoa(retryAfter))
	}
	writeProblem(w, r, problem{Status: v.status, Detail: v.detail, Field: v.field})
}

// writeProblem fills in what is the same for all and writes. Headers that
// belonged to the answer that did not come are taken off.
func writeProblem(w http.ResponseWriter, r *http.Request, p problem) {
	p.Type = "about:blank"
	p.Title = http.StatusText(p.Status)
	if id := requestID(r.Context()); id != "" {
		p.Instance = "urn:uuid:" + id
	}
	body, err := json.Marshal(p)
	if err != nil { // strings and numbers always encode
		body = []byte(`{}`)
	}
	h := w.Header()
	for _, name := range []string{"Etag", "Content-Encoding", "Last-Modified", "Content-Disposition"} {
		h.Del(name)
	}
	h.Set("Content-Type", "application/problem+json")
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Length", strconv.Itoa(len(body)))
	w.WriteHeader(p.Status)
	_, _ = w.Write(body) // the caller may be gone: nobody left to tell
}

// reference is the short form of a request id that a person can read out.
func reference(id string) string {
	if len(id) > 8 {
		return id[:8]
	}
	return id
}
