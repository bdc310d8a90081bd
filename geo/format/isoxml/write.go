package isoxml

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/frame"
)

// None stands for "no zone" in problems.
const None = format.None

// Writer names who writes, for the head of the file.
type Writer struct{ Manufacturer, Version string }

const gridName = "GRD00001"

// WriteZip writes a plan as a zip with the folder TASKDATA, version 4.3. A plan in
// which Check finds anything with these limits is refused whole (*Bad): nothing is
// mended in silence. Zone 0, with all rates 0, holds outside the zones, outside
// the field and where the position is lost. made is the time written into the
// zip.
func WriteZip(w io.Writer, p *Plan, l Limits, by Writer, made time.Time) error {
	if problems := Check(p, l); len(problems) > 0 {
		return &Bad{problems}
	}
	text, err := document(p, by)
	if err != nil {
		return err
	}
	z := zip.NewWriter(w)
	add := func(name string, b []byte) {
		if err != nil {
			return
		}
		var to io.Writer
		if to, err = z.CreateHeader(&zip.FileHeader{Name: "TASKDATA/" + name, Method: zip.Deflate, Modified: made}); err == nil {
			_, err = to.Write(b)
		}
	}
	add("TASKDATA.XML", text)
	if p.Grid != nil {
		add(gridName+".bin", p.Grid.bytes(p.Inputs))
	}
	if err == nil {
		err = z.Close()
	}
	if err != nil {
		return fmt.Errorf("write the task data: %w", err)
	}
	return nil
}

// document makes TASKDATA.XML of a plan that has passed Check.
func document(p *Plan, by Writer) ([]byte, error) {
	area := strconv.FormatFloat(math.Round(frame.WGS84.MultiPolygonArea(p.Boundary)), 'f', 0, 64)
	root := xmlRoot{Major: "4", Minor: "3", Maker: by.Manufacturer, Version: by.Version, Origin: "1",
		Customer: []xmlCTR{{"CTR1", p.Customer}}, Farm: []xmlFRM{{"FRM1", p.Farm, "CTR1"}}}
	for i, in := range p.Inputs {
		e, err := in.Unit.entry()
		if err != nil {
			return nil, err
		}
		root.Product = append(root.Product, xmlPDT{id("PDT", i), in.Product})
		root.Shown = append(root.Shown, xmlVPN{id("VPN", i), "0", strconv.FormatFloat(1/e.steps, 'f', 9, 64), strconv.Itoa(e.decimals), string(in.Unit)})
	}
	field := xmlPFD{A: "PFD1", C: p.Field, D: area, E: "CTR1", F: "FRM1"}
	for _, pg := range p.Boundary {
		field.PLN = append(field.PLN, polygon(pg, "1", "Boundary"))
	}
	root.Field = []xmlPFD{field}
	task := xmlTSK{A: "TSK1", B: p.Task, C: "CTR1", D: "FRM1", E: "PFD1", G: "1", H: "0", I: "0", J: "0"}
	none := make([]float64, len(p.Inputs))
	task.TZN = []xmlTZN{zone(p, 0, Zone{Name: "None", Rates: none})}
	if p.Grid == nil || p.Grid.Type == 1 {
		for i, z := range p.Zones {
			if p.Grid != nil {
				z.Area = nil
			}
			task.TZN = append(task.TZN, zone(p, i+1, z))
		}
	} else {
		task.TZN = append(task.TZN, zone(p, 1, Zone{Name: "Grid", Rates: none}))
	}
	if p.Grid != nil {
		task.GRD = []xmlGRD{p.Grid.element(len(p.Inputs))}
	}
	root.Task = []xmlTSK{task}
	var b bytes.Buffer
	b.WriteString(xml.Header)
	e := xml.NewEncoder(&b)
	e.Indent("", " ")
	if err := e.Encode(root); err != nil {
		return nil, fmt.Errorf("write TASKDATA.XML: %w", err)
	}
	b.WriteByte('\n')
	return short(b.Bytes()), nil
}

// short writes elements without content the short way, as terminals know them.
func short(text []byte) []byte {
	for _, name := range []string{"CTR", "FRM", "PDT", "VPN", "PNT", "PDV", "GRD", "TZN", "PLN"} {
		text = bytes.ReplaceAll(text, []byte(`"></`+name+">"), []byte(`"/>`))
	}
	return text
}

func id(word string, i int) string { return word + strconv.Itoa(i+1) }

// zone makes a treatment zone; its rates have passed Check.
func zone(p *Plan, code int, z Zone) xmlTZN {
	out := xmlTZN{A: strconv.Itoa(code), B: z.Name}
	for _, pg := range z.Area {
		out.PLN = append(out.PLN, polygon(pg, "2", ""))
	}
	for i, in := range p.Inputs {
		e, _ := in.Unit.entry()
		v, _ := in.Unit.Stored(z.Rates[i])
		out.PDV = append(out.PDV, xmlPDV{A: fmt.Sprintf("%04X", e.ddi), B: strconv.Itoa(int(v)), C: id("PDT", i), E: id("VPN", i)})
	}
	return out
}

// polygon writes rings closed, positions to 9 places (0.1 mm).
func polygon(pg orb.Polygon, kind, name string) xmlPLN {
	out := xmlPLN{A: kind, B: name}
	for i, r := range pg {
		line := xmlLSG{A: "1"}
		if i > 0 {
			line.A = "2"
		}
		for _, at := range closed(r) {
			line.PNT = append(line.PNT, xmlPNT{A: "2", C: degrees(at[1]), D: degrees(at[0])})
		}
		out.LSG = append(out.LSG, line)
	}
	return out
}

func degrees(v float64) string { return strconv.FormatFloat(v, 'f', 9, 64) }

func closed(r orb.Ring) orb.Ring {
	if len(r) > 0 && r[0] != r[len(r)-1] {
		r = append(r[:len(r):len(r)], r[0])
	}
	return r
}

func (g *Grid) element(inputs int) xmlGRD {
	full := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	out := xmlGRD{A: degrees(g.South), B: degrees(g.West), C: full(g.CellLat), D: full(g.CellLon),
		E: strconv.Itoa(g.Columns), F: strconv.Itoa(g.Rows), G: gridName, H: strconv.Itoa(g.cells()), I: strconv.Itoa(g.Type)}
	if g.Type == 2 {
		out.H, out.J = strconv.Itoa(4*g.cells()*inputs), "1"
	}
	return out
}

// bytes is the binary file of a grid that has passed Check: the codes, or the
// rates as signed 32-bit numbers, least significant byte first.
func (g *Grid) bytes(inputs []Input) []byte {
	if g.Type == 1 {
		return g.Zone
	}
	out := make([]byte, 0, 4*len(g.Rates))
	for i, rate := range g.Rates {
		v, _ := inputs[i%len(inputs)].Unit.Stored(rate)
		out = binary.LittleEndian.AppendUint32(out, uint32(v))
	}
	return out
}
