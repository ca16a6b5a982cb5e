package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// rule says what one package may import. The test reads the source itself: a
// version that asked the go command would be cached past a fresh violation.
type rule struct {
	dir    string
	own    []string // packages of this module
	third  []string // packages of others, by prefix
	std    []string // nil = any of the standard library
	reason string
}

// pure is all of the standard library that a pure leaf may import.
var pure = []string{"cmp", "errors", "iter", "maps", "math", "slices", "sort", "strconv", "strings", "time", "unicode", "unicode/utf8"}

var rules = []rule{
	{
		dir: "worker/wear", std: pure,
		reason: "the engine is arithmetic: the same input must give the same report to the byte, on any machine, for years",
	},
	{
		dir: "worker/wear/protocolfile", own: []string{"worker/wear"},
		reason: "a page, the command and the start read a protocol alike, with or without a database",
	},
	{
		dir: "web/chart", std: append([]string{"html"}, pure...), own: []string{"web/face", "worker/wear"},
		reason: "pictures are numbers in, SVG out; anything else could make them differ from the report",
	},
	{
		dir: "web/face", std: append([]string{"sync"}, pure...), third: []string{"golang.org/x/image"},
		reason: "the program's own typefaces and their widths: with a font of the machine's, a print would depend on it",
	},
	{
		dir: "worker/intake", own: []string{"worker/wear"}, third: []string{"golang.org/x/text", "golang.org/x/net/html", "github.com/xuri/excelize/v2", "github.com/go-playground/locales"},
		reason: "reading bytes must be testable and fuzzable without files, network or database",
	},
	{
		dir: "worker/intake/layouts", third: []string{"github.com/xuri/excelize/v2"},
		reason: "the truth of invented files must not depend on the reader that is measured against it; imported by tests only",
	},
	{
		dir: "worker/lab", own: []string{"worker/intake", "worker/wear"}, third: []string{"golang.org/x/text/encoding/charmap"},
		reason: "laboratory messages must be readable in a test without a register: whose they are is found out elsewhere",
	},
	{
		dir:    "worker/lab/messages",
		reason: "the truth of invented messages must not depend on the reader that is measured against it; imported by tests only",
	},
	{
		dir: "worker/sim", own: []string{"worker/wear"},
		reason: "the truth must not depend on the program that is measured against it",
	},
	{
		dir: "worker/sim/messy", own: []string{"worker/wear"},
		reason: "the truth of messy files must not depend on the reader that is measured against it; imported by tests only",
	},
	{
		dir:    "store/kept",
		reason: "what is kept in memory, and how much of it, must be judged without what it is kept of",
	},
	{
		dir: "store/pack", own: []string{"worker/wear"}, third: []string{"github.com/klauspost/compress/flate"},
		reason: "a format that must be read for years is tested and fuzzed without a database",
	},
	{
		dir: "store", own: []string{"store/kept", "store/pack", "worker/wear"}, third: []string{"modernc.org/sqlite"},
		reason: "only the store knows SQL and its driver, and it knows nothing of files, pages or requests",
	},
	{
		dir: "store/storetest", own: []string{"store", "worker/wear"},
		reason: "helpers for tests; imported by tests only",
	},
	{
		dir:    "web/delimited",
		reason: "what a spreadsheet opens is written in one place, or one list of several is left unguarded",
	},
	{
		dir: "web/letter", own: []string{"worker/wear"},
		reason: "what a letter may say must be testable over all findings without pages or database",
	},
	{
		dir: "web/form", own: []string{"web/letter", "worker/wear"},
		reason: "what people type and choose has one set of words, for pages, trails and letters alike",
	},
	{
		dir: "web", own: []string{"web/form", "web/chart", "web/delimited", "web/face", "web/letter", "worker/wear"},
		reason: "every page can be shown in a test without a database",
	},
	{
		dir: "worker/backup", own: []string{"store"}, third: []string{"filippo.io/age"},
		reason: "a backup is made and brought back without the worker: from the command line, on another machine",
	},
	{
		dir: "worker", own: []string{"store", "worker/backup", "worker/intake", "worker/lab", "worker/wear"},
		third:  []string{"filippo.io/age", "golang.org/x/sync/semaphore", "golang.org/x/text/unicode/norm", "github.com/fsnotify/fsnotify", "github.com/robfig/cron/v3", "github.com/prometheus/client_golang"},
		reason: "worker and server meet in the database and never import each other, so either can be changed or run alone",
	},
	{
		dir: "server/password", third: []string{"github.com/pquerna/otp", "github.com/trustelem/zxcvbn", "golang.org/x/crypto/argon2"},
		reason: "how passwords are kept must be judged without pages or a database",
	},
	{
		dir: "server/door", own: []string{"server/password", "store", "web", "web/form", "worker/wear"}, third: append([]string{"github.com/klauspost/compress/gzip", "golang.org/x/time/rate"}, gin...),
		reason: "it decides who comes in, for every task alike, and so may know none of them",
	},
	{
		dir: "server/export", own: []string{"store", "web/delimited", "worker/wear"},
		reason: "what leaves is the same for a page, a program and the command, so it may know none of them",
	},
	{
		dir: "server/act", own: []string{"server/door", "server/password", "store", "web", "web/form", "web/letter", "worker/wear"}, third: gin[:1],
		reason: "what pages and programs both do stands beneath both, so that neither does it otherwise",
	},
	{
		dir: "server/view", own: []string{"server/door", "store", "web", "web/form", "web/letter", "worker/wear"}, third: gin[:1],
		reason: "rows become words in one place; it shows and never changes",
	},
	task("signin", "github.com/pquerna/otp"),
	task("review"),
	task("register", "github.com/xuri/excelize/v2"),
	task("handout"),
	task("settings"),
	task("files"),
	task("audit"),
	task("api"),
	{
		dir: "server", own: tasks, third: gin,
		reason: "only the server knows its web framework; the map of routes stands on top of all tasks",
	},
	{
		dir: "server/servertest", own: []string{"server", "server/door", "server/password", "store", "store/storetest", "worker/wear"}, third: gin,
		reason: "helpers for tests; imported by tests only",
	},
	{
		dir: "cmd/wearround", own: []string{"server", "server/api", "server/door", "server/export", "server/password", "server/signin", "store", "web", "web/letter", "worker", "worker/backup", "worker/intake", "worker/sim", "worker/wear", "worker/wear/protocolfile"},
		third:  []string{"filippo.io/age", "github.com/gofrs/flock", "github.com/parquet-go/parquet-go", "github.com/peterbourgon/ff/v3", "github.com/prometheus/client_golang", "github.com/schollz/progressbar/v3"},
		reason: "the command wires the parts; it holds no logic of theirs",
	},
}

