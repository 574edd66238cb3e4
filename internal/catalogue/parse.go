package catalogue

import (
	"html/template"
	"text/template/parse"

	"spile/wording"
)

// Markup is a template that stands in source. Its texts are in the catalogue as those of the pages are.
type Markup string

// Parse parses a template of the program into t, in a language. The template holds no marks: Page finds its
// texts, and what an action writes is said if it is a text. It panics on a template that is wrong.
func Parse[M ~string](t *template.Template, source M, tongue *wording.Tongue) {
	t.Funcs(template.FuncMap{"say": tongue.Of})
	if tongue == nil {
		template.Must(t.Parse(string(source)))
		return
	}
	template.Must(t.Parse(Page(string(source), tongue.Word)))
	for _, of := range t.Templates() {
		if of.Tree != nil {
			sayShown(of.Tree.Root)
		}
	}
}

// sayShown puts say behind every action that writes something, once.
func sayShown(n parse.Node) {
	switch n := n.(type) {
	case *parse.ListNode:
		if n != nil {
			for _, x := range n.Nodes {
				sayShown(x)
			}
		}
	case *parse.ActionNode:
		if last := n.Pipe.Cmds[len(n.Pipe.Cmds)-1]; len(n.Pipe.Decl) == 0 && last.String() != "say" {
			say := &parse.CommandNode{NodeType: parse.NodeCommand, Pos: n.Pos, Args: []parse.Node{parse.NewIdentifier("say").SetPos(n.Pos)}}
			n.Pipe.Cmds = append(n.Pipe.Cmds, say)
		}
	case *parse.IfNode:
		sayShown(n.List)
		sayShown(n.ElseList)
	case *parse.WithNode:
		sayShown(n.List)
		sayShown(n.ElseList)
	case *parse.RangeNode:
		sayShown(n.List)
		sayShown(n.ElseList)
	}
}
