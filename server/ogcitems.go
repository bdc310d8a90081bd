package server

import (
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"courson/geo/vine"
	"courson/server/stands"
)

// crs84 is the only coordinate system: longitude, latitude on WGS 84.
const crs84 = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"

const geoJSONType = "application/geo+json"

// ogcVersion is part of every tag: raise it when the same stands make other
// features.
const ogcVersion = 1

// ogcLink is a link of RFC 8288 as OGC API documents write it.
type ogcLink struct {
	Href  string `json:"href"`
	Rel   string `json:"rel"`
	Type  string `json:"type"`
	Title string `json:"title,omitempty"`
}

func (s *Server) ogcURL(r *http.Request) string { return s.ownURL(r) + "/ogc" }

func (s *Server) collectionURL(r *http.Request, c *ogcCollection) string {
	return s.ogcURL(r) + "/collections/" + c.id
}

// getOGCItems answers /ogc/collections/{collection}/items.
func (s *Server) getOGCItems(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	c, err := ogcCollectionOf(r)
	if err != nil {
		return err
	}
	q, values, err := c.readOGCQuery(r)
	if err != nil {
		return err
	}
	shown, err := s.ogcSeason(ctx, q)
	if err != nil {
		return err
	}
	s.desk.Look(q.season)
	var heads []*stands.Head
	var without []string
	if shown {
		if heads, err = s.ogcHeads(ctx, c, q); err != nil {
			return err
		}
		if c.needsFindings {
			if without, err = s.allFound(heads, q.season); err != nil {
				return err
			}
		}
	}
	tag := s.ogcTag(r, q.season, heads, without)
	if notModified(w, r, tag) {
		return nil
	}
	pg, err := s.steadyPage(ctx, c, q, heads)
	if err != nil {
		return err
	}
	head := collectionHead{TimeStamp: s.cfg.Now().UTC().Format(time.RFC3339), NumberMatched: pg.total, NumberReturned: pg.past - pg.first,
		Links: s.pageLinks(r, c, values, &pg), NotWorkedOut: without}
	return s.sendFeatures(w, r, c, head, &pg)
}

// steadyPage finds a page anew where a block changed while it was found.
func (s *Server) steadyPage(ctx context.Context, c *ogcCollection, q *ogcQuery, heads []*stands.Head) (ogcPage, error) {
	for range 3 {
		pg, err := s.page(ctx, c, q, heads)
		if !errors.Is(err, errOGCMoved) {
			return pg, err
		}
	}
	return ogcPage{}, refuse(http.StatusServiceUnavailable, "", "the ground is being changed; try again in a moment")
}

// pageLinks are the links of a page.
func (s *Server) pageLinks(r *http.Request, c *ogcCollection, asked url.Values, pg *ogcPage) []ogcLink {
	items := s.collectionURL(r, c) + "/items"
	page := func(rel, title string, change func(url.Values)) ogcLink {
		v := url.Values{}
		for name, values := range asked {
			v[name] = values
		}
		change(v)
		l := ogcLink{Href: items, Rel: rel, Type: geoJSONType, Title: title}
		if len(v) > 0 {
			l.Href += "?" + v.Encode()
		}
		return l
	}
	links := []ogcLink{page("self", "This page", func(url.Values) {})}
	if pg.past < pg.total && pg.past > 0 {
		at := pg.cursorAt(c, pg.past-1)
		links = append(links, page("next", "Next page", func(v url.Values) { v.Del("before"); v.Set("after", at) }))
	}
	if pg.first > 0 && pg.first < pg.total {
		at := pg.cursorAt(c, pg.first)
		links = append(links, page("prev", "Page before", func(v url.Values) { v.Del("after"); v.Set("before", at) }))
	}
	return append(links, ogcLink{Href: s.collectionURL(r, c), Rel: "collection", Type: "application/json", Title: c.title})
}

// collectionHead is what a feature collection says beside its features.
type collectionHead struct {
	Type           string    `json:"type"`
	TimeStamp      string    `json:"timeStamp"`
	NumberMatched  int       `json:"numberMatched"`
	NumberReturned int       `json:"numberReturned"`
	Links          []ogcLink `json:"links"`
	NotWorkedOut   []string  `json:"not_worked_out,omitempty"` // blocks whose findings failed
}

func (s *Server) sendFeatures(w http.ResponseWriter, r *http.Request, c *ogcCollection, head collectionHead, pg *ogcPage) error {
	head.Type = "FeatureCollection"
	begin, err := appendJSON(nil, head)
	if err != nil {
		return err
	}
	body := make([]byte, 0, len(begin)+64+700*head.NumberReturned)
	body = append(append(body, begin[:len(begin)-1]...), `,"features":[`...)
	keys := c.keys()
	n := 0
	pg.each(func(p *ogcPart, i int) {
		if n++; n > 1 {
			body = append(body, ',', '\n')
		}
		body = append(c.appendFeature(body, keys, p, i), '}')
	})
	return s.sendGeoJSON(w, r, append(body, "]}"...))
}

// keys are the names of the properties as they are written before the values.
func (c *ogcCollection) keys() [][]byte {
	out := make([][]byte, len(c.fields))
	for k, f := range c.fields {
		if k > 0 {
			out[k] = append(out[k], ',')
		}
		out[k] = append(appendText(out[k], f.name), ':')
	}
	return out
}

