package isoxml

import (
	"encoding/binary"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"courson/geo/format"
)

// A record of a log, least significant byte first (ISO 11783-10, annex D): the time
// of the day in ms (4 bytes) and the days since 1980-01-01 (2); of the position what
// its head leaves empty: north and east in 1e-7 degrees (4 each, signed), height in mm
// (4), state (1), two dilutions of precision (2 each), satellites (1), time and day of
// the receiver (4, 2); then how many values follow (1), and for each its number in the
// head from 0 (1) and itself (4, signed).

// The states of a position in which it is none. 15, not available, is of the state
// alone.
const (
	stateNoFix = 0
	stateError = 14
)

// record is what is read of one.
type record struct {
	north, east int32
	state       byte
	stated      bool
	values      []byte // 5 bytes each
}

// records reads all records of a log. A last one that is cut short is left out
// with a notice, as when a terminal was switched off.
func (r *reader) records(s *shape, name string, b []byte) (Log, error) {
	l := Log{File: name, Columns: s.columns}
	now := make([]float64, len(s.columns))
	for k := range now {
		now[k] = math.NaN()
		if f := s.fixed[k]; f != nil {
			now[k] = float64(*f)
		}
	}
	for n := 0; len(b) > 0; n++ {
		rec, rest, ok := s.next(b)
		if !ok {
			r.notices.Add(name, "", None, 0, "the last record is cut short and left out")
			break
		}
		if b = rest; n >= mostLogRecords || (len(l.Places)+1)*len(s.columns) > mostLogValues {
			return Log{}, &format.Problem{File: name, Feature: None, What: "the log is too long", Cause: format.ErrTooLarge, Wanted: fmt.Sprintf("at most %d records, or %d values in all: one task, or one day, in a file", mostLogRecords, mostLogValues)}
		}
		for v := rec.values; len(v) > 0; v = v[5:] {
			k := int(v[0])
			if k >= len(now) {
				return Log{}, fault(name, None, fmt.Sprintf("record %d", n+1), "names a value that the head of the log does not have", fmt.Sprint(k), fmt.Sprintf("0 to %d", len(now)-1))
			}
			now[k] = float64(int32(binary.LittleEndian.Uint32(v[1:])))
		}
		at, ok := rec.place(s)
		if !ok {
			l.NoPlace++
			continue
		}
		l.Places = append(l.Places, at)
		for k := range now {
			l.Columns[k].Stored = append(l.Columns[k].Stored, now[k])
		}
	}
	return l, nil
}

// next takes one record off; false where it is not whole.
func (s *shape) next(b []byte) (rec record, rest []byte, ok bool) {
	for _, f := range s.steps {
		if len(b) < f.bytes {
			return rec, nil, false
		}
		switch f.of {
		case 'N':
			rec.north = int32(binary.LittleEndian.Uint32(b))
		case 'E':
			rec.east = int32(binary.LittleEndian.Uint32(b))
		case 'S':
			rec.state, rec.stated = b[0], true
		}
		b = b[f.bytes:]
	}
	if len(b) < 1 || len(b) < 1+5*int(b[0]) {
		return rec, nil, false
	}
	end := 1 + 5*int(b[0])
	rec.values = b[1:end]
	return rec, b[end:], true
}

// place gives the position of a record, where it has one.
func (rec *record) place(s *shape) (orb.Point, bool) {
	lon, lat := float64(rec.east)/1e7, float64(rec.north)/1e7
	if !s.placed || math.Abs(lon) > 180 || math.Abs(lat) > 90 || rec.north == 0 && rec.east == 0 {
		return orb.Point{}, false
	}
	if rec.stated && (rec.state == stateNoFix || rec.state == stateError) {
		return orb.Point{}, false
	}
	return orb.Point{lon, lat}, true
}
