// Package geo_test holds the rules for the whole of geo/: it is pure, and its
// rooms open onto each other in one direction only. There is no package geo.
package geo_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const module = "courson/geo/"

// mayImport says which rooms of geo/ each room builds on; what those build on
// comes with them. Formats may use any of them.
var mayImport = map[string][]string{
	"vine":            nil,
	"stand":           {"vine"},
	"frame":           nil,
	"layout":          {"frame"},
	"layout/draw":     {"layout"},
	"krige":           nil,
	"vigour":          {"stand", "krige"},
	"patch":           {"stand", "rings"},
	"pruning":         {"vine", "stand"},
	"pruning/renewal": {"vine"},
	"pruning/runs":    nil,
	"replant":         {"stand"},
	"rings":           nil,
	"crew":            {"stand"},
	"rate":            {"stand", "rings"},
	"raster":          {"frame"},
	"tile":            {"stand"},
}

// outside are packages that reach for the world beyond the arguments, with all
// that lies below them.
var outside = []string{"os", "net", "database", "log", "embed", "context", "syscall", "plugin", "testing", "flag", "github.com/jackc", "github.com/ncruces", "github.com/go-chi"}

// clock are the functions of package time that ask a clock.
var clock = []string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker"}

// room is the files of one package, without its tests.
type room struct {
	name  string // path below geo/
	files map[string]*ast.File
}

func TestRooms(t *testing.T) {
	rooms := readRooms(t, os.DirFS("."))
	require.Greater(t, len(rooms), 5)
	for _, r := range rooms {
		t.Run(r.name, func(t *testing.T) {
			for _, fault := range faults(r) {
				t.Error(fault)
			}
		})
	}
}

// The rules themselves are tried on packages that break them.
func TestRules(t *testing.T) {
	for _, c := range []struct {
		name, room, text string
		want             string // a part of the fault; empty: none
	}{
		{"pure", "patch", `import ("math"; "courson/geo/stand"; "github.com/paulmach/orb"); var Limits = [2]int{1, 2}; func f() float64 { return math.Pi }`, ""},
		{"files", "patch", `import "os"`, "os"},
		{"network", "patch", `import "net/http"`, "net/http"},
		{"log", "patch", `import "log/slog"`, "log/slog"},
		{"context", "patch", `import "context"`, "context"},
		{"a database", "patch", `import "github.com/jackc/pgx/v5"`, "jackc"},
		{"a name that only begins like one", "patch", `import "github.com/x/os"`, ""},
		{"the store", "patch", `import "courson/store"`, "courson/store"},
		{"a room it does not build on", "patch", `import "courson/geo/frame"`, "courson/geo/frame"},
		{"a room that comes with another", "patch", `import "courson/geo/vine"`, ""},
		{"a room that comes with two", "vigour", `import ("courson/geo/vine"; "courson/geo/krige")`, ""},
		{"backwards", "vine", `import "courson/geo/stand"`, "courson/geo/stand"},
		{"a format", "format/csv", `import ("courson/geo/vine"; "courson/geo/layout"; "courson/geo/format")`, ""},
		{"a format that uses another", "format/csv", `import "courson/geo/format/geojson"`, "courson/geo/format/geojson"},
		{"a room nobody knows", "misc", ``, "not in the table"},
		{"geo itself", "", ``, "geo itself"},
		{"the clock", "patch", `import "time"; func f() time.Time { return time.Now() }`, "time.Now"},
		{"the clock by another name", "patch", `import day "time"; var start = day.Now`, "time.Now"},
		{"a moment as a value", "patch", `import "time"; func f(t time.Time) time.Time { return t.Add(time.Hour) }`, ""},
		{"a variable that is set", "patch", `var n int; func f() { n = 2 }`, "n changes"},
		{"a variable that is counted up", "patch", `var n int; func f() { n++ }`, "n changes"},
		{"a map that is filled", "patch", `var seen = map[int]bool{}; func f() { seen[1] = true }`, "seen changes"},
		{"a field that is set", "patch", `var o struct{ a []int }; func f() { o.a[0] = 1 }`, "o changes"},
		{"a variable of another file", "patch", `func f() { other = 2 }`, "other changes"},
		{"a local variable of the same name", "patch", `var n int; func f() { n := 1; n = 2; _ = n }`, ""},
		{"a lock for all", "patch", `import "sync"; var mu sync.Mutex`, "mu"},
		{"set up at start", "patch", `func init() {}`, "init"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := faults(room{c.room, map[string]*ast.File{"a.go": parse(t, "package p; "+c.text), "b.go": parse(t, "package p; var other int")}})
			if c.want == "" {
				require.Empty(t, got)
				return
			}
			require.Len(t, got, 1)
			require.Contains(t, got[0], c.want)
		})
	}
}

func parse(t *testing.T, text string) *ast.File {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), "a.go", text, 0)
	require.NoError(t, err)
	return f
}

// readRooms parses the files themselves, so that a change in one of them is
// seen however the results of tests are kept.
func readRooms(t *testing.T, dir fs.FS) (rooms []room) {
	t.Helper()
	byName := map[string]room{}
	require.NoError(t, fs.WalkDir(dir, ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && d.Name() == "testdata" {
			return fs.SkipDir
		}
		if d.IsDir() || filepath.Ext(p) != ".go" || strings.HasSuffix(p, "_test.go") {
			return nil
		}
		text, err := fs.ReadFile(dir, p)
		if err != nil {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), p, text, 0)
		if err != nil {
			return err
		}
		name := strings.TrimPrefix(path.Dir(p), ".")
		if _, ok := byName[name]; !ok {
			byName[name] = room{name, map[string]*ast.File{}}
		}
		byName[name].files[p] = f
		return nil
	}))
	for _, r := range byName {
		rooms = append(rooms, r)
	}
	slices.SortFunc(rooms, func(a, b room) int { return strings.Compare(a.name, b.name) })
	return rooms
}

