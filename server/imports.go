package server

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"strings"
	"time"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/server/work"
)

const (
	importBytes  = 1 << 30  // of all files of an import together
	importMemory = 32 << 20 // held in memory of them; the rest lies on the disk meanwhile
	importPeriod = 10 * time.Minute
)

// importOrder says how files are to be read and what is known about them, in the
// part "order" of the request.
type importOrder struct {
	As           string            `json:"as"`
	Form         string            `json:"form"`
	Layers       []string          `json:"layers"`
	Columns      map[string]string `json:"columns"`
	Units        map[string]string `json:"units"`
	Season       int               `json:"season"`
	CRS          string            `json:"crs"`
	Decimal      string            `json:"decimal"`
	Delimiter    string            `json:"delimiter"`
	Encoding     string            `json:"encoding"`
	Block        string            `json:"block"`
	VineSpacingM float64           `json:"vine_spacing_m"`
	RowSpacingM  float64           `json:"row_spacing_m"`
	OffsetM      float64           `json:"offset_m"`
	NumberingEnd string            `json:"numbering_end"`
	ScoreScale   string            `json:"score_scale"`
	Date         string            `json:"date"`
	By           string            `json:"by"`

	// Of surveyed points and detections.
	Shift     string  `json:"shift"` // ask, take-off or leave
	WholeRows bool    `json:"whole_rows"`
	AccuracyM float64 `json:"accuracy_m"`

	// Of an image.
	Index      string    `json:"index"` // ndvi or ratio of two bands
	Band       int       `json:"band"`
	Red        int       `json:"red"`
	NoValue    []float64 `json:"no_value"`
	Factor     float64   `json:"factor"`
	Add        float64   `json:"add"`
	HalfStripM float64   `json:"half_strip_m"`
	NoBeyond   bool      `json:"no_beyond"`
	Sure       bool      `json:"sure"`
	Sensor     string    `json:"sensor"`
	NoLayer    bool      `json:"no_layer"` // do not keep it as a layer of the map
}

// meaningJSON is something that a column may mean.
type meaningJSON struct {
	Name  string   `json:"name"`
	Units []string `json:"units"` // it needs one of; empty: none
}

// getImports answers GET /api/imports: what columns may mean.
func (s *Server) getImports(w http.ResponseWriter, r *http.Request) error {
	var ans struct {
		Fields []meaningJSON `json:"fields"`
	}
	for _, f := range csv.Fields() {
		ans.Fields = append(ans.Fields, meaningJSON{Name: string(f), Units: orEmpty(csv.Units(f))})
	}
	return s.sendJSON(w, r, ans)
}

// postImportTry answers POST /api/imports/try: what is in the files, and what an
// import of them would do. Nothing is kept.
func (s *Server) postImportTry(w http.ResponseWriter, r *http.Request) error {
	report, err := s.takeIn(w, r, true)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, report)
}

// postImport answers POST /api/imports: takes files in, all of it or nothing.
// What is refused is 422, or 413 where the files are too large, with the report.
func (s *Server) postImport(w http.ResponseWriter, r *http.Request) error {
	report, err := s.takeIn(w, r, false)
	if err != nil {
		return err
	}
	if !report.Refused {
		return s.sendJSON(w, r, report)
	}
	status := http.StatusUnprocessableEntity
	for _, p := range report.Problems {
		if errors.Is(p, format.ErrTooLarge) {
			status = http.StatusRequestEntityTooLarge
		}
	}
	body, err := json.Marshal(struct {
		problem
		Report work.Report `json:"report"`
	}{problem{Type: "about:blank", Title: http.StatusText(status), Status: status, Detail: "nothing was stored: " + report.Problems[0].Error()}, report})
	if err != nil {
		return fmt.Errorf("encode answer: %w", err)
	}
	return sendProblem(w, status, body)
}

