package server

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
)

// follow goes along a relation from a page and gives the ids page by page.
func (f *fixture) follow(t require.TestingT, path, rel string) (pages [][]any) {
	for path != "" {
		var p features
		a := f.get(path)
		require.Equal(t, 200, a.status, "%s: %s", path, a.body)
		a.into(f.t, &p)
		var ids []any
		for _, one := range p.Features {
			ids = append(ids, one.ID)
		}
		pages = append(pages, ids)
		require.LessOrEqual(t, len(pages), 2000, "the links run in a circle")
		path = strings.TrimPrefix(p.link(rel), f.web.URL)
	}
	return pages
}

// TestOGC_Paging: whatever the limit and the filter, following next gives every
// feature once and in one order, and following prev from the last page leads back
// through all of them.
func TestOGC_Paging(t *testing.T) {
	f := newFixture(t)
	var weak []vine.ID
	for i, v := range f.home.vines {
		if i%3 == 0 {
			weak = append(weak, v.ID)
		}
	}
	f.post(f.event(f.home, vine.KindCondition, map[string]any{"condition": "weak"}, weak...))
	rapid.Check(t, func(t *rapid.T) {
		collection := rapid.SampledFrom([]string{"blocks", "rows", "vines"}).Draw(t, "collection")
		query := map[string][]string{"blocks": {"", "leaf=8", "bbox=8,49,8.13,50"}, "rows": {"", "block=L1", "row=2", "bbox=8.12,49,8.12006,50"},
			"vines": {"", "condition=weak", "condition=weak&row=2", "block=L1", "bbox=8.12,49.2,8.12006,49.3", "leaf=99"}}[collection]
		q := rapid.SampledFrom(query).Draw(t, "query")
		limit := rapid.IntRange(1, 90).Draw(t, "limit")
		whole := f.follow(t, "/ogc/collections/"+collection+"/items?limit=10000&"+q, "next")
		require.Len(t, whole, 1)

		path := fmt.Sprintf("/ogc/collections/%s/items?limit=%d&%s", collection, limit, q)
		pages := f.follow(t, path, "next")
		require.Equal(t, whole[0], slices.Concat(pages...))
		for _, p := range pages[:len(pages)-1] {
			require.Len(t, p, limit)
		}
		if len(pages) == 1 {
			return
		}
		// Back from the last page.
		last := pages[len(pages)-2]
		from := "" // the address of the last page is the next link of the one before
		for p := path; p != ""; {
			var page features
			f.get(p).into(f.t, &page)
			from, p = p, strings.TrimPrefix(page.link("next"), f.web.URL)
		}
		back := f.follow(t, from, "prev")
		require.Equal(t, last, back[1])
		slices.Reverse(back)
		require.Equal(t, whole[0], slices.Concat(back...))
	})
}

// Pages hold their place while crews work: a vine that leaves the filter between
// two pages moves no other out of sight.
func TestOGC_PagingWhileCrewsWork(t *testing.T) {
	f := newFixture(t)
	path := "/ogc/collections/vines/items?progress=not_started&block=H3&limit=10"
	seen := map[any]int{}
	for path != "" {
		var p features
		f.get(path).into(t, &p)
		for _, one := range p.Features {
			seen[one.ID]++
		}
		if len(seen) == 10 { // the whole first page is done, and the last vine of it too
			var done []vine.ID
			for _, v := range f.home.vines[:10] {
				done = append(done, v.ID)
			}
			f.post(f.done(f.home, done...))
		}
		path = strings.TrimPrefix(p.link("next"), f.web.URL)
	}
	assert.Len(t, seen, 40)
	for id, n := range seen {
		assert.Equal(t, 1, n, id)
	}
}

// A place in a block that is not asked for is none.
func TestOGC_PagingOutOfPlace(t *testing.T) {
	f := newFixture(t)
	at := url.QueryEscape(cursorText(f.far.ID, fmt.Sprint(f.far.vines[0].ID)))
	assert.Equal(t, 200, f.get("/ogc/collections/vines/items?after="+at).status)
	assert.Equal(t, 400, f.get("/ogc/collections/vines/items?block=H3&after="+at).status)
	assert.Equal(t, 400, f.get("/ogc/collections/vines/items?after="+url.QueryEscape(cursorText(f.home.ID, fmt.Sprint(f.far.vines[0].ID)))).status)
	var p features
	f.get("/ogc/collections/vines/items?limit=5&before="+url.QueryEscape(cursorText(f.home.ID, fmt.Sprint(f.home.vines[0].ID)))).into(t, &p)
	assert.Empty(t, p.Features, "nothing comes before the first")
	assert.Equal(t, 80, p.NumberMatched)
}
