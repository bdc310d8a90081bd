package isoxml

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format"
)

// Log is what a machine wrote down while it worked: places, and beside each the
// values in force there.
type Log struct {
	Task    string // its name, else its id
	File    string // TLG00001.bin
	Places  []orb.Point
	Columns []LogColumn
	NoPlace int // records without a usable position; they are left out
}

// LogColumn is one value of a machine's part: NaN until it is first written down;
// then it holds until it is written down again.
type LogColumn struct {
	DDI     int
	Element string    // name of the part, else its id; "" where the file does not say
	Stored  []float64 // as in the file: whole steps of the data dictionary
}

// Limits of logs, chosen by us.
const (
	mostLogRecords = 2_000_000
	mostLogValues  = 8_000_000 // records x columns
)

type xmlLogs struct {
	XMLName xml.Name `xml:"ISO11783_TaskData"`
	Device  []xmlDVC `xml:"DVC"`
	Task    []struct {
		A   string   `xml:",attr"` // id
		B   string   `xml:",attr"` // name
		TLG []xmlTLG `xml:"TLG"`
	} `xml:"TSK"`
}

type xmlDVC struct {
	DET []struct {
		A string `xml:",attr"` // id
		D string `xml:",attr"` // name
	} `xml:"DET"`
}

type xmlTLG struct {
	A string `xml:",attr"` // file without suffix
	C string `xml:",attr"` // type; 1 binary
}

// LogFile tells whether a file of a task set, by its name, belongs to its logs.
func LogFile(name string) bool {
	up := strings.ToUpper(name)
	return up == mainFile || strings.HasPrefix(up, "TLG") && (strings.HasSuffix(up, ".XML") || strings.HasSuffix(up, ".BIN"))
}

// ReadLogZip reads the logs of the task data in a zip: TASKDATA.XML in whatever
// folder, and for each log its head TLG00001.xml and its records TLG00001.bin. Errors are
// *format.Problem; of size with the cause format.ErrTooLarge.
func ReadLogZip(src io.ReaderAt, size int64, l format.Limits) ([]Log, []format.Notice, error) {
	files, err := unzipped(src, size, l, LogFile)
	if err != nil {
		return nil, nil, err
	}
	return ReadLogs(files)
}

// ReadLogs reads the logs of task data by the names of their files, without
// folder, in the order of the tasks.
func ReadLogs(files map[string][]byte) ([]Log, []format.Notice, error) {
	r := &reader{files: files}
	text, name := r.found(mainFile)
	if text == nil {
		return nil, nil, fault("", None, "", "there is no TASKDATA.XML", "", "the folder TASKDATA with TASKDATA.XML in it")
	}
	var root xmlLogs
	if err := r.decode(text, name, &root); err != nil {
		return nil, r.notices.List(), err
	}
	parts := map[string]string{}
	for _, d := range root.Device {
		for _, e := range d.DET {
			parts[e.A] = e.D
		}
	}
	var out []Log
	for _, t := range root.Task {
		for _, x := range t.TLG {
			l, err := r.log(x, parts)
			if err != nil {
				return nil, r.notices.List(), err
			}
			if l.Task = strings.TrimSpace(t.B); l.Task == "" {
				l.Task = t.A
			}
			out = append(out, l)
		}
	}
	return out, r.notices.List(), nil
}

// decode reads one XML file.
func (r *reader) decode(text []byte, name string, into any) error {
	d := xml.NewDecoder(bytes.NewReader(text))
	d.CharsetReader = r.charset
	if err := d.Decode(into); err != nil {
		line, _ := d.InputPos()
		p := fault(name, None, "", "not well-formed XML, or not what its name says", err.Error(), "the file as the terminal wrote it")
		p.Line, p.Cause = line, err
		return p
	}
	return nil
}

// log reads one log.
func (r *reader) log(x xmlTLG, parts map[string]string) (Log, error) {
	if x.C != "" && strings.TrimSpace(x.C) != "1" {
		return Log{}, fault(mainFile, None, "TLG C", "a log of a kind that is not read", format.Quote(x.C), "1: binary")
	}
	head, headName := r.found(x.A + ".xml")
	records, name := r.found(x.A + ".bin")
	if head == nil || records == nil || x.A == "" {
		return Log{}, fault(mainFile, None, "TLG A", "the files of the log are missing", format.Quote(x.A), "its .xml and .bin beside TASKDATA.XML")
	}
	var h xmlTIM
	if err := r.decode(head, headName, &h); err != nil {
		return Log{}, err
	}
	shape, err := h.shape(headName, parts)
	if err != nil {
		return Log{}, err
	}
	return r.records(shape, name, records)
}

