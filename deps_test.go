package spile

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// module is the name in go.mod.
const module = "spile"

// ladder is the order of the packages. A package may import only what stands on a
// lower rung; never its own rung. What is not listed must be placed here first.
var ladder = [][]string{
	{""}, // the root only explains, and carries the measured ferments as data
	{"wording", "portable", "matrix"},
	{"unit", "ode", "bayes", "root"},
	{"working", "limit"},
	{"wort", "co2"},
	{"yeast", "dispense"},
	{"vessel"},
	{"batch"},
	{"estimate"},
	{"advice", "calc"},
	{"internal/batchfile", "internal/catalogue", "internal/store", "internal/notify", "internal/oracle", "internal/ferment"},
	{"internal/shed", "internal/report", "internal/calibration", "internal/authority"},
	{"internal/monitor"},
	{"internal/ingest"},
	{"internal/web"},
	{"cmd"},
}

// only narrows what a package may import of the module, below what its rung allows.
var only = map[string][]string{"limit": {"wording", "unit"}, "ode": {"portable"}, "bayes": {"portable", "matrix"}, "unit": {"wording", "portable"}, "root": {}}

// forbidden are standard packages that touch the world, each with all below it.
var forbidden = []string{"os", "net", "database/sql", "log", "context", "syscall", "plugin", "path/filepath", "math/rand", "crypto/rand"}

