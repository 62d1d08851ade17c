package strict

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"gopkg.in/yaml.v3"
)

// Doc is one file while it is read, and where everything stands in it.
type Doc struct {
	file     string
	lines    []string
	runes    [][]rune // of the lines, for columns
	root     *yaml.Node
	places   map[string]Place
	reported map[*yaml.Node]bool // already said to be wrong: read as nothing, in silence
	skipped  map[*yaml.Node]bool // keys that are no keys
	maps     []*Map
	secrets  []string
	problems []Problem
	warnings []Problem
}

// Open decodes a file's text. It always gives a document; what is wrong with it
// is kept until Err.
func Open(file string, src []byte) *Doc {
	d := &Doc{
		file:     file,
		places:   map[string]Place{},
		reported: map[*yaml.Node]bool{},
		skipped:  map[*yaml.Node]bool{},
	}
	src = bytes.TrimPrefix(src, []byte("\ufeff")) // the mark of the order of bytes, which is no column
	if d.text(src) {
		d.decode(src)
	}
	return d
}

// Format prints the name of the file, whatever the verb: the text may hold
// secrets.
func (d *Doc) Format(f fmt.State, _ rune) { _, _ = io.WriteString(f, d.file) }

func (d *Doc) decode(src []byte) {
	decoder := yaml.NewDecoder(bytes.NewReader(src))
	var first, second yaml.Node
	err := decoder.Decode(&first)
	switch {
	case errors.Is(err, io.EOF):
		d.fileProblem(1, 1, Empty, "the file is empty")
		return
	case err != nil:
		d.syntax(err)
		return
	}
	err = decoder.Decode(&second)
	switch {
	case err == nil:
		d.fileProblem(second.Line, second.Column, SecondDocument, `a second document begins here ("---"); one file holds one`)
		return
	case !errors.Is(err, io.EOF):
		d.syntax(err)
		return
	}
	root := first.Content[0]
	if isNull(root) && root.Value == "" {
		d.fileProblem(1, 1, Empty, "the file is empty")
		return
	}
	if d.walk(root, "", 0) {
		d.root = root
	}
}

// Root gives the keys of the file. Nothing more is said about a file that could
// not be read.
func (d *Doc) Root() *Map {
	v := &Value{doc: d, node: d.root}
	return v.Map("a group of keys such as \"name: value\"")
}

// Err gives everything that is wrong as a *Problems, or nil.
func (d *Doc) Err() error {
	for _, m := range d.maps {
		m.reportMissing(nil)
	}
	if len(d.problems) == 0 {
		return nil
	}
	return d.Problems(d.problems...)
}

// Warnings gives what is allowed and doubtful, in the order of the file.
func (d *Doc) Warnings() []Problem { return sorted(d.warnings) }

// Problems makes an error of problems of this file, with its text for Render.
func (d *Doc) Problems(list ...Problem) *Problems {
	p := &Problems{List: sorted(list), lines: d.lines, secrets: d.secrets}
	if len(p.List) > mostProblems {
		p.More = len(p.List) - mostProblems
		p.List = p.List[:mostProblems]
	}
	return p
}

// Where tells where the value of a path stands, or else the nearest thing
// around it.
func (d *Doc) Where(path string) Place {
	for {
		if p, ok := d.places[path]; ok {
			return p
		}
		cut := strings.LastIndexAny(path, ".[")
		if cut < 0 {
			break
		}
		path = path[:cut]
	}
	if p, ok := d.places[""]; ok {
		return p
	}
	return Place{File: d.file, Line: 1, Column: 1}
}

// Problem makes a problem at the value of a path, for checks that come after
// the reading.
func (d *Doc) Problem(path string, rule Rule, format string, args ...any) Problem {
	p := d.Where(path)
	return Problem{p.File, p.Line, p.Column, path, fmt.Sprintf(format, args...), rule}
}

func (d *Doc) fileProblem(line, column int, rule Rule, message string) {
	d.problems = append(d.problems, Problem{d.file, max(line, 1), max(column, 1), "", message, rule})
}

func (d *Doc) fail(n *yaml.Node, path string, rule Rule, message string) {
	d.problems = append(d.problems, Problem{d.file, n.Line, n.Column, path, message, rule})
}
