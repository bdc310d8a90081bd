package server

import (
	"embed"
	"io/fs"
)

// builtInPages are the files of package web.
func builtInPages() fs.FS { return embed.FS{} }