// worldly are the names by which an allowed package reaches the clock, the time zone,
// the terminal or a random source that no seed governs.
var worldly = map[string][]string{
	"time":          {"Now", "Since", "Until", "LoadLocation", "Local", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker"},
	"fmt":           {"Print", "Printf", "Println", "Scan", "Scanf", "Scanln"},
	"math/rand/v2":  {"Int", "IntN", "Int32", "Int32N", "Int64", "Int64N", "Uint", "UintN", "Uint32", "Uint32N", "Uint64", "Uint64N", "Float32", "Float64", "NormFloat64", "ExpFloat64", "Perm", "Shuffle", "N"},
	"runtime/debug": {"SetGCPercent", "SetMemoryLimit"},
}

// unportable are functions whose digits hang on the processor; package portable has them with the same everywhere.
var unportable = map[string][]string{"math": {"Exp", "Exp2", "Pow", "Sinh", "Cosh", "Tanh", "Erf", "Erfc", "Gamma"}}

// home is the package on the ladder to which a folder belongs: ode/testode to ode, cmd/spile to cmd.
func home(pkg string) (name string, rung int) {
	best := -1
	for i, r := range ladder {
		for _, p := range r {
			if (pkg == p || p != "" && strings.HasPrefix(pkg, p+"/")) && len(p) > best {
				name, rung, best = p, i, len(p)
			}
		}
	}
	if best < 0 {
		return "", -1
	}
	return name, rung
}

// worldlyLayer tells what may touch the world.
func worldlyLayer(pkg string) bool {
	return strings.HasPrefix(pkg, "internal/") || pkg == "cmd" || strings.HasPrefix(pkg, "cmd/")
}

// complaints says in sentences what is wrong with one file of a package.
func complaints(pkg string, file *ast.File) (all []string) {
	if _, rung := home(pkg); rung < 0 {
		return []string{fmt.Sprintf("%s stands on no rung; place it in the ladder of deps_test.go", pkg)}
	}
	names := map[string]string{} // how a file calls an import
	for _, spec := range file.Imports {
		to, _ := strconv.Unquote(spec.Path.Value) // the parser has read it as a string
		if c := badImport(pkg, to); c != "" {
			all = append(all, c)
		}
		name := strings.TrimSuffix(path.Base(to), "/v2")
		if to == "math/rand/v2" {
			name = "rand"
		}
		if spec.Name != nil {
			name = spec.Name.Name
		}
		if name == "." && worldly[to] != nil {
			all = append(all, fmt.Sprintf("%s imports %s with a dot, which hides where the clock or chance comes from", pkg, to))
		}
		names[name] = to
	}
	if !worldlyLayer(pkg) {
		all = append(all, badCalls(pkg, file, names)...)
	}
	return all
}

func badImport(pkg, to string) string {
	if to == module || strings.HasPrefix(to, module+"/") {
		return badOwnImport(pkg, strings.TrimPrefix(strings.TrimPrefix(to, module), "/"))
	}
	if worldlyLayer(pkg) {
		return ""
	}
	for _, f := range forbidden {
		if to == f || strings.HasPrefix(to, f+"/") && to != "math/rand/v2" {
			return fmt.Sprintf("%s imports %s; what is computed takes time, files and chance as arguments", pkg, to)
		}
	}
	if first, _, _ := strings.Cut(to, "/"); strings.Contains(first, ".") && !(to == "gonum.org/v1/gonum/optimize" || to == "golang.org/x/sys/cpu" && pkg == "matrix") {
		return fmt.Sprintf("%s imports %s; what is computed uses the standard library alone, but for the walk downhill that no forecast goes, and for matrix, which asks what the processor can do", pkg, to)
	}
	return ""
}

func badOwnImport(pkg, to string) string {
	from, rung := home(pkg)
	target, below := home(to)
	switch {
	case from == target && to == target: // a sub-package may use its parent
		return ""
	case below < 0:
		return fmt.Sprintf("%s imports %s, which stands on no rung", pkg, to)
	case to != target && !worldlyLayer(pkg): // ode/testode, for tests and commands
		return fmt.Sprintf("%s imports %s, which belongs to %s alone", pkg, to, target)
	case below >= rung:
		return fmt.Sprintf("%s imports %s; imports point down, to a lower rung", pkg, to)
	}
	if allowed, narrow := only[pkg]; narrow && !slices.Contains(allowed, to) {
		return fmt.Sprintf("%s imports %s; it may import only %v of the module", pkg, to, allowed)
	}
	return ""
}

// badCalls finds uses such as time.Now in the syntax tree, called or handed on.
func badCalls(pkg string, file *ast.File, names map[string]string) (all []string) {
	name, _ := home(pkg)
	own := name == pkg // and not what only tests and commands use, as ode/testode
	ast.Inspect(file, func(n ast.Node) bool {
		sel, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		id, ok := sel.X.(*ast.Ident)
		if ok && slices.Contains(worldly[names[id.Name]], sel.Sel.Name) {
			all = append(all, fmt.Sprintf("%s uses %s.%s; time, chance and output come in as arguments", pkg, names[id.Name], sel.Sel.Name))
		}
		if ok && own && pkg != "portable" && slices.Contains(unportable[names[id.Name]], sel.Sel.Name) {
			all = append(all, fmt.Sprintf("%s uses %s.%s, whose digits hang on the processor; package portable has it", pkg, names[id.Name], sel.Sel.Name))
		}
		return true
	})
	return all
}

// eachGoFile calls f for every Go file of the module that keep admits.
func eachGoFile(t *testing.T, keep func(name string) bool, f func(pkg, name string, fset *token.FileSet, file *ast.File)) {
	t.Helper()
	err := filepath.WalkDir(".", func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if n := d.Name(); p != "." && (n == "testdata" || n == "tools" || n == "build" || n[0] == '.' || n[0] == '_' || n == "node_modules") {
				return filepath.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(p, ".go") || !keep(p) {
			return nil
		}
		fset := token.NewFileSet()
		file, err := parser.ParseFile(fset, p, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		pkg := filepath.ToSlash(filepath.Dir(p))
		if pkg == "." {
			pkg = ""
		}
		f(pkg, p, fset, file)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func isTest(name string) bool { return strings.HasSuffix(name, "_test.go") }

func TestImportsPointDown(t *testing.T) {
	seen := 0
	eachGoFile(t, func(name string) bool { return !isTest(name) }, func(pkg, name string, _ *token.FileSet, file *ast.File) {
		seen++
		for _, c := range complaints(pkg, file) {
			t.Errorf("%s: %s", name, c)
		}
	})
	if seen < 20 {
		t.Errorf("only %d files were read; the walk has lost the module", seen)
	}
}

// explaining are packages of words alone: no figure changes with them.
var explaining = []string{"wording", "working"}

// The engine that docs/calibration.md names is the last change of anything that its figures are computed with: those of another are
// not reused. bench.mk lists it.
func TestCalibrationNamesAllThatIsComputed(t *testing.T) {
	imports := map[string][]string{}
	eachGoFile(t, func(name string) bool { return !isTest(name) }, func(pkg, _ string, _ *token.FileSet, file *ast.File) {
		for _, spec := range file.Imports {
			to, _ := strconv.Unquote(spec.Path.Value) // the parser has read it as a string
			if own, ok := strings.CutPrefix(to, module+"/"); ok {
				imports[pkg] = append(imports[pkg], own)
			}
		}
	})
	text, err := os.ReadFile("bench.mk")
	list := regexp.MustCompile(`(?m)^COMPUTED = (.*)$`).FindSubmatch(text)
	if err != nil || list == nil {
		t.Fatal("bench.mk lists nothing as COMPUTED", err)
	}
	named, needed := strings.Fields(string(list[1])), []string{"internal/calibration"}
	for i := 0; i < len(needed); i++ {
		if !slices.Contains(named, needed[i]) {
			t.Errorf("the figures of the calibration hang on %s, which COMPUTED in bench.mk leaves out", needed[i])
		}
		for _, to := range imports[needed[i]] {
			if !slices.Contains(needed, to) && !slices.Contains(explaining, to) {
				needed = append(needed, to)
			}
		}
	}
	if len(needed) < 10 {
		t.Errorf("the calibration needs %v alone; the walk has lost its imports", needed)
	}
}

// A rule that cannot fail holds nothing, so each one is broken once.
func TestLadderCatches(t *testing.T) {
	for _, c := range []struct{ pkg, source, say string }{
		{"unit", `import "spile/wort"`, "imports point down"},
		{"wort", `import "spile/co2"`, "imports point down"},
		{"limit", `import "spile/working"`, "imports point down"},
		{"advice", `import "spile/calc"`, "imports point down"},
		{"bayes", `import "spile/unit"`, "imports point down"},
		{"vessel", `import "spile/internal/batchfile"`, "imports point down"},
		{"vessel", `import "spile/ode/testode"`, "belongs to ode alone"},
		{"util", `import "spile/unit"`, "no rung"},
		{"vessel", `import "spile/util"`, "no rung"},
		{"vessel", `import "os"`, "as arguments"},
		{"vessel", `import "net/http"`, "as arguments"},
		{"vessel", `import "context"`, "as arguments"},
		{"vessel", `import "math/rand"`, "as arguments"},
		{"vessel", `import "github.com/alecthomas/kong"`, "standard library alone"},
		{"vessel", `import "gonum.org/v1/gonum/mat"`, "standard library alone"},
		{"vessel", `import "golang.org/x/sys/cpu"`, "standard library alone"},
		{"bayes", `import "gonum.org/v1/gonum/optimize"`, ""},
		{"vessel", "import \"math\"\nvar e = math.Exp(1)", "uses math.Exp, whose digits"},
		{"vessel", "import \"math\"\nvar f = math.Pow", "uses math.Pow, whose digits"},
		{"vessel", "import \"math\"\nvar f = math.Log", ""},
		{"vessel", "import \"time\"\nvar t = time.Now", "uses time.Now"},
		{"vessel", "import clock \"time\"\nvar t = clock.Since(clock.Time{})", "uses time.Since"},
		{"vessel", "import . \"time\"\nvar t = Now()", "with a dot"},
		{"vessel", "import \"time\"\nvar t, _ = time.LoadLocation(\"UTC\")", "uses time.LoadLocation"},
		{"vessel", "import \"math/rand/v2\"\nvar x = rand.Float64()", "uses math/rand/v2.Float64"},
		{"vessel", "import \"fmt\"\nfunc f() { fmt.Println() }", "uses fmt.Println"},
		{"vessel", "import \"math/rand/v2\"\nvar r = rand.New(rand.NewPCG(1, 2))", ""},
		{"vessel", `import "spile/co2"`, ""},
		{"ode/testode", `import "spile/ode"`, ""},
		{"cmd/spile", `import "spile/ode/testode"`, ""},
		{"cmd/spile", "import (\n\"os\"\n\"spile/advice\"\n\"time\"\n)\nvar t = time.Now", ""},
	} {
		file, err := parser.ParseFile(token.NewFileSet(), "x.go", "package x\n"+c.source, parser.ParseComments)
		if err != nil {
			t.Fatal(err)
		}
		got := strings.Join(complaints(c.pkg, file), "; ")
		if c.say == "" && got != "" || !strings.Contains(got, c.say) {
			t.Errorf("package %s with %q: got %q, want %q", c.pkg, c.source, got, c.say)
		}
	}
}
