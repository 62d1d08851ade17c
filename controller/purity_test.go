package controller_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// The core and its pure children may not reach the world: no goroutine, no
// channel, no clock, no import but the pure parts of the standard library.
func TestCoreIsPure(t *testing.T) {
	edge := map[string]bool{"relay": true, "record": true, "trial": true, "hold": true, "figures": true, "testdata": true}
	allowed := map[string]bool{
		"cmp": true, "errors": true, "fmt": true, "maps": true, "math": true, "slices": true, "sort": true,
		"strconv": true, "strings": true, "time": true, "encoding/json": true,
	}
	clock := map[string]bool{
		"Now": true, "Since": true, "Until": true, "After": true, "AfterFunc": true, "Sleep": true,
		"Tick": true, "NewTimer": true, "NewTicker": true,
	}
	files := 0
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if edge[d.Name()] {
				return fs.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		files++
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, path, nil, 0)
		if err != nil {
			return err
		}
		for _, i := range f.Imports {
			name, _ := strconv.Unquote(i.Path.Value)
			ours := strings.HasPrefix(name, "example.org/restpoint/controller")
			if !allowed[name] && !ours || name == "example.org/restpoint/controller/relay" || name == "example.org/restpoint/controller/record" ||
				name == "example.org/restpoint/controller/bench/internal/figures" {
				t.Errorf("%s: imports %s", set.Position(i.Pos()), name)
			}
		}
		ast.Inspect(f, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.GoStmt, *ast.SelectStmt, *ast.ChanType, *ast.SendStmt:
				t.Errorf("%s: goroutine or channel in the core", set.Position(n.Pos()))
			case *ast.RangeStmt:
				if _, isMap := n.X.(*ast.CompositeLit); isMap {
					if lit := n.X.(*ast.CompositeLit); lit != nil {
						if _, m := lit.Type.(*ast.MapType); m {
							t.Errorf("%s: ranges over a map", set.Position(n.Pos()))
						}
					}
				}
			case *ast.SelectorExpr:
				if x, ok := n.X.(*ast.Ident); ok && x.Name == "time" && clock[n.Sel.Name] {
					t.Errorf("%s: asks the clock", set.Position(n.Pos()))
				}
			case *ast.FuncDecl:
				if n.Name.Name == "init" && n.Recv == nil {
					t.Errorf("%s: has an init function", set.Position(n.Pos()))
				}
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if files < 20 {
		t.Fatalf("only %d files were looked at", files)
	}
}
