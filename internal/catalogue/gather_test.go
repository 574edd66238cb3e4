package catalogue

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"go/ast"
	"go/constant"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"spile/wording"
)

var update = flag.Bool("update", false, "write texts.pot anew")

// header is that of texts.pot.
const header = "Project-Id-Version: Spile\nMIME-Version: 1.0\nContent-Type: text/plain; charset=UTF-8\nContent-Transfer-Encoding: 8bit\nLanguage: \n" + nameHeader + ": \n"

// formulaNote tells of a formula.
const formulaNote = "A formula. Its symbols stay."

// root is the folder of the module.
const root = "../.."

// listed is what go list tells of a package.
type listed struct {
	ImportPath, Dir, Export string
	GoFiles                 []string
	Module                  *struct{ Main bool }
}

// packages lists the packages of the module and all that they import, compiled.
func packages(t *testing.T) (all []listed) {
	t.Helper()
	cmd := exec.Command("go", "list", "-export", "-deps", "-json=ImportPath,Dir,Export,GoFiles,Module", "./...")
	cmd.Dir = root
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v\n%s", err, stderr.String())
	}
	for d := json.NewDecoder(bytes.NewReader(out)); ; {
		var p listed
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			return all
		} else if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
}

// gathered is every text: of the templates, and each constant of the source that becomes a Text.
func gathered(t *testing.T) []Entry {
	t.Helper()
	g := &gatherer{at: map[wording.Text]int{}, fset: token.NewFileSet()}
	paths, err := filepath.Glob(root + "/internal/web/pages/*.html")
	if err != nil || len(paths) == 0 {
		t.Fatal("no pages", err)
	}
	for _, p := range paths {
		source, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		Page(string(source), func(english wording.Text) string { g.add(english, "", p, false); return string(english) })
	}
	all := packages(t)
	compiled := map[string]string{}
	for _, p := range all {
		compiled[p.ImportPath] = p.Export
	}
	g.importer = importer.ForCompiler(g.fset, "gc", func(path string) (io.ReadCloser, error) { return os.Open(compiled[path]) })
	for _, p := range all {
		if p.Module != nil && p.Module.Main {
			g.source(t, p)
		}
	}
	return g.entries
}

type gatherer struct {
	entries  []Entry
	at       map[wording.Text]int
	fset     *token.FileSet
	importer types.Importer
}

func (g *gatherer) add(english, many wording.Text, file string, formula bool) {
	if !letters.MatchString(string(english)) {
		return
	}
	i, found := g.at[english]
	if !found {
		i = len(g.entries)
		g.at[english] = i
		g.entries = append(g.entries, Entry{English: english})
	}
	e := &g.entries[i]
	if many != "" {
		e.Plural = many
	}
	where, err := filepath.Rel(root, file)
	if err != nil {
		panic(err)
	}
	if formula && e.Note == "" {
		e.Note = formulaNote
	}
	if strings.HasPrefix(where, "limit/") {
		e.Note = "A caution. Translated by a person, never by a program alone."
	}
	if !slices.Contains(e.Where, where) {
		e.Where = append(e.Where, where)
	}
}

// source adds the texts of one package.
func (g *gatherer) source(t *testing.T, p listed) {
	t.Helper()
	var files []*ast.File
	for _, name := range p.GoFiles {
		f, err := parser.ParseFile(g.fset, filepath.Join(p.Dir, name), nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, f)
	}
	info := &types.Info{Types: map[ast.Expr]types.TypeAndValue{}, Uses: map[*ast.Ident]types.Object{}}
	if _, err := (&types.Config{Importer: g.importer}).Check(p.ImportPath, g.fset, files, info); err != nil {
		t.Fatal(err)
	}
	rel, err := filepath.Abs(root)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		name, err := filepath.Rel(rel, g.fset.Position(f.Pos()).Filename)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool { return g.node(t, info, n, filepath.Join(root, name)) })
	}
}