// gin is what answers requests and counts them.
var gin = []string{"github.com/gin-gonic/gin", "github.com/prometheus/client_golang"}

// tasks are what the server is put together from.
var tasks = []string{
	"server/door", "server/act", "server/view", "server/signin", "server/review", "server/register", "server/handout", "server/settings", "server/files", "server/audit", "server/api", "server/export", "web",
}

// task is the rule for the package of one task of the people at work.
func task(name string, third ...string) rule {
	return rule{
		dir:    "server/" + name,
		own:    []string{"server/door", "server/act", "server/view", "server/password", "server/export", "store", "store/kept", "web", "web/form", "web/letter", "worker/wear", "worker/wear/protocolfile"},
		third:  append([]string{gin[0]}, third...),
		reason: "a task's pages are built on the door and never on another task's, so that each can be read and changed alone",
	}
}

// testOnly are the packages that only tests may import.
var testOnly = []string{
	"github.com/chromedp/", "github.com/google/go-cmp", "pgregory.net/rapid", "github.com/rogpeppe/go-internal",
	"gonum.org/v1/gonum", "github.com/pb33f/", "wearround/store/storetest", "wearround/worker/intake/layouts", "wearround/worker/lab/messages", "wearround/worker/sim/messy", "wearround/server/servertest",
}

// clock are the names of package time that a pure package may not use: they
// read the clock, start timers or read zone files.
var clock = []string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker", "Local", "LoadLocation", "LoadLocationFromTZData"}

const (
	root   = "../.."
	module = "wearround/"
)

func TestImports(t *testing.T) {
	packages := sourcePackages(t)
	for _, r := range rules {
		files, ok := packages[r.dir]
		if !ok {
			t.Errorf("the table of imports names %s, which does not exist", r.dir)
			continue
		}
		delete(packages, r.dir)
		for name, file := range files {
			for _, spec := range file.Imports {
				path, err := strconv.Unquote(spec.Path.Value)
				if err != nil {
					t.Fatal(err)
				}
				if !r.allows(path) {
					t.Errorf("%s imports %q, which %s may not: %s", name, path, r.dir, r.reason)
				}
			}
		}
	}
	for dir := range packages {
		t.Errorf("package %s is not in the table of imports: add it with a reason, or put its code elsewhere", dir)
	}
}

