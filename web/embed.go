// Package web holds the pages that Courson serves: plain ES modules, style
// sheets and fonts, served as they lie here, without a build step.
//
// index.html is the map page, report.html the report of a block, pruning.html its
// pruning plan, work.html crews and orders, people.html users and devices, zones.html
// zones and rates,
// field.html the phone page. lib/ has no page in it and is tested by itself; style/
// says how things look on the map; map/, report/, pruning/, work/, people/ and
// field/ have one file per visible thing; text/ has every word; vendor/ the pinned
// map library and fonts.
package web

import (
	"embed"
	"io/fs"
)

//go:embed field.html index.html join.html signin.html pruning.html replants.html report.html work.html zones.html people.html field lib map people pruning replants report signin style text vendor work zones
var files embed.FS

// Files gives the pages: index.html, and what it asks for under /assets by the
// rest of its path, such as map/main.js.
func Files() fs.FS { return files }