// node adds a constant that is a Text; a use of one that has a name stands where it is made.
func (g *gatherer) node(t *testing.T, info *types.Info, n ast.Node, file string) (deeper bool) {
	if call, ok := n.(*ast.CallExpr); ok {
		if f, ok := call.Fun.(*ast.SelectorExpr); ok && f.Sel.Name == "Many" && len(call.Args) >= 3 {
			one, isOne := textOf(info, call.Args[1])
			many, isMany := textOf(info, call.Args[2])
			if isOne && isMany {
				g.add(one, many, file, false)
				g.takes(t, info, call, one, call.Args[3:])
				g.takes(t, info, call, many, call.Args[3:])
				for _, slot := range call.Args[3:] {
					ast.Inspect(slot, func(n ast.Node) bool { return g.node(t, info, n, file) })
				}
				return false
			}
		}
		g.verbs(t, info, call)
	}
	if name, isName := n.(*ast.Ident); isName {
		if _, isText := textOf(info, name); isText && info.Uses[name] != nil && !worded(info.Uses[name].Type()) {
			t.Errorf("%s: %s becomes a text where it is used; give it the type where it is made", g.fset.Position(name.Pos()), name.Name)
		}
		return true
	}
	if e, ok := n.(ast.Expr); ok {
		if tv := info.Types[e]; tv.Value != nil && tv.Type.String() == "spile/internal/catalogue.Markup" {
			Page(constant.StringVal(tv.Value), func(english wording.Text) string { g.add(english, "", file, false); return string(english) })
			return false
		}
		if text, ok := textOf(info, e); ok {
			g.add(text, "", file, info.Types[e].Type.String() == "spile/working.Formula")
			return false
		}
	}
	return true
}

// verbs looks at the verbs of the texts that a call takes with what fills their slots.
func (g *gatherer) verbs(t *testing.T, info *types.Info, call *ast.CallExpr) {
	f, ok := info.Types[call.Fun].Type.(*types.Signature)
	if !ok || !f.Variadic() || call.Ellipsis.IsValid() {
		return
	}
	fixed := f.Params().Len() - 1
	if f.Params().At(fixed).Type().String() != "[]any" {
		return
	}
	var texts []string
	for i := range fixed {
		if of := f.Params().At(i).Type(); !worded(of) || of.String() == "spile/working.Unit" { // which has no verbs
			continue
		}
		text, ok := textOf(info, call.Args[i])
		if !ok {
			return
		}
		texts = append(texts, string(text))
	}
	if len(texts) > 0 {
		g.takes(t, info, call, wording.Text(strings.Join(texts, " ")), call.Args[fixed:])
	}
}

// takes holds that a text has as many verbs as there are slots that a call gives it.
func (g *gatherer) takes(t *testing.T, info *types.Info, call *ast.CallExpr, text wording.Text, given []ast.Expr) {
	t.Helper()
	slots := make([]any, len(given))
	for i := range slots {
		slots[i] = slotOf(info.Types[given[i]].Type)
	}
	if said := fmt.Sprintf(string(text), slots...); strings.Contains(said, "%!") {
		t.Errorf("%s: %q does not take what it is given: %s", g.fset.Position(call.Pos()), text, said)
	}
}

// slotOf is a value of the kind that a type prints as.
func slotOf(of types.Type) any {
	if b, ok := of.Underlying().(*types.Basic); ok {
		switch {
		case b.Info()&types.IsInteger != 0:
			return 1
		case b.Info()&types.IsFloat != 0:
			return 1.0
		}
	}
	return "x"
}

// textOf is the constant that an expression is, where its type is Text.
func textOf(info *types.Info, e ast.Expr) (wording.Text, bool) {
	tv, found := info.Types[e]
	if !found || tv.Value == nil || tv.Value.Kind() != constant.String || !worded(tv.Type) {
		return "", false
	}
	return wording.Text(constant.StringVal(tv.Value)), true
}

// worded tells of Text, and of a type whose values are read as a text.
func worded(of types.Type) bool {
	if of.String() == "spile/wording.Text" {
		return true
	}
	method, _, _ := types.LookupFieldOrMethod(of, false, nil, "Wording")
	f, ok := method.(*types.Func)
	return ok && f.Signature().Results().Len() == 1 && f.Signature().Results().At(0).Type().String() == "spile/wording.Text"
}

// texts.pot lists what the program says, no more and no less.
func TestTextsAreCurrent(t *testing.T) {
	var made bytes.Buffer
	if err := Write(&made, header, gathered(t)); err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile("texts.pot", made.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	kept, err := os.ReadFile("texts.pot")
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Equal(kept, made.Bytes()) {
		return
	}
	has, is := strings.Split(string(kept), "\n"), strings.Split(made.String(), "\n")
	for _, line := range is {
		if !slices.Contains(has, line) {
			t.Errorf("not in texts.pot: %s", line)
		}
	}
	for _, line := range has {
		if !slices.Contains(is, line) {
			t.Errorf("no longer said: %s", line)
		}
	}
	t.Error("texts.pot is not what the program says; `make texts` writes it anew")
}