func (r rule) allows(path string) bool {
	if own, ok := strings.CutPrefix(path, module); ok {
		return slices.Contains(r.own, own)
	}
	if first, _, _ := strings.Cut(path, "/"); strings.Contains(first, ".") {
		return slices.ContainsFunc(r.third, func(p string) bool { return path == p || strings.HasPrefix(path, p+"/") })
	}
	return r.std == nil || slices.Contains(r.std, path)
}

// TestTestOnlyImports keeps test tools out of the program: the table above
// lists none of them, and tests may not lean on anything unlisted either.
func TestTestOnlyImports(t *testing.T) {
	for name, file := range testFiles(t) {
		for _, spec := range file.Imports {
			path, _ := strconv.Unquote(spec.Path.Value)
			first, _, _ := strings.Cut(path, "/")
			if !strings.Contains(first, ".") || strings.HasPrefix(path, module) {
				continue
			}
			known := slices.ContainsFunc(testOnly, func(p string) bool { return strings.HasPrefix(path, p) }) ||
				slices.ContainsFunc(rules, func(r rule) bool { return r.allows(path) })
			if !known {
				t.Errorf("%s imports %q, which is in no table: add it with a reason", name, path)
			}
		}
	}
}

func TestPurePackagesReadNoClock(t *testing.T) {
	packages := sourcePackages(t)
	for _, r := range rules {
		if r.std == nil {
			continue
		}
		for name, file := range packages[r.dir] {
			for _, spec := range file.Imports {
				if spec.Name != nil && spec.Name.Name == "." {
					t.Errorf("%s has a dot import, which hides what it uses", name)
				}
			}
			ast.Inspect(file, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.SelectorExpr:
					if id, ok := n.X.(*ast.Ident); ok && id.Name == "time" && slices.Contains(clock, n.Sel.Name) {
						t.Errorf("%s uses time.%s: %s", name, n.Sel.Name, r.reason)
					}
				case *ast.GoStmt:
					t.Errorf("%s starts a goroutine: %s", name, r.reason)
				}
				return true
			})
		}
	}
}

func TestOnePackageComment(t *testing.T) {
	for dir, files := range sourcePackages(t) {
		var with []string
		for name, file := range files {
			if file.Doc != nil {
				with = append(with, name)
			}
		}
		if len(with) != 1 {
			t.Errorf("package %s has %d package comments (%v), want exactly one", dir, len(with), with)
		}
	}
}

func TestModuleFile(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(root, "go.mod"))
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(b)) {
		if strings.HasPrefix(line, "replace") {
			t.Errorf("go.mod holds %q: a fresh machine would not have what it points to", strings.TrimSpace(line))
		}
	}
}

func TestTopLevel(t *testing.T) {
	allowed := []string{"cmd", "server", "worker", "store", "web", "testdata", "go.mod", "go.sum", "README.md", "DEVELOPERS.md"}
	entries, err := os.ReadDir(root)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), ".") && !slices.Contains(allowed, e.Name()) {
			t.Errorf("%s stands at the top level, where only %v belong", e.Name(), allowed)
		}
	}
}

// sourcePackages parses every non-test file, by folder and name.
func sourcePackages(t *testing.T) map[string]map[string]*ast.File {
	t.Helper()
	packages := map[string]map[string]*ast.File{}
	parseAll(t, func(dir, name string, file *ast.File) {
		if strings.HasSuffix(name, "_test.go") {
			return
		}
		if packages[dir] == nil {
			packages[dir] = map[string]*ast.File{}
		}
		packages[dir][name] = file
	})
	return packages
}

func testFiles(t *testing.T) map[string]*ast.File {
	t.Helper()
	files := map[string]*ast.File{}
	parseAll(t, func(_, name string, file *ast.File) {
		if strings.HasSuffix(name, "_test.go") {
			files[name] = file
		}
	})
	return files
}

func parseAll(t *testing.T, visit func(dir, name string, file *ast.File)) {
	t.Helper()
	set := token.NewFileSet()
	found := 0
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if path != root && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata") {
				return fs.SkipDir
			}
			return nil
		}
		if filepath.Ext(path) != ".go" {
			return nil
		}
		file, err := parser.ParseFile(set, path, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		found++
		visit(filepath.ToSlash(filepath.Dir(rel)), filepath.ToSlash(rel), file)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if found == 0 {
		t.Fatal("no source found: the test looks in the wrong place")
	}
}
