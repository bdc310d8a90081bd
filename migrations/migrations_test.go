package migrations_test

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"flag"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"courson/migrations"
)

var update = flag.Bool("update", false, "add the sums of new files to testdata/sums.txt")

// sumsFile lists the files that are out in the world. A line in it is never
// changed: what is wrong with a released file is put right by the next one. At a
// release, go test ./migrations -update enters the new files.
const sumsFile = "testdata/sums.txt"

func files() map[string]embed.FS {
	return map[string]embed.FS{"gpkg": migrations.GPKG, "postgis": migrations.PostGIS}
}

// TestNumbers refuses gaps, twins and names without a number.
func TestNumbers(t *testing.T) {
	name := regexp.MustCompile(`^(\d{4})_[a-z0-9_]+\.sql$`)
	for folder, fsys := range files() {
		entries, err := fs.ReadDir(fsys, folder)
		if err != nil {
			t.Fatal(err)
		}
		for i, e := range entries {
			m := name.FindStringSubmatch(e.Name())
			if m == nil {
				t.Errorf("%s/%s: want a name like 0001_what.sql", folder, e.Name())
				continue
			}
			if n, _ := strconv.Atoi(m[1]); n != i+1 {
				t.Errorf("%s/%s: got number %d, want %d", folder, e.Name(), n, i+1)
			}
		}
	}
}

// TestUnchanged refuses changes to released files. Only the newest files of a
// folder may be unreleased.
func TestUnchanged(t *testing.T) {
	text, err := os.ReadFile(sumsFile)
	if err != nil {
		t.Fatal(err)
	}
	released := map[string]string{}
	newest := map[string]string{}
	for line := range strings.Lines(string(text)) {
		if sum, file, ok := strings.Cut(strings.TrimSpace(line), "  "); ok {
			released[file] = sum
			newest[path.Dir(file)] = max(newest[path.Dir(file)], file)
		}
	}
	got := sums(t)
	for file, sum := range released {
		switch {
		case got[file] == "":
			t.Errorf("%s: a released file is gone", file)
		case got[file] != sum:
			t.Errorf("%s: a released file was changed: put it back and write the next one", file)
		}
	}
	for _, file := range slices.Sorted(maps.Keys(got)) {
		switch {
		case released[file] != "":
		case file < newest[path.Dir(file)]:
			t.Errorf("%s comes before %s, which is released: give it the next number", file, newest[path.Dir(file)])
		case *update:
			text = fmt.Appendf(text, "%s  %s\n", got[file], file)
		}
	}
	if *update && !t.Failed() {
		if err := os.WriteFile(sumsFile, text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func sums(t *testing.T) map[string]string {
	out := map[string]string{}
	for folder, fsys := range files() {
		entries, err := fs.ReadDir(fsys, folder)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			text, err := fs.ReadFile(fsys, folder+"/"+e.Name())
			if err != nil {
				t.Fatal(err)
			}
			sum := sha256.Sum256(text)
			out[folder+"/"+e.Name()] = hex.EncodeToString(sum[:])
		}
	}
	return out
}