// found finds a file whatever its capitals: those of terminals differ.
func (r *reader) found(name string) ([]byte, string) {
	for other, b := range r.files {
		if strings.EqualFold(other, name) {
			return b, other
		}
	}
	return nil, ""
}

// xmlTIM is the head of a log. An attribute that is there and empty stands in every
// record; one with a value holds for all; one that is not there is unknown.
type xmlTIM struct {
	XMLName xml.Name   `xml:"TIM"`
	Attr    []xml.Attr `xml:",any,attr"`
	PTN     *struct {
		Attr []xml.Attr `xml:",any,attr"`
	} `xml:"PTN"`
	DLV []struct {
		A string `xml:",attr"` // entry of the data dictionary
		B string `xml:",attr"` // value that holds for all; "" in the records
		C string `xml:",attr"` // part of the machine
	} `xml:"DLV"`
}

// shape is what a record of a log holds, as its head says.
type shape struct {
	steps   []step
	columns []LogColumn
	fixed   []*int32 // of columns whose value holds for all
	placed  bool
}

// step is a field at the beginning of each record.
type step struct {
	of    byte // 'N' north, 'E' east, 'S' state of the position; 0: passed over
	bytes int
}

// positionSteps are the fields of a position in the order in which records hold
// them, with their lengths.
var positionSteps = [...]struct {
	attr  string
	of    byte
	bytes int
}{{"A", 'N', 4}, {"B", 'E', 4}, {"C", 0, 4}, {"D", 'S', 1}, {"E", 0, 2}, {"F", 0, 2}, {"G", 0, 1}, {"H", 0, 4}, {"I", 0, 2}}

func (h *xmlTIM) shape(name string, parts map[string]string) (*shape, error) {
	s := &shape{}
	if v, there := attrOf(h.Attr, "A"); !there || v != "" {
		return nil, fault(name, None, "TIM A", "the records have no time of their own", format.Quote(v), "an empty A: the time stands in every record")
	}
	s.steps = append(s.steps, step{0, 6}) // milliseconds of the day, days since 1980
	north, east := false, false
	if h.PTN != nil {
		for _, f := range positionSteps {
			if v, there := attrOf(h.PTN.Attr, f.attr); there && v == "" {
				s.steps = append(s.steps, step{f.of, f.bytes})
				north, east = north || f.of == 'N', east || f.of == 'E'
			}
		}
	}
	s.placed = north && east
	for k, d := range h.DLV {
		ddi, err := strconv.ParseUint(strings.TrimSpace(d.A), 16, 16)
		if err != nil {
			return nil, fault(name, None, fmt.Sprintf("DLV %d A", k+1), "not an entry of the data dictionary", format.Quote(d.A), "four hex digits, such as 0007")
		}
		c := LogColumn{DDI: int(ddi), Element: strings.TrimSpace(parts[d.C])}
		if c.Element == "" {
			c.Element = d.C
		}
		var fixed *int32
		if text := strings.TrimSpace(d.B); text != "" {
			v, err := strconv.ParseInt(text, 10, 32)
			if err != nil {
				return nil, fault(name, None, fmt.Sprintf("DLV %d B", k+1), "not a whole number of 32 bits", format.Quote(d.B), "a value, or nothing")
			}
			whole := int32(v)
			fixed = &whole
		}
		s.columns, s.fixed = append(s.columns, c), append(s.fixed, fixed)
	}
	if len(s.columns) > 255 {
		return nil, fault(name, None, "DLV", "too many values", strconv.Itoa(len(s.columns)), "at most 255, as a record counts them in one byte")
	}
	return s, nil
}

func attrOf(list []xml.Attr, name string) (string, bool) {
	for _, a := range list {
		if a.Name.Local == name && a.Name.Space == "" {
			return strings.TrimSpace(a.Value), true
		}
	}
	return "", false
}
