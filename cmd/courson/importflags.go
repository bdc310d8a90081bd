package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"courson/geo/format/csv"
	"courson/server/work"
)

// readFlags say how files are to be read where they do not show it, or show it
// wrongly.
type readFlags struct {
	FileForm  string            `name:"form" placeholder:"FORM" default:"auto" help:"How the files are written: geojson, table, shapefile, geopackage, kml, gpx, workbook or nmea; auto finds out by their contents."`
	Layer     []string          `placeholder:"NAME" help:"Of files with several layers, sheets or kinds of things: one to take. May be given several times."`
	Column    map[string]string `placeholder:"NAME=MEANING" mapsep:"none" help:"What a column means, by the name it should have: \"poids=pruning_weight_kg\"; \"NAME=\" leaves it out. May be given several times; kept for the next file with the same columns."`
	Delimiter string            `placeholder:"MARK" enum:",comma,semicolon,tab,bar" default:"" help:"Mark between the values of tables: comma, semicolon, tab or bar."`
	Encoding  string            `placeholder:"NAME" enum:",utf-8,windows-1252,utf-16le,utf-16be" default:"" help:"Encoding of texts: utf-8, windows-1252, utf-16le or utf-16be."`
}

// apply puts the flags into a job.
func (f readFlags) apply(job *work.ImportJob) (err error) {
	if job.Form, err = work.ParseFileForm(f.FileForm); err != nil {
		return fmt.Errorf("--form %w: %w", err, errUsage)
	}
	job.Layers = f.Layer
	if len(f.Column) > 0 {
		job.Columns = f.Column
	}
	job.Delimiter = map[string]byte{"comma": ',', "semicolon": ';', "tab": '\t', "bar": '|'}[f.Delimiter]
	job.Encoding, _ = csv.ParseEncoding(f.Encoding)
	return nil
}

// withParts adds the files that lie beside a .shp and belong to it.
func withParts(names []string) (out []string) {
	given := map[string]bool{}
	for _, n := range names {
		given[n] = true
	}
	for _, n := range names {
		out = append(out, n)
		if !strings.EqualFold(filepath.Ext(n), ".shp") {
			continue
		}
		stem := trimExt(n)
		for _, end := range []string{".shx", ".dbf", ".prj", ".cpg", ".SHX", ".DBF", ".PRJ", ".CPG"} {
			if _, err := os.Stat(stem + end); err == nil && !given[stem+end] {
				given[stem+end] = true
				out = append(out, stem+end)
			}
		}
	}
	return out
}
