package batchfile

import (
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// node is a YAML value with the line it stands on: a mapping, a list or a
// scalar kept as the text that was written, so that 1.046 stays 1.046.
type node struct {
	line   int
	key    string // where it hangs, "vessel.rating", for messages
	fields []*node
	items  []*node
	kind   nodeKind
	text   string
}

type nodeKind int

const (
	scalar nodeKind = iota
	mapping
	list
	nothing // key with no value
)

// maxBatchBytes bounds a batch file; the longest sensible one is a hundredth of it.
const maxBatchBytes = 128 << 10

// maxDepth bounds nesting; BATCH.yaml needs four levels.
const maxDepth = 16

// tree reads one YAML document. JSON is YAML, and read alike.
func tree(file string, data []byte) (root *node, err error) {
	if refused := readable(file, data); refused != nil {
		return nil, refused
	}
	// The parser is not ours: should it fail on some odd input, that is a refusal too.
	defer func() {
		if p := recover(); p != nil {
			root, err = nil, &Refusal{file, 1, "text that cannot be read as YAML", acceptedShape}
		}
	}()
	parsed, err := parser.ParseBytes(data, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		return nil, syntaxRefusal(file, err)
	}
	return document(file, parsed)
}

const acceptedShape = `accepted: lines such as "wort: {volume: 20 L, gravity: 1.046}"`

// readable refuses what no parser should see.
func readable(file string, data []byte) *Refusal {
	switch {
	case len(data) > maxBatchBytes:
		return &Refusal{file, 1, fmt.Sprintf("a batch file of more than %d kB", maxBatchBytes>>10), fmt.Sprintf("at most %d kB is accepted", maxBatchBytes>>10)}
	case len(strings.TrimSpace(string(data))) == 0:
		return &Refusal{file, 1, "an empty file", "accepted: a batch, beginning with its name, as " + `"name: Sluice Gate Pale"`}
	}
	for i, line := range strings.Split(string(data), "\n") {
		if !utf8.ValidString(line) {
			return &Refusal{file, i + 1, "bytes that are not UTF-8 text", "save the file as UTF-8"}
		}
		if strings.ContainsRune(line, 0) {
			return &Refusal{file, i + 1, "a zero byte", "plain text is accepted"}
		}
	}
	if line := tooDeep(string(data)); line > 0 {
		return &Refusal{file, line, "brackets nested too deep", acceptedShape}
	}
	return nil
}

// tooDeep is the line on which values nest deeper than any batch file needs, or
// 0. It guards the parser's recursion and need not be exact about quotes.
func tooDeep(text string) int {
	depth := 0
	for i, line := range strings.Split(text, "\n") {
		compact := 0
		for _, r := range line {
			switch r {
			case '[', '{':
				depth++
			case ']', '}':
				depth = max(0, depth-1)
			case '-', '?':
				compact++
			case ' ', '\t':
			default:
				compact = 0
			}
			if depth > 4*maxDepth || compact > 4*maxDepth && strings.Trim(line, "-? \t\r") == "" || compact > 64*maxDepth {
				return i + 1
			}
		}
	}
	return 0
}

func syntaxRefusal(file string, err error) *Refusal {
	var syntax yaml.Error
	line, read := 1, err.Error()
	if errors.As(err, &syntax) {
		read = syntax.GetMessage()
		if t := syntax.GetToken(); t != nil && t.Position != nil {
			line = max(1, t.Position.Line)
		}
	}
	return &Refusal{file, line, "not YAML here: " + read, acceptedShape}
}

func document(file string, parsed *ast.File) (*node, error) {
	var docs []*ast.DocumentNode
	for _, d := range parsed.Docs {
		if d.Body != nil {
			docs = append(docs, d)
		}
	}
	if len(docs) != 1 {
		return nil, &Refusal{file, 1, fmt.Sprintf("%d documents in one file", len(docs)), "one batch a file is accepted"}
	}
	b := builder{file: file}
	root, err := b.value(docs[0].Body, "", 0)
	if err == nil && root.kind != mapping {
		err = &Refusal{file, root.line, "no keys", acceptedShape}
	}
	return root, err
}

// builder turns the parser's tree into ours.
type builder struct{ file string }

func (b builder) value(n ast.Node, key string, depth int) (*node, error) {
	out := &node{line: lineOf(n), key: key}
	if depth > maxDepth {
		return nil, &Refusal{b.file, out.line, "values nested too deep", acceptedShape}
	}
	switch n := n.(type) {
	case *ast.MappingNode:
		return b.mapping(out, n.Values, depth)
	case *ast.MappingValueNode:
		return b.mapping(out, []*ast.MappingValueNode{n}, depth)
	case *ast.SequenceNode:
		return b.list(out, n.Values, depth)
	case *ast.AnchorNode, *ast.AliasNode, *ast.TagNode:
		return nil, &Refusal{b.file, out.line, "an anchor, alias or tag", "plain values are accepted"}
	case *ast.NullNode:
		out.kind = nothing
		return out, nil
	case *ast.LiteralNode:
		out.text = strings.TrimSpace(n.Value.Value)
		return out, nil
	case *ast.StringNode:
		out.text = strings.TrimSpace(n.Value)
		return out, nil
	case ast.ScalarNode:
		out.text = strings.TrimSpace(n.GetToken().Value)
		return out, nil
	}
	return nil, &Refusal{b.file, out.line, "a value of an unknown kind", "plain values are accepted"}
}

func (b builder) mapping(out *node, values []*ast.MappingValueNode, depth int) (*node, error) {
	out.kind = mapping
	seen := map[string]int{}
	for _, v := range values {
		name, line := strings.TrimSpace(v.Key.GetToken().Value), v.Key.GetToken().Position.Line
		if _, plain := v.Key.(ast.ScalarNode); !plain || v.Key.IsMergeKey() {
			return nil, &Refusal{b.file, line, "a key that is not a word", acceptedShape}
		}
		if first, twice := seen[name]; twice {
			return nil, &Refusal{b.file, line, fmt.Sprintf("%s a second time, first on line %d", quoted(name), first), "each key once is accepted"}
		}
		seen[name] = line
		field, err := b.value(v.Value, strings.TrimPrefix(out.key+"."+name, "."), depth+1)
		if err != nil {
			return nil, err
		}
		field.line = line
		out.fields = append(out.fields, field)
	}
	if len(out.fields) > 0 {
		out.line = out.fields[0].line
	}
	return out, nil
}

func (b builder) list(out *node, values []ast.Node, depth int) (*node, error) {
	out.kind = list
	for _, v := range values {
		item, err := b.value(v, out.key, depth+1)
		if err != nil {
			return nil, err
		}
		out.items = append(out.items, item)
	}
	return out, nil
}

func lineOf(n ast.Node) int {
	if n == nil || n.GetToken() == nil || n.GetToken().Position == nil {
		return 1
	}
	return max(1, n.GetToken().Position.Line)
}

// name is the last part of the key.
func (n *node) name() string {
	return n.key[strings.LastIndexByte(n.key, '.')+1:]
}

// get is the field of that name, or nil.
func (n *node) get(name string) *node {
	for _, f := range n.fields {
		if f.name() == name {
			return f
		}
	}
	return nil
}
