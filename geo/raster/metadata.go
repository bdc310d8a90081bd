package raster

import (
	"encoding/xml"
	"math"
	"strconv"
	"strings"
)

// readMetadata takes scale, offset and name of bands from GDAL's metadata, an
// XML text: <Item name="SCALE" sample="0" role="scale">0.0001</Item>.
func (r *Raster) readMetadata(text string) {
	if text == "" {
		return
	}
	var meta struct {
		Item []struct {
			Name   string `xml:"name,attr"`
			Sample string `xml:"sample,attr"`
			Role   string `xml:"role,attr"`
			Value  string `xml:",chardata"`
		}
	}
	if err := xml.Unmarshal([]byte(text), &meta); err != nil {
		r.note("the metadata of the file cannot be read, so scale and offset may be missing: %v", err)
		return
	}
	for _, it := range meta.Item {
		n, err := strconv.Atoi(it.Sample)
		if err != nil || n < 0 || n >= len(r.Bands) {
			continue
		}
		b, value := &r.Bands[n], strings.TrimSpace(it.Value)
		switch it.Role {
		case "description":
			b.Name = value
		case "scale":
			r.scale(&b.Scale, n, "scale", value)
		case "offset":
			r.scale(&b.Offset, n, "offset", value)
		}
	}
	for i := range r.Bands {
		r.Bands[i].Scaled = r.Bands[i].Scale != 1 || r.Bands[i].Offset != 0
	}
}

func (r *Raster) scale(to *float64, band int, what, value string) {
	v, err := strconv.ParseFloat(value, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) || what == "scale" && v == 0 {
		r.note("band %d: the %s %q is not a number to scale by and is left out", band+1, what, value)
		return
	}
	*to = v
}

// readNoData takes the value that stands for "no value", the same in all bands.
func (r *Raster) readNoData(text string) {
	if text == "" {
		return
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(strings.ToLower(text)), 64)
	if err != nil && !math.IsInf(v, 0) {
		r.note("the no-data value %q is not a number and is left out", text)
		return
	}
	if least, most, ok := r.image.whole(); ok && !(v >= least && v <= most && v == math.Trunc(v)) {
		r.note("the no-data value %s cannot stand in numbers of type %s and is left out", text, r.Type)
		return
	}
	if r.image.kind == kindFloat && r.image.bits == 32 {
		v = float64(float32(v))
	}
	for i := range r.Bands {
		r.Bands[i].NoData, r.Bands[i].HasNoData = v, true
	}
}
