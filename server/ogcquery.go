package server

import (
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/vine"
)

// How many features a page holds.
const (
	ogcLimit    = 1000
	ogcMaxLimit = 10_000
)

// ogcQuery is what a request for features asks for.
type ogcQuery struct {
	limit       int
	boxes       []ogcBox // nil: everywhere
	datetime    string
	seasonAsked int // 0: not asked for
	season      int // that is shown
	block       string
	filters     []ogcFilter
	from        *ogcCursor // nil: the first page
}

// ogcCursor names the feature that a page follows or goes before.
type ogcCursor struct {
	before bool
	block  vine.ID
	id     string
}

// ogcParams refuses parameters that are not described and those given twice.
// Names may be left out of known that are fields.
func ogcParams(r *http.Request, known ...string) (url.Values, error) {
	q, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		return nil, refuse(http.StatusBadRequest, "", "the query cannot be read: %v", err)
	}
	for name, values := range q {
		if !slices.Contains(known, name) {
			wanted := "this address takes no parameters"
			if len(known) > 0 {
				wanted = "known are " + strings.Join(known, ", ")
			}
			return nil, refuse(http.StatusBadRequest, name, "there is no parameter %q here; %s", name, wanted)
		}
		if len(values) > 1 {
			return nil, refuse(http.StatusBadRequest, name, "parameter %s is given %d times; give it once", name, len(values))
		}
	}
	return q, nil
}

// filterFields are the fields that features can be picked by; the season is a
// parameter of its own.
func (c *ogcCollection) filterFields() []ogcField {
	return slices.DeleteFunc(slices.Clone(c.fields), func(f ogcField) bool { return f.name == "season" })
}

// ogcPageParams are the parameters that every collection's items have.
func ogcPageParams() []string {
	return []string{"limit", "bbox", "datetime", "season", "after", "before"}
}

// readOGCQuery reads the parameters of a collection's items.
func (c *ogcCollection) readOGCQuery(r *http.Request) (*ogcQuery, url.Values, error) {
	known := ogcPageParams()
	for _, f := range c.filterFields() {
		known = append(known, f.name)
	}
	values, err := ogcParams(r, known...)
	if err != nil {
		return nil, nil, err
	}
	q := &ogcQuery{limit: ogcLimit, datetime: values.Get("datetime")}
	if values.Has("datetime") && q.datetime == "" {
		return nil, nil, badDatetime("")
	}
	if values.Has("limit") {
		if q.limit, err = readLimit(values.Get("limit")); err != nil {
			return nil, nil, err
		}
	}
	if values.Has("bbox") {
		if q.boxes, err = readBBox(values.Get("bbox")); err != nil {
			return nil, nil, err
		}
	}
	if values.Has("season") {
		if q.seasonAsked, err = readSeason(values.Get("season")); err != nil {
			return nil, nil, err
		}
	}
	if q.from, err = readCursor(values); err != nil {
		return nil, nil, err
	}
	return q, values, c.readFilters(q, values)
}

// readFilters reads the values asked for. The block is kept apart: with it the
// other blocks need not be looked at.
func (c *ogcCollection) readFilters(q *ogcQuery, values url.Values) error {
	for _, f := range c.filterFields() {
		if !values.Has(f.name) {
			continue
		}
		filter, err := newOGCFilter(f, values.Get(f.name))
		if err != nil {
			return err
		}
		if f.name == c.blockField {
			q.block = filter.want.text
			continue
		}
		q.filters = append(q.filters, filter)
	}
	return nil
}

// readLimit reads how many features are wanted; more than the most is the most.
func readLimit(text string) (int, error) {
	n, err := strconv.ParseUint(text, 10, 64)
	if err != nil || n == 0 {
		return 0, refuse(http.StatusBadRequest, "limit", "limit %q: wanted is a whole number from 1 to %d", text, ogcMaxLimit)
	}
	return int(min(n, ogcMaxLimit)), nil
}

func readSeason(text string) (int, error) {
	n, err := strconv.Atoi(text)
	if err != nil || n < vine.MinSeason || n > vine.MaxSeason {
		return 0, refuse(http.StatusBadRequest, "season", "season %q: wanted is a harvest year such as 2027", text)
	}
	return n, nil
}

// readBBox reads four numbers, or six of which the heights do not count since no
// feature has one. Where west lies east of east the box crosses 180 degrees and
// comes out as two.
func readBBox(text string) ([]ogcBox, error) {
	bad := func(why string) ([]ogcBox, error) {
		return nil, refuse(http.StatusBadRequest, "bbox",
			"bbox %q: %s; wanted is west,south,east,north in degrees (WGS 84), or with heights west,south,lowest,east,north,highest", text, why)
	}
	var v []float64
	for part := range strings.SplitSeq(text, ",") {
		f, err := strconv.ParseFloat(part, 64)
		if err != nil || math.IsNaN(f) || math.IsInf(f, 0) {
			return bad(strconv.Quote(part) + " is not a number")
		}
		v = append(v, f)
	}
	switch len(v) {
	case 4:
	case 6:
		if v[2] > v[5] {
			return bad("the lowest height lies above the highest")
		}
		v = []float64{v[0], v[1], v[3], v[4]}
	default:
		return bad("there are " + strconv.Itoa(len(v)) + " numbers")
	}
	west, south, east, north := v[0], v[1], v[2], v[3]
	switch {
	case math.Abs(west) > 180 || math.Abs(east) > 180:
		return bad("longitudes lie between -180 and 180")
	case math.Abs(south) > 90 || math.Abs(north) > 90:
		return bad("latitudes lie between -90 and 90")
	case south > north:
		return bad("south lies north of north")
	case west > east:
		return []ogcBox{boxOf(west, south, 180, north), boxOf(-180, south, east, north)}, nil
	}
	return []ogcBox{boxOf(west, south, east, north)}, nil
}

func boxOf(west, south, east, north float64) ogcBox {
	return ogcBox{Min: orb.Point{west, south}, Max: orb.Point{east, north}}
}

// readCursor reads the place of a page as the links next and prev write it.
func readCursor(values url.Values) (*ogcCursor, error) {
	name := "after"
	if values.Has("before") {
		if name = "before"; values.Has("after") {
			return nil, refuse(http.StatusBadRequest, "before", "after and before exclude each other; follow the links next and prev")
		}
	}
	if !values.Has(name) {
		return nil, nil
	}
	block, id, ok := strings.Cut(values.Get(name), ".")
	n, err := strconv.ParseInt(block, 10, 64)
	if !ok || err != nil || id == "" {
		return nil, badCursor(name)
	}
	return &ogcCursor{before: name == "before", block: n, id: id}, nil
}

func badCursor(name string) error {
	return refuse(http.StatusBadRequest, name, "there is no such page (any more); begin again at the first and follow its links")
}

func (c *ogcCursor) name() string {
	if c.before {
		return "before"
	}
	return "after"
}

func cursorText(block vine.ID, id string) string { return strconv.FormatInt(block, 10) + "." + id }