// appendFeature writes a feature of RFC 7946 but for its closing brace.
func (c *ogcCollection) appendFeature(dst []byte, keys [][]byte, p *ogcPart, i int) []byte {
	dst = append(dst, `{"type":"Feature","id":`...)
	if c.textID {
		dst = appendText(dst, c.name(p, i))
	} else {
		dst = append(dst, c.name(p, i)...)
	}
	dst = append(dst, `,"geometry":`...)
	dst = c.shape(dst, p, i)
	dst = append(dst, `,"properties":{`...)
	for k, f := range c.fields {
		dst = appendCell(append(dst, keys[k]...), f.kind, f.of(p, i))
	}
	return append(dst, '}')
}

// getOGCItem answers /ogc/collections/{collection}/items/{id}.
func (s *Server) getOGCItem(w http.ResponseWriter, r *http.Request) error {
	c, err := ogcCollectionOf(r)
	if err != nil {
		return err
	}
	values, err := ogcParams(r, "season", "datetime")
	if err != nil {
		return err
	}
	id := pathText(r, "id")
	q := &ogcQuery{datetime: values.Get("datetime")}
	if values.Has("season") {
		if q.seasonAsked, err = readSeason(values.Get("season")); err != nil {
			return err
		}
	} else if c.needsFindings || c.needsZones {
		q.seasonAsked = patchSeason(id)
	}
	shown, err := s.ogcSeason(r.Context(), q)
	if err != nil || !shown {
		return errors.Join(err, s.nothingThen(shown, q))
	}
	s.desk.Look(q.season)
	p, i, err := s.findOGC(r.Context(), c, q.season, id)
	if err != nil {
		return err
	}
	if tag := s.ogcTag(r, q.season, []*stands.Head{p.head}, nil); notModified(w, r, tag) {
		return nil
	}
	return s.sendFeature(w, r, c, values, p, i)
}

func (s *Server) nothingThen(shown bool, q *ogcQuery) error {
	if shown {
		return nil
	}
	return refuse(http.StatusNotFound, "datetime", "nothing is of the time %s", q.datetime)
}

func (s *Server) sendFeature(w http.ResponseWriter, r *http.Request, c *ogcCollection, values url.Values, p *ogcPart, i int) error {
	self := s.collectionURL(r, c) + "/items/" + url.PathEscape(c.name(p, i))
	if len(values) > 0 {
		self += "?" + values.Encode()
	}
	links, err := appendJSON(nil, []ogcLink{{Href: self, Rel: "self", Type: geoJSONType, Title: "This feature"},
		{Href: s.collectionURL(r, c), Rel: "collection", Type: "application/json", Title: c.title}})
	if err != nil {
		return err
	}
	body := c.appendFeature(nil, c.keys(), p, i)
	body = append(append(append(body, `,"links":`...), links...), '}')
	return s.sendGeoJSON(w, r, body)
}

// sendGeoJSON sends features; the tag was set by notModified.
func (s *Server) sendGeoJSON(w http.ResponseWriter, r *http.Request, body []byte) error {
	w.Header().Set("Content-Crs", "<"+crs84+">")
	a := reply{contentType: geoJSONType, plain: body}
	if len(body) < smallest || !acceptsGzip(r) {
		w.Header().Add("Vary", "Accept-Encoding")
		return a.send(w, r)
	}
	var err error
	if a.zipped, err = s.zipper.zip(body); err != nil {
		return err
	}
	return a.send(w, r)
}

// ogcTag names what a request shows: the blocks' revisions and findings. It is
// known without looking at a vine.
func (s *Server) ogcTag(r *http.Request, season int, heads []*stands.Head, without []string) string {
	h := fnv.New128a()
	fmt.Fprintf(h, "%d %q %q %d %q", ogcVersion, s.ownURL(r), r.URL.RequestURI(), season, without)
	for _, b := range heads {
		stamp := ""
		if f := s.foundOf(b, season); f != nil {
			stamp = f.Found.Stamp
		}
		fmt.Fprintf(h, " %d %d %d %x %s %s", b.ID, b.Revision, b.GroundRev, b.Print, s.stands.Stamp(b.ID, season), stamp)
	}
	return fmt.Sprintf("%x", h.Sum(nil))
}

// notModified sets the tag and answers 304 where the client has the content. The
// tag is weak: every answer carries the time it was made at.
func notModified(w http.ResponseWriter, r *http.Request, tag string) bool {
	w.Header().Set("ETag", "W/"+quoteTag(tag, false))
	w.Header().Set("Cache-Control", "no-cache")
	if !matchesTag(r, tag) {
		return false
	}
	w.Header().Add("Vary", "Accept-Encoding")
	w.WriteHeader(http.StatusNotModified)
	return true
}

// pathText gives a part of the path as its writer meant it, also where it holds
// a slash.
func pathText(r *http.Request, name string) string {
	text := r.PathValue(name)
	if r.URL.RawPath == "" {
		return text
	}
	if plain, err := url.PathUnescape(text); err == nil {
		return plain
	}
	return text
}

// patchSeason reads the season from the id of a patch (H3-2027-w1); 0 where it
// is none.
func patchSeason(id string) int {
	parts := strings.Split(id, "-")
	if len(parts) < 3 {
		return 0
	}
	n, err := strconv.Atoi(parts[len(parts)-2])
	if err != nil || n < vine.MinSeason || n > vine.MaxSeason {
		return 0
	}
	return n
}
