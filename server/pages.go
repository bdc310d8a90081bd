package server

import (
	"io/fs"

	"courson/web"
)

// builtInPages are the files of package web.
func builtInPages() fs.FS { return web.Files() }
