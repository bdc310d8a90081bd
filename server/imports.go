package server

import (
	"bytes"
	"errors"
	"io"
	"net/http"
	"strings"
	"time"

	"courson/geo/format"
	"courson/server/work"
)

// mostImport is the most that is taken in over HTTP, bytes: about 300,000 surveyed
// points. More goes in by the program.
const mostImport = 32 << 20

// importOrder is points to be held against rows and places.
type importOrder struct {
	As    string `json:"as"` // survey or detections
	Files []struct {
		Name string `json:"name"`
		Text string `json:"text"` // GeoJSON, or a table
	} `json:"files"`
	Day       string  `json:"day"`
	By        string  `json:"by"`
	CRS       string  `json:"crs"`
	Decimal   string  `json:"decimal"` // point or comma; "" as the table shows
	Block     string  `json:"block"`
	Shift     string  `json:"shift"` // ask, take-off or leave
	WholeRows bool    `json:"whole_rows"`
	AccuracyM float64 `json:"accuracy_m"`
	DryRun    bool    `json:"dry_run"`
}

// postImport answers POST /api/imports: the report of the import. A dry run always
// has one; else files that are refused are an error that says why.
func (s *Server) postImport(w http.ResponseWriter, r *http.Request) error {
	var in importOrder
	if err := readJSON(w, r, mostImport, &in); err != nil {
		return err
	}
	job, err := in.job()
	if err != nil {
		return err
	}
	job.Now = s.cfg.Now
	report, err := work.Import(r.Context(), s.cfg.Store, job)
	switch {
	case errors.Is(err, work.ErrRefused) && !in.DryRun:
		return refuse(http.StatusUnprocessableEntity, "files", "%s", problemText(report))
	case err != nil && !errors.Is(err, work.ErrRefused):
		return err
	}
	if !in.DryRun && report.Changed() {
		s.stands.Touched()
	}
	return s.sendJSON(w, r, report)
}

func (in *importOrder) job() (work.ImportJob, error) {
	as := work.Kind(in.As)
	if as != work.Surveyed && as != work.Detections {
		return work.ImportJob{}, refuse(http.StatusUnprocessableEntity, "as", "%q: survey or detections", in.As)
	}
	job := work.ImportJob{As: as, By: in.By, CRS: in.CRS, Block: in.Block, WholeRows: in.WholeRows, PointErrorM: in.AccuracyM, DryRun: in.DryRun,
		Limits: format.Limits{MaxBytes: mostImport}}
	var err error
	if job.Shift, err = work.ParseShiftAnswer(in.Shift); err != nil {
		return job, refuse(http.StatusUnprocessableEntity, "shift", "%v", err)
	}
	switch in.Decimal {
	case "":
	case "point":
		job.Decimal = '.'
	case "comma":
		job.Decimal = ','
	default:
		return job, refuse(http.StatusUnprocessableEntity, "decimal", "%q: point or comma", in.Decimal)
	}
	if !(in.AccuracyM >= 0 && in.AccuracyM <= 1000) {
		return job, refuse(http.StatusUnprocessableEntity, "accuracy_m", "%v: metres from 0 to 1000", in.AccuracyM)
	}
	if in.Day != "" {
		if job.Date, err = time.Parse(time.DateOnly, in.Day); err != nil {
			return job, refuse(http.StatusUnprocessableEntity, "day", "%q is not a day such as 2027-01-31", in.Day)
		}
	}
	for _, f := range in.Files {
		text := []byte(f.Text)
		job.Files = append(job.Files, work.File{Name: f.Name, Open: func() (io.ReadSeeker, error) { return bytes.NewReader(text), nil }})
	}
	return job, nil
}

// problemText puts the problems of a report into one text.
func problemText(r work.Report) string {
	var lines []string
	for _, p := range r.Problems {
		lines = append(lines, p.Error())
	}
	return strings.Join(lines, "; ")
}
