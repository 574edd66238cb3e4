package spile

import (
	"go/ast"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

var (
	keyInBrackets = regexp.MustCompile(`\[((?:[a-z]{2,3})?[A-Z][A-Za-z]*[0-9]{4}[a-z]?)\]`)
	keyAlone      = regexp.MustCompile(`^(?:[a-z]{2,3})?[A-Z][A-Za-z]*[0-9]{4}[a-z]?$`)
	keyListed     = regexp.MustCompile(`(?m)^- \*\*\[([A-Za-z]*[0-9]{4}[a-z]?)\]\*\* (.*)$`)
)

// uses gathers the source keys of the code: in brackets in comments, and as strings
// on their own, which is how working.Sheet takes them.
func uses(t *testing.T) map[string]string {
	keys := map[string]string{} // key to one place of use
	note := func(where string, found [][]string) {
		for _, m := range found {
			keys[m[1]] = where
		}
	}
	eachGoFile(t, func(string) bool { return true }, func(_, name string, fset *token.FileSet, file *ast.File) {
		for _, group := range file.Comments {
			note(fset.Position(group.Pos()).String(), keyInBrackets.FindAllStringSubmatch(group.Text(), -1))
		}
		if isTest(name) {
			return
		}
		ast.Inspect(file, func(n ast.Node) bool {
			lit, ok := n.(*ast.BasicLit)
			if !ok || lit.Kind != token.STRING {
				return true
			}
			text, err := strconv.Unquote(lit.Value)
			if err == nil && keyAlone.MatchString(text) {
				keys[text] = fset.Position(lit.Pos()).String()
			}
			return true
		})
	})
	dataUses(t, note)
	return keys
}

// dataUses gathers the keys in the header lines of files of data.
func dataUses(t *testing.T, note func(where string, found [][]string)) {
	err := filepath.WalkDir(".", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.Contains(filepath.ToSlash(p), "testdata/") || filepath.Ext(p) != ".csv" {
			return err
		}
		data, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		for line := range strings.Lines(string(data)) {
			if strings.HasPrefix(line, "#") {
				note(p, keyInBrackets.FindAllStringSubmatch(line, -1))
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestReferences(t *testing.T) {
	page, err := os.ReadFile("REFERENCES.md")
	if err != nil {
		t.Fatal(err)
	}
	used := uses(t)
	listed := map[string]bool{}
	for _, m := range keyListed.FindAllStringSubmatch(string(page), -1) {
		key, entry := m[1], m[2]
		if listed[key] {
			t.Errorf("[%s] stands twice in REFERENCES.md", key)
		}
		listed[key] = true
		if used[key] == "" {
			t.Errorf("[%s] is listed in REFERENCES.md and used nowhere", key)
		}
		if !strings.Contains(entry, "Used in:") {
			t.Errorf("[%s] in REFERENCES.md does not say where it is used", key)
		}
	}
	for key, where := range used {
		if !listed[key] {
			t.Errorf("%s: [%s] is not listed in REFERENCES.md", where, key)
		}
	}
	if len(listed) < 10 {
		t.Errorf("only %d references were read; the form of the page has changed", len(listed))
	}
}
