package main_test

import (
	"go/ast"
	"go/token"
	"path"
	"regexp"
	"slices"
	"strings"
)

func (h *house) checkClock() {
	for _, s := range h.code() {
		if strings.HasPrefix(s.path, "cmd/") || s.path == "server/web/log.go" {
			continue
		}
		clock := importName(s.file, "time")
		ast.Inspect(s.file, func(n ast.Node) bool {
			if sel, ok := n.(*ast.SelectorExpr); ok && isName(sel.X, clock) && slices.Contains([]string{"Now", "Since", "Until"}, sel.Sel.Name) {
				h.found(n.Pos(), "time.%s: now is an argument; only cmd and the access log read the clock", sel.Sel.Name)
			}
			return true
		})
	}
}

// importName is what a file calls an imported package; "" when it does not import it.
func importName(file *ast.File, importPath string) string {
	for _, spec := range file.Imports {
		if spec.Path.Value == `"`+importPath+`"` {
			if spec.Name != nil {
				return spec.Name.Name
			}
			return path.Base(importPath)
		}
	}
	return ""
}

func isName(e ast.Expr, name string) bool {
	id, ok := e.(*ast.Ident)
	return ok && name != "" && id.Name == name
}

func (h *house) checkSizes() {
	for _, s := range h.code() {
		if n := strings.Count(h.texts[s.path], "\n"); n > maxFile {
			h.found(s.file.Package, "%d lines; split the file before %d", n, maxFile)
		}
		for _, decl := range s.file.Decls {
			if fn, ok := decl.(*ast.FuncDecl); ok {
				if n := h.fset.Position(fn.End()).Line - h.fset.Position(fn.Pos()).Line + 1; n > maxFunc {
					h.found(fn.Pos(), "%s has %d lines; at most %d", fn.Name.Name, n, maxFunc)
				}
			}
		}
	}
}

func (h *house) checkDocs() {
	documented := map[string]bool{}
	for _, s := range h.code() {
		name := s.file.Name.Name
		if doc := s.file.Doc.Text(); doc != "" && (name == "main" || strings.HasPrefix(doc, "Package "+name+" ")) {
			documented[s.pkg] = true
		}
	}
	for _, s := range h.code() {
		if !documented[s.pkg] {
			documented[s.pkg] = true // say it once
			h.found(s.file.Package, "package %s has no comment that starts with \"Package %s\"", s.pkg, s.file.Name.Name)
		}
		for _, decl := range s.file.Decls {
			switch d := decl.(type) {
			case *ast.FuncDecl:
				if d.Name.IsExported() && d.Doc == nil && receiverExported(d) {
					h.found(d.Pos(), "%s has no doc comment", d.Name.Name)
				}
			case *ast.GenDecl:
				h.checkSpecDocs(d)
			}
		}
	}
}

func (h *house) checkSpecDocs(d *ast.GenDecl) {
	for _, spec := range d.Specs {
		switch sp := spec.(type) {
		case *ast.TypeSpec:
			if sp.Name.IsExported() && d.Doc == nil && sp.Doc == nil {
				h.found(sp.Pos(), "%s has no doc comment", sp.Name.Name)
			}
		case *ast.ValueSpec:
			for _, name := range sp.Names {
				if name.IsExported() && d.Doc == nil && sp.Doc == nil && sp.Comment == nil {
					h.found(sp.Pos(), "%s has no doc comment, nor has its group", name.Name)
				}
			}
		}
	}
}

func receiverExported(fn *ast.FuncDecl) bool {
	if fn.Recv == nil {
		return true
	}
	base := root(fn.Recv.List[0].Type)
	return base == nil || base.IsExported()
}

// root is the name at the left end of x, x.y, x[i], *x.
func root(e ast.Expr) *ast.Ident {
	switch x := e.(type) {
	case *ast.Ident:
		return x
	case *ast.SelectorExpr:
		return root(x.X)
	case *ast.IndexExpr:
		return root(x.X)
	case *ast.StarExpr:
		return root(x.X)
	case *ast.ParenExpr:
		return root(x.X)
	}
	return nil
}

var inexact = regexp.MustCompile(`^(float(32|64)|complex(64|128)|(Set)?Float(32|64)?|(Parse|Format|Append|New)Float)$`)

func (h *house) checkFloats() {
	for _, s := range h.code() {
		if s.pkg != "tracker/mixing" {
			continue
		}
		if importName(s.file, "math") != "" {
			h.found(s.file.Package, "package math is floating point; amounts are exact")
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			switch x := n.(type) {
			case *ast.Ident:
				if inexact.MatchString(x.Name) {
					h.found(n.Pos(), "%s is floating point; amounts are exact", x.Name)
				}
			case *ast.BasicLit:
				if x.Kind == token.FLOAT || x.Kind == token.IMAG {
					h.found(n.Pos(), "%s is a floating point number; amounts are exact", x.Value)
				}
			}
			return true
		})
	}
}