// sendProblem sends a problem that says more than others do.
func sendProblem(w http.ResponseWriter, status int, body []byte) error {
	w.Header().Set("Content-Type", "application/problem+json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, err := w.Write(body)
	return err
}

// takeIn reads the request and runs the importer.
func (s *Server) takeIn(w http.ResponseWriter, r *http.Request, try bool) (work.Report, error) {
	line := http.NewResponseController(w)
	for _, set := range []func(time.Time) error{line.SetReadDeadline, line.SetWriteDeadline} {
		if err := set(time.Now().Add(importPeriod)); err != nil && !errors.Is(err, http.ErrNotSupported) {
			return work.Report{}, err
		}
	}
	form, err := importForm(w, r)
	if err != nil {
		return work.Report{}, err
	}
	defer func() { _ = form.RemoveAll() }() // what lay on the disk meanwhile
	job, err := importJob(form)
	if err != nil {
		return work.Report{}, err
	}
	job.Look, job.DryRun, job.Now = true, try, s.cfg.Now
	if asker := askerOf(r.Context()); job.By == "" {
		job.By = asker.Name
	}
	report, err := work.Import(r.Context(), s.cfg.Store, job)
	if err != nil && !errors.Is(err, work.ErrRefused) {
		return work.Report{}, err
	}
	if !try && report.Changed() {
		s.stands.Touched() // what is kept of surveys and detections changes no block
	}
	return report, nil
}

func importForm(w http.ResponseWriter, r *http.Request) (*multipart.Form, error) {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || kind != "multipart/form-data" {
		return nil, refuse(http.StatusUnsupportedMediaType, "", "send the files as multipart/form-data, not %q", r.Header.Get("Content-Type"))
	}
	if e := r.Header.Get("Content-Encoding"); e != "" {
		return nil, refuse(http.StatusUnsupportedMediaType, "", "the request is packed (%s): send it as it is; files in it may be packed with gzip", e)
	}
	r.Body = http.MaxBytesReader(w, r.Body, importBytes)
	if err := r.ParseMultipartForm(importMemory); err != nil {
		var tooBig *http.MaxBytesError
		if errors.As(err, &tooBig) || r.Context().Err() != nil {
			return nil, err
		}
		return nil, refuse(http.StatusBadRequest, "", "the request cannot be read: %v", err)
	}
	return r.MultipartForm, nil
}

// importJob makes the job of a request.
func importJob(form *multipart.Form) (job work.ImportJob, err error) {
	var o importOrder
	if text := form.Value["order"]; len(text) > 0 {
		dec := json.NewDecoder(strings.NewReader(text[0]))
		dec.DisallowUnknownFields()
		if err := dec.Decode(&o); err != nil {
			return job, refuse(http.StatusBadRequest, "order", "the order is not what is wanted here: %v", err)
		}
	}
	job = work.ImportJob{Layers: o.Layers, Columns: o.Columns, Units: o.Units, Season: o.Season, CRS: o.CRS, Block: o.Block, VineSpacingM: o.VineSpacingM,
		RowSpacingM: o.RowSpacingM, OffsetM: o.OffsetM, NumberingEnd: o.NumberingEnd, ScoreScale: o.ScoreScale, By: o.By,
		WholeRows: o.WholeRows, PointErrorM: o.AccuracyM,
		Image: work.ImageAnswers{Index: o.Index, Band: o.Band, Red: o.Red, NoValue: o.NoValue, Factor: o.Factor, Add: o.Add, HalfStripM: o.HalfStripM, NoBeyond: o.NoBeyond,
			Sensor: o.Sensor, NoLayer: o.NoLayer, Sure: o.Sure}}
	if job.Shift, err = work.ParseShiftAnswer(o.Shift); err != nil {
		return job, refuse(http.StatusUnprocessableEntity, "shift", "%v", err)
	}
	if !(o.AccuracyM >= 0 && o.AccuracyM <= 1000) {
		return job, refuse(http.StatusUnprocessableEntity, "accuracy_m", "%v: metres from 0 to 1000", o.AccuracyM)
	}
	if job.As, err = work.ParseKind(o.As); err != nil {
		return job, refuse(http.StatusUnprocessableEntity, "as", "%v", err)
	}
	if job.Form, err = work.ParseFileForm(o.Form); err != nil {
		return job, refuse(http.StatusUnprocessableEntity, "form", "%v", err)
	}
	var known bool
	if job.Decimal, known = word(o.Decimal, map[string]byte{"point": '.', "comma": ','}); !known {
		return job, refuse(http.StatusUnprocessableEntity, "decimal", "%q is not a decimal mark (point, comma)", o.Decimal)
	}
	if job.Delimiter, known = word(o.Delimiter, map[string]byte{"comma": ',', "semicolon": ';', "tab": '\t', "bar": '|'}); !known {
		return job, refuse(http.StatusUnprocessableEntity, "delimiter", "%q is not a delimiter (comma, semicolon, tab, bar)", o.Delimiter)
	}
	if job.Encoding, known = csv.ParseEncoding(o.Encoding); !known {
		return job, refuse(http.StatusUnprocessableEntity, "encoding", "%q is not an encoding (utf-8, windows-1252, utf-16le, utf-16be)", o.Encoding)
	}
	if o.Date != "" {
		if job.Date, err = time.Parse(time.DateOnly, o.Date); err != nil {
			return job, refuse(http.StatusUnprocessableEntity, "date", "write the day as 2027-01-31, not %q", o.Date)
		}
	}
	for _, head := range form.File["file"] {
		job.Files = append(job.Files, work.File{Name: head.Filename, Open: func() (io.ReadSeeker, error) { return head.Open() }})
	}
	return job, nil
}

// word gives what a word stands for; the empty word is nothing.
func word(text string, known map[string]byte) (byte, bool) {
	if text == "" {
		return 0, true
	}
	b, ok := known[text]
	return b, ok
}
