package strict

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// Rule names a rule that a file broke, so that tests can tell that every rule
// is tried. People read the message.
type Rule string

// Place is where something stands in a file; lines and columns count from 1.
type Place struct {
	File         string
	Line, Column int
}

// String gives "file:line".
func (p Place) String() string { return fmt.Sprintf("%s:%d", p.File, p.Line) }

// Problem is one thing that is wrong in a file, or doubtful.
type Problem struct {
	File         string
	Line, Column int
	Path         string // "stages[3].target.at", items counted from 1; empty for the file itself
	Message      string // what is wrong, what is allowed
	Rule         Rule
}

// String gives "file:line:column: path: message".
func (p Problem) String() string {
	if p.Path == "" {
		return fmt.Sprintf("%s:%d:%d: %s", p.File, p.Line, p.Column, p.Message)
	}
	return fmt.Sprintf("%s:%d:%d: %s: %s", p.File, p.Line, p.Column, p.Path, p.Message)
}

// Problems is everything that is wrong in one file, in the order of its lines.
type Problems struct {
	List []Problem
	More int // how many there are beyond those listed

	lines   []string
	secrets []string
}

// mostProblems is how many are listed: more are the work of a machine, or a
// wrong file.
const mostProblems = 100

// Error gives one line a problem.
func (p *Problems) Error() string {
	out := make([]string, 0, len(p.List)+1)
	for i := range p.List {
		out = append(out, p.List[i].String())
	}
	if p.More > 0 {
		out = append(out, p.more())
	}
	return strings.Join(out, "\n")
}

// Render gives every problem with its source line and a caret under the place.
func (p *Problems) Render() string {
	var b strings.Builder
	for i := range p.List {
		b.WriteString(p.List[i].String())
		b.WriteByte('\n')
		b.WriteString(p.excerpt(p.List[i]))
	}
	if p.More > 0 {
		b.WriteString(p.more() + "\n")
	}
	return b.String()
}

func (p *Problems) more() string { return fmt.Sprintf("and %d more problems", p.More) }

// widest is the longest piece of a source line that is shown: what fits in a
// terminal of 80 columns beside the line number.
const widest = 70

// excerpt shows the line of a problem, cut to what fits, and the caret.
func (p *Problems) excerpt(at Problem) string {
	if at.Line < 1 || at.Line > len(p.lines) {
		return ""
	}
	runes := []rune(starred(p.lines[at.Line-1], p.secrets))
	column := min(max(at.Column, 1), len(runes)+1)
	from := 0
	if column > widest {
		from = column - widest/2
	}
	shown := runes[from:min(len(runes), from+widest)]
	for i, r := range shown {
		if !unicode.IsPrint(r) {
			shown[i] = '?'
		}
	}
	number := fmt.Sprintf("%5d", at.Line)
	return fmt.Sprintf("%s | %s\n%s | %s^\n", number, strings.TrimRight(string(shown), " "),
		strings.Repeat(" ", len(number)), strings.Repeat(" ", column-1-from))
}

// sorted puts problems in the order of the file; of equals the first found
// comes first.
func sorted(list []Problem) []Problem {
	out := slices.Clone(list)
	slices.SortStableFunc(out, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return out
}

// quoted gives a text in quotes, cut to what a message can hold.
func quoted(text string) string {
	const most = 40
	if r := []rune(text); len(r) > most {
		text = string(r[:most]) + "..."
	}
	return fmt.Sprintf("%q", text)
}
