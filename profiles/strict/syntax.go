package strict

import (
	"errors"
	"io"
	"regexp"
	"strconv"
	"strings"

	"gopkg.in/yaml.v3"
)

// syntax reports what the YAML library said, and what people most often did
// when it says so.
func (d *Doc) syntax(err error) {
	message := strings.TrimPrefix(strings.ReplaceAll(err.Error(), "\n", " "), "yaml: ")
	line := 1
	if rest, ok := strings.CutPrefix(message, "line "); ok {
		number, after, _ := strings.Cut(rest, ": ")
		if n, err := strconv.Atoi(number); err == nil {
			line, message = n, after
		}
	}
	line = min(max(line, d.stops()), len(d.lines))
	column := 1 + d.indent(line)
	if name := regexp.MustCompile(`unknown anchor '([^']*)'`).FindStringSubmatch(message); name != nil {
		line, column = d.find("*" + name[1])
	}
	d.fileProblem(line, column, Syntax, "the file is not YAML: "+message+hint(message))
}

// hint says what is probably wrong when the library says something.
func hint(message string) string {
	for _, h := range []struct{ says, hint string }{
		{"mapping values are not allowed", `a colon is missing above, or a text that holds ": " needs quotes`},
		{"did not find expected '-'", "the line does not begin under the lines that it belongs to"},
		{"did not find expected key", "the line does not begin under the lines that it belongs to, or a text needs quotes"},
		{"did not find expected ',' or", "a comma or a closing bracket is missing"},
		{"did not find expected node content", "a value or a closing bracket is missing"},
		{"cannot start any token", "a text that begins with %, @ or ` needs quotes"},
		{"could not find expected ':'", "a colon is missing, or one without a space after it"},
		{"unknown anchor", "a text that begins with * needs quotes"},
		{"unexpected end of stream", "a closing quote is missing"},
	} {
		if strings.Contains(message, h.says) {
			return "; " + h.hint
		}
	}
	return ""
}

// stops gives the line at which the file stops being YAML: all up to the line
// before can be read. The library itself often names the line in which the
// group began, many lines above. Files that nobody writes by hand are not tried.
func (d *Doc) stops() int {
	const handwritten = 400
	if len(d.lines) > handwritten {
		return 1
	}
	for n := len(d.lines) - 1; n > 0; n-- {
		decoder := yaml.NewDecoder(strings.NewReader(strings.Join(d.lines[:n], "\n")))
		var err error
		for err == nil {
			err = decoder.Decode(&yaml.Node{})
		}
		if errors.Is(err, io.EOF) {
			return n + 1
		}
	}
	return 1
}

// find gives the place of the first occurrence of a text.
func (d *Doc) find(text string) (line, column int) {
	for i, l := range d.lines {
		if before, _, ok := strings.Cut(l, text); ok {
			return i + 1, 1 + len([]rune(before))
		}
	}
	return 1, 1
}

// indent counts the spaces before a line.
func (d *Doc) indent(line int) int {
	if line < 1 || line > len(d.lines) {
		return 0
	}
	return len(d.lines[line-1]) - len(strings.TrimLeft(d.lines[line-1], " "))
}