// checkState forbids init and package variables that could change. A table that is never assigned to is
// fine. Without types it cannot see a change through a method or an alias.
func (h *house) checkState() {
	vars := map[string]bool{} // "pkg name"
	for _, s := range h.code() {
		if helps(s.pkg) {
			continue // one server for all tests of a binary has to live somewhere
		}
		for _, decl := range s.file.Decls {
			switch d := decl.(type) {
			case *ast.FuncDecl:
				if d.Name.Name == "init" && d.Recv == nil {
					h.found(d.Pos(), "init: do it where the program starts, in sight")
				}
			case *ast.GenDecl:
				for _, spec := range d.Specs {
					if v, ok := spec.(*ast.ValueSpec); ok && d.Tok == token.VAR {
						h.checkVar(v, d)
						for _, name := range v.Names {
							vars[s.pkg+" "+name.Name] = name.Name != "_"
						}
					}
				}
			}
		}
	}
	for _, s := range h.code() {
		if !helps(s.pkg) {
			h.checkAssignments(s, vars)
		}
	}
}

var changeable = regexp.MustCompile(`^(sync\.(Mutex|RWMutex|Once|Map|Pool|WaitGroup|Cond)|atomic\.)`)

func (h *house) checkVar(v *ast.ValueSpec, d *ast.GenDecl) {
	embedded := strings.Contains(commentText(v.Doc)+commentText(d.Doc), "//go:embed ")
	if v.Values == nil && !embedded {
		h.found(v.Pos(), "%s has no value, so something must change it later: pass it instead", v.Names[0].Name)
	}
	parts := slices.Clone(v.Values)
	if v.Type != nil {
		parts = append(parts, v.Type)
	}
	for _, part := range parts {
		ast.Inspect(part, func(n ast.Node) bool {
			switch x := n.(type) {
			case *ast.FuncLit:
				return false
			case *ast.SelectorExpr:
				if id, ok := x.X.(*ast.Ident); ok && changeable.MatchString(id.Name+"."+x.Sel.Name) {
					h.found(v.Pos(), "%s can change: package variables may not", v.Names[0].Name)
				}
			case *ast.CallExpr:
				if isName(x.Fun, "make") || isName(x.Fun, "new") {
					h.found(v.Pos(), "%s is made empty, to be filled later: pass it instead", v.Names[0].Name)
				}
			}
			return true
		})
	}
}

// commentText gives a comment with its directives, which CommentGroup.Text leaves out.
func commentText(g *ast.CommentGroup) (text string) {
	if g != nil {
		for _, c := range g.List {
			text += c.Text + "\n"
		}
	}
	return text
}

func (h *house) checkAssignments(s source, vars map[string]bool) {
	for _, decl := range s.file.Decls {
		fn, ok := decl.(*ast.FuncDecl)
		if !ok || fn.Body == nil {
			continue
		}
		local := localNames(fn)
		changed := func(e ast.Expr) {
			if id := root(e); id != nil && vars[s.pkg+" "+id.Name] && !local[id.Name] {
				h.found(e.Pos(), "%s changes the package variable %s", fn.Name.Name, id.Name)
			}
		}
		ast.Inspect(fn.Body, func(n ast.Node) bool {
			switch x := n.(type) {
			case *ast.AssignStmt:
				for _, left := range x.Lhs {
					changed(left)
				}
			case *ast.IncDecStmt:
				changed(x.X)
			case *ast.UnaryExpr:
				if _, whole := x.X.(*ast.Ident); whole && x.Op == token.AND {
					changed(x.X)
				}
			case *ast.CallExpr:
				if isName(x.Fun, "delete") || isName(x.Fun, "clear") || isName(x.Fun, "copy") {
					changed(x.Args[0])
				}
			}
			return true
		})
	}
}

// localNames are the names a function declares anywhere in itself; one that hides a package variable
// anywhere is taken as the local one everywhere.
func localNames(fn *ast.FuncDecl) map[string]bool {
	local := map[string]bool{}
	add := func(e ast.Expr) {
		if id, ok := e.(*ast.Ident); ok {
			local[id.Name] = true
		}
	}
	ast.Inspect(fn, func(n ast.Node) bool {
		switch x := n.(type) {
		case *ast.Field: // parameters and results, of function literals too
			for _, name := range x.Names {
				local[name.Name] = true
			}
		case *ast.AssignStmt:
			if x.Tok == token.DEFINE {
				for _, left := range x.Lhs {
					add(left)
				}
			}
		case *ast.RangeStmt:
			if x.Tok == token.DEFINE {
				add(x.Key)
				add(x.Value)
			}
		case *ast.ValueSpec:
			for _, name := range x.Names {
				local[name.Name] = true
			}
		}
		return true
	})
	return local
}
