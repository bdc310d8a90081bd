package isoxml

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
	"golang.org/x/text/encoding/charmap"

	"courson/geo/format"
)

// Data is what is read from task data.
type Data struct {
	Major, Minor     int
	Software         string // who wrote it, and its version
	Customers, Farms []string
	Products         []string
	Fields           []Field
	Tasks            []Task
}

// Field is a field with its boundary.
type Field struct {
	ID, Name string
	AreaM2   float64
	Boundary orb.MultiPolygon
}

// Task is a task with its zones and grids.
type Task struct {
	ID, Name      string
	Status        int    // 1 planned … 4 completed
	Field         string // id, "" for none
	Zones         []ReadZone
	Grids         []ReadGrid
	Default, Lost int // codes of the zones that hold elsewhere, and without a position; -1: none
	Outside       int // outside the field
}

// ReadZone is a treatment zone.
type ReadZone struct {
	Code   int
	Name   string
	Values []Value
	Area   orb.MultiPolygon
}

// Value is one process value of a zone.
type Value struct {
	DDI     int
	Stored  int32
	Shown   float64 // as the file's presentation shows it; Stored where it has none
	Unit    string  // "" where it has none
	Product string
	scale   float64
	offset  float64
}

// ReadGrid is a grid: of type 1 codes of zones, of type 2 shown values, cell by
// cell from the south-west corner eastward, in a cell one for each value of its
// zone.
type ReadGrid struct {
	Grid
	Values []Value // type 2: what the values of a cell are
}

// ReadZip reads the task data in a zip: TASKDATA.XML in whatever folder, and its
// grid files. All that is wrong comes in one *Bad; what was taken over although it
// is not as the standard has it, in notices.
func ReadZip(src io.ReaderAt, size int64, l format.Limits) (*Data, []format.Notice, error) {
	files, err := unzipped(src, size, l, func(up string) bool {
		return up == mainFile || strings.HasPrefix(up, "GRD") && strings.HasSuffix(up, ".BIN")
	})
	if err != nil {
		return nil, nil, err
	}
	return Read(files)
}

// mostBytes is how much a zip may hold unpacked, where nothing else is said.
const mostBytes = 256 << 20

// unzipped unpacks the files that are wanted by their names in capitals, without
// their folder.
func unzipped(src io.ReaderAt, size int64, l format.Limits, want func(up string) bool) (map[string][]byte, error) {
	if l.MaxBytes <= 0 {
		l.MaxBytes = mostBytes
	}
	members, err := format.Unzip(src, size, l, func(name string) bool { return want(strings.ToUpper(path.Base(name))) })
	if err != nil {
		return nil, err
	}
	files := map[string][]byte{}
	for _, m := range members {
		name := path.Base(m.Name)
		if _, twice := files[name]; twice {
			return nil, fault(m.Name, None, "", "the same file twice in the zip", "", "one of each")
		}
		files[name] = m.Data
	}
	return files, nil
}

// reader reads one set of task data.
type reader struct {
	files   map[string][]byte
	root    xmlRoot
	data    *Data
	notices format.Notices
	bad     Bad
	shown   map[string]xmlVPN
	product map[string]string
}

const mainFile = "TASKDATA.XML"

// Read reads task data of its files by their names, without folder.
func Read(files map[string][]byte) (*Data, []format.Notice, error) {
	r := &reader{files: files, data: &Data{}, shown: map[string]xmlVPN{}, product: map[string]string{}}
	text, name := r.file(mainFile)
	if text == nil {
		return nil, nil, fault("", None, "", "there is no TASKDATA.XML", "", "the folder TASKDATA with TASKDATA.XML in it")
	}
	if err := r.parse(text, name); err != nil {
		return nil, r.notices.List(), err
	}
	r.head()
	for _, f := range r.root.Field {
		r.field(f)
	}
	for _, t := range r.root.Task {
		r.task(t)
	}
	if len(r.bad.Problems) > 0 {
		return nil, r.notices.List(), &r.bad
	}
	return r.data, r.notices.List(), nil
}

// file finds a file whatever its capitals, with a notice where they are wrong.
func (r *reader) file(name string) ([]byte, string) {
	if b, ok := r.files[name]; ok {
		return b, name
	}
	for other, b := range r.files {
		if strings.EqualFold(other, name) {
			r.notices.Add(other, "", None, 0, "the name should be "+name+", with these capitals: many terminals do not find it otherwise")
			return b, other
		}
	}
	return nil, ""
}

func (r *reader) blame(field, what, found, wanted string) {
	const most = 50
	if len(r.bad.Problems) < most {
		r.bad.Problems = append(r.bad.Problems, fault(mainFile, None, field, what, found, wanted))
	}
}

