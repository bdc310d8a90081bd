package geojson

import (
	"encoding/json"
	"errors"
	"fmt"

	"courson/geo/format"
	"courson/geo/frame"
)

// ErrProjected is the cause of the refusal of numbers that are no degrees, in a
// file that names no coordinate system.
var ErrProjected = errors.New("no degrees")

// stateCRS takes the coordinate system that the user states for the file.
func (d *Decoder) stateCRS(name string) error {
	c, err := frame.ParseCRS(name)
	if err != nil {
		return &format.Problem{Feature: format.None, Field: "coordinate system", What: err.Error(), Found: format.Quote(name), Wanted: "a supported EPSG code", Cause: err}
	}
	d.stated = true
	d.setCRS(c)
	return nil
}

// setCRS has coordinates brought from c to longitude and latitude on WGS 84.
func (d *Decoder) setCRS(c frame.CRS) {
	if c.Code == frame.WGS84LonLat.Code {
		d.system = nil
		return
	}
	d.system = &c
	text := fmt.Sprintf("brought from EPSG:%d (%s) to longitude and latitude", c.Code, c.Name)
	if c.Datum.Assumed != "" {
		text += "; " + c.Datum.Assumed
	}
	d.notices.Merge(format.Notice{Field: "coordinate system", Text: text, Count: 1})
}

// oldCRS is the crs member of the GeoJSON of 2008, which RFC 7946 section 4
// has taken out.
type oldCRS struct {
	Type       string
	Properties struct {
		Name string
		Code json.Number
	}
}

// crsMember reads the value of "crs". A system that cannot be read is refused;
// so is one that comes after features that were read without it.
func (d *Decoder) crsMember() error {
	s := d.s
	line := s.line
	kind, text, err := s.value(nil, true, 1)
	if err != nil {
		return err
	}
	if kind == Null {
		d.notices.Add("", "crs", s.feature, line, "null; coordinates are taken as longitude and latitude (RFC 7946 section 4)")
		return nil
	}
	fault := func(what, wanted string, cause error) error {
		return &format.Problem{Feature: s.feature, Line: line, Field: "crs", What: what, Found: format.Quote(string(text)), Wanted: wanted, Cause: cause}
	}
	var old oldCRS
	if kind != JSON || json.Unmarshal(text, &old) != nil {
		return fault("not a coordinate system", `{"type": "name", "properties": {"name": "…"}}, or better none: longitude and latitude (RFC 7946 section 4)`, nil)
	}
	name := old.Properties.Name
	if old.Type == "EPSG" {
		name = "EPSG:" + old.Properties.Code.String()
	}
	c, err := frame.ParseCRS(name)
	if err != nil {
		return fault(err.Error(), "longitude and latitude (RFC 7946 section 4), or a supported system", err)
	}
	return d.adoptCRS(c, line)
}

// LateCRSError is the cause of the refusal of a crs member that comes after
// features: read the file again with the system it names as Options.CRS.
type LateCRSError struct{ EPSG int }

// Error names the system.
func (e *LateCRSError) Error() string {
	return fmt.Sprintf("the coordinate system EPSG:%d is named after the features", e.EPSG)
}

func (d *Decoder) adoptCRS(c frame.CRS, line int) error {
	switch now := d.currentEPSG(); {
	case now == c.Code:
		return nil
	case d.stated:
		return &format.Problem{Feature: d.s.feature, Line: line, Field: "crs", What: "the file names another coordinate system than was stated",
			Found: fmt.Sprintf("EPSG:%d", c.Code), Wanted: fmt.Sprintf("EPSG:%d, or nothing stated", now)}
	case d.count > 0 && (d.s.feature > 0 || d.s.feature == format.None):
		cause := &LateCRSError{EPSG: c.Code}
		return &format.Problem{Feature: format.None, Line: line, Field: "crs", What: cause.Error(), Cause: cause,
			Wanted: fmt.Sprintf("it before the features, or stated when the file is read (EPSG:%d)", c.Code)}
	}
	d.setCRS(c)
	return nil
}

func (d *Decoder) currentEPSG() int {
	if d.system == nil {
		return frame.WGS84LonLat.Code
	}
	return d.system.Code
}