// faults gives every rule that a room breaks, in order of its files.
func faults(r room) (out []string) {
	allowed, err := allowedImports(r.name)
	if err != nil {
		return []string{err.Error()}
	}
	vars := packageVars(r)
	for _, name := range sortedKeys(r.files) {
		f := r.files[name]
		out = append(out, badImports(name, f, allowed)...)
		out = append(out, clockUses(name, f)...)
		out = append(out, changedVars(name, f, vars)...)
	}
	return out
}

// allowedImports tells what a room may import from geo/.
func allowedImports(name string) (func(below string) bool, error) {
	switch {
	case name == "":
		return nil, fmt.Errorf("geo itself holds no code: give it to one of the rooms")
	case name == "format" || strings.HasPrefix(name, "format/"):
		return func(below string) bool {
			_, isRoom := mayImport[below]
			return isRoom || below == "format"
		}, nil
	}
	if _, ok := mayImport[name]; !ok {
		return nil, fmt.Errorf("geo/%s is not in the table of what may import what: add it with its reasons", name)
	}
	open := map[string]bool{}
	var add func(string)
	add = func(n string) {
		for _, m := range mayImport[n] {
			open[m] = true
			add(m)
		}
	}
	add(name)
	return func(below string) bool { return open[below] }, nil
}

func badImports(name string, f *ast.File, allowed func(string) bool) (out []string) {
	for _, spec := range f.Imports {
		p, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			return append(out, fmt.Sprintf("%s: %v", name, err))
		}
		below, inGeo := strings.CutPrefix(p, module)
		switch {
		case inGeo && !allowed(below):
			out = append(out, fmt.Sprintf("%s imports %s, which it must not build on", name, p))
		case !inGeo && strings.HasPrefix(p, "courson/"):
			out = append(out, fmt.Sprintf("%s imports %s: geo knows nothing of the rest of the house", name, p))
		}
		for _, o := range outside {
			if p == o || strings.HasPrefix(p, o+"/") {
				out = append(out, fmt.Sprintf("%s imports %s: geo is pure, hand in what it needs", name, p))
			}
		}
	}
	return out
}

// clockUses finds calls of the clock, whatever name time was imported under.
func clockUses(name string, f *ast.File) (out []string) {
	local := ""
	for _, spec := range f.Imports {
		if spec.Path.Value == `"time"` {
			local = "time"
			if spec.Name != nil {
				local = spec.Name.Name
			}
		}
	}
	if local == "" {
		return nil
	}
	ast.Inspect(f, func(n ast.Node) bool {
		if s, ok := n.(*ast.SelectorExpr); ok {
			if x, ok := s.X.(*ast.Ident); ok && x.Name == local && slices.Contains(clock, s.Sel.Name) {
				out = append(out, fmt.Sprintf("%s uses time.%s: times are arguments in geo", name, s.Sel.Name))
			}
		}
		return true
	})
	return out
}

// packageVars gives the names of a room's package variables.
func packageVars(r room) map[string]bool {
	vars := map[string]bool{}
	for _, f := range r.files {
		eachVar(f, func(spec *ast.ValueSpec) {
			for _, n := range spec.Names {
				vars[n.Name] = true
			}
		})
	}
	return vars
}

func eachVar(f *ast.File, do func(*ast.ValueSpec)) {
	for _, d := range f.Decls {
		if g, ok := d.(*ast.GenDecl); ok && g.Tok == token.VAR {
			for _, s := range g.Specs {
				do(s.(*ast.ValueSpec))
			}
		}
	}
}

// changedVars finds package variables that are set, or that are there to be
// changed (locks and the like), and functions that run by themselves at start.
func changedVars(name string, f *ast.File, vars map[string]bool) (out []string) {
	eachVar(f, func(spec *ast.ValueSpec) {
		if s, ok := spec.Type.(*ast.SelectorExpr); ok {
			if x, ok := s.X.(*ast.Ident); ok && (x.Name == "sync" || x.Name == "atomic") {
				out = append(out, fmt.Sprintf("%s: package variable %s is there to be changed", name, spec.Names[0].Name))
			}
		}
	})
	changed := func(e ast.Expr) {
		if n := root(e); n != nil && vars[n.Name] && isPackageVar(f, n) {
			out = append(out, fmt.Sprintf("%s: package variable %s changes", name, n.Name))
		}
	}
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.AssignStmt:
			if n.Tok != token.DEFINE {
				for _, e := range n.Lhs {
					changed(e)
				}
			}
		case *ast.IncDecStmt:
			changed(n.X)
		case *ast.FuncDecl:
			if n.Name.Name == "init" && n.Recv == nil {
				out = append(out, fmt.Sprintf("%s: init runs by itself", name))
			}
		}
		return true
	})
	return out
}

// root is the variable that an expression like a.b[1] belongs to.
func root(e ast.Expr) *ast.Ident {
	for {
		switch x := e.(type) {
		case *ast.Ident:
			return x
		case *ast.IndexExpr:
			e = x.X
		case *ast.SelectorExpr:
			e = x.X
		case *ast.StarExpr:
			e = x.X
		case *ast.ParenExpr:
			e = x.X
		default:
			return nil
		}
	}
}

// isPackageVar tells whether a name means a package variable, of this file or
// (where the file does not declare it) of another.
func isPackageVar(f *ast.File, n *ast.Ident) bool {
	if n.Obj == nil {
		return true
	}
	return f.Scope.Lookup(n.Name) == n.Obj
}

func sortedKeys(files map[string]*ast.File) []string {
	var keys []string
	for k := range files {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