// parse decodes the XML and looks through it for what we do not know.
func (r *reader) parse(text []byte, name string) error {
	for _, into := range []any{&r.root, nil} {
		d := xml.NewDecoder(bytes.NewReader(text))
		d.CharsetReader = r.charset
		var err error
		if into != nil {
			err = d.Decode(into)
		} else {
			err = r.unknown(d)
		}
		if err != nil {
			line, _ := d.InputPos()
			p := fault(name, None, "", "not well-formed XML, or not task data", err.Error(), "a file that begins with ISO11783_TaskData and closes what it opens")
			p.Line, p.Cause = line, err
			return p
		}
	}
	return nil
}

func (r *reader) charset(label string, in io.Reader) (io.Reader, error) {
	switch strings.ToLower(label) {
	case "utf-8", "utf8", "us-ascii":
		return in, nil
	case "iso-8859-1", "latin1", "windows-1252":
		r.notices.Add(mainFile, "", None, 0, "the file is in "+label+"; the standard wants UTF-8")
		return charmap.Windows1252.NewDecoder().Reader(in), nil
	}
	return nil, fmt.Errorf("the encoding %q is not read", label)
}

const deepest = 30

// unknown tells of elements and attributes that the elements above do not have.
// Those of makers (P, a number, an underscore, a name) are legal.
func (r *reader) unknown(d *xml.Decoder) error {
	attrs := map[string]string{"CTR": "ABCDEFGHIJ", "FRM": "ABCDEFGHI", "PDT": "ABCDEFGHIJKLM", "VPN": "ABCDE", "PFD": "ABCDEFGHI",
		"PLN": "ABCDE", "LSG": "ABCDEF", "PNT": "ABCDEFGHIJ", "TSK": "ABCDEFGHIJ", "TZN": "ABCDE", "PDV": "ABCDEF", "GRD": "ABCDEFGHIJ"}
	legal := "AFE AFR ASP BSN CAN CAT CCT CCL CLD CLT CNN CPC CTP DAN DET DLT DOR DPD DPT DVC DVP GAN GGP GPN OTP OTQ OTR PGP PTN SPR TCC TIM TLG VRN WAN WKR XFR XFC BSR"
	depth := 0
	for {
		t, err := d.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		switch t := t.(type) {
		case xml.EndElement:
			depth--
		case xml.StartElement:
			if depth++; depth > deepest {
				return fmt.Errorf("elements nested too deeply")
			}
			name := t.Name.Local
			known, ours := attrs[name]
			switch {
			case name == "ISO11783_TaskData" || strings.HasPrefix(name, "P") && strings.Contains(name, "_") || strings.Contains(legal, name) && len(name) == 3:
				continue
			case !ours:
				r.notices.Add(mainFile, name, None, 0, "an element that the standard does not have is left out")
				continue
			}
			for _, a := range t.Attr {
				if n := a.Name.Local; !(len(n) == 1 && strings.Contains(known, n)) && !(strings.HasPrefix(n, "P") && strings.Contains(n, "_")) && a.Name.Space == "" {
					r.notices.Add(mainFile, name+" "+n, None, 0, "an attribute that the standard does not have is left out")
				}
			}
		}
	}
}

// head reads version, names, products and presentations.
func (r *reader) head() {
	x := &r.root
	r.data.Major, r.data.Minor = r.whole("VersionMajor", x.Major, 0, 99), r.whole("VersionMinor", x.Minor, 0, 99)
	if r.data.Major != 3 && r.data.Major != 4 {
		r.blame("VersionMajor", "a version that is not read", format.Quote(x.Major), "3 or 4")
	}
	r.data.Software = strings.TrimSpace(x.Maker + " " + x.Version)
	ids := map[string]bool{}
	once := func(id string) {
		if id == "" {
			r.blame("A", "an id is missing", "", "CTR1, FRM1, PDT1 …")
		} else if ids[id] {
			r.blame(id, "the same id twice", "", "each once")
		}
		ids[id] = true
	}
	for _, c := range x.Customer {
		once(c.A)
		r.data.Customers = append(r.data.Customers, c.B)
	}
	for _, f := range x.Farm {
		once(f.A)
		r.data.Farms = append(r.data.Farms, f.B)
	}
	for _, p := range x.Product {
		once(p.A)
		r.product[p.A] = p.B
		r.data.Products = append(r.data.Products, p.B)
	}
	for _, v := range x.Shown {
		once(v.A)
		r.shown[v.A] = v
	}
}

func (r *reader) whole(field, s string, least, most int) int {
	v, err := strconv.Atoi(strings.TrimSpace(s))
	if err != nil || v < least || v > most {
		r.blame(field, "not a whole number in range", format.Quote(s), fmt.Sprintf("%d to %d", least, most))
		return least
	}
	return v
}

func (r *reader) decimal(field, s string, least, most float64) float64 {
	v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err != nil || !(v >= least && v <= most) {
		r.blame(field, "not a number in range", format.Quote(s), fmt.Sprintf("%v to %v", least, most))
		return least
	}
	return v
}
