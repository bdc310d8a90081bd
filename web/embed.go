// Package web holds the pages that Courson serves: plain ES modules, style
// sheets and fonts, served as they lie here, without a build step.
//
// index.html is the map page, report.html the report of a block, pruning.html its
// pruning plan, replants.html its gaps and replants, zones.html its zones and rates,
// work.html crews and orders, people.html users and devices, import.html takes files
// in, ground.html draws blocks and rows, field.html is the phone page. lib/ has no page in it and is tested by itself;
// style/ says how things look on the map; map/, report/, pruning/, replants/, zones/,
// work/, people/, ground/, import/ and field/ have one file per visible thing, sheet/ what is
// drawn on paper for crews; text/ has every word; vendor/ the pinned map library and
// fonts.
package web

import (
	"embed"
	"io/fs"
)

//go:embed field.html ground.html import.html index.html join.html signin.html pruning.html replants.html report.html work.html zones.html people.html field ground import lib map people pruning replants report sheet signin style text vendor work zones
var files embed.FS

// Files gives the pages: index.html, and what it asks for under /assets by the
// rest of its path, such as map/main.js.
func Files() fs.FS { return files }
