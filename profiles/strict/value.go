package strict

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"gopkg.in/yaml.v3"
)

// Value is one value of a file, or its absence. What it is read as, it must be;
// otherwise the problem is kept and the zero value returned.
type Value struct {
	doc  *Doc
	key  *yaml.Node // nil for an item of a list
	node *yaml.Node // nil = not there
	path string
}

// Given tells whether the value is there at all.
func (v *Value) Given() bool { return v.node != nil }

// Good tells whether the value is there and nothing was found wrong with it.
func (v *Value) Good() bool { return v.node != nil && !v.doc.reported[v.node] }

// Path tells where in the file's structure the value stands.
func (v *Value) Path() string { return v.path }

// Place tells where in the text the value stands.
func (v *Value) Place() Place {
	if v.node == nil {
		return v.doc.Where(v.path)
	}
	return Place{v.doc.file, v.node.Line, v.node.Column}
}

// Fail reports a problem of the value. Of one value only the first is kept, and
// nothing is said of one that is not there.
func (v *Value) Fail(rule Rule, format string, args ...any) {
	if v.Good() {
		v.doc.fail(v.node, v.path, rule, fmt.Sprintf(format, args...))
		v.doc.reported[v.node] = true
	}
}

// FailKey reports a problem of the value's key, such as one that must not be there.
func (v *Value) FailKey(rule Rule, format string, args ...any) {
	if v.Good() {
		at := v.node
		if v.key != nil {
			at = v.key
		}
		v.doc.fail(at, v.path, rule, fmt.Sprintf(format, args...))
		v.doc.reported[v.node] = true
	}
}

// Warn notes something that is allowed and doubtful.
func (v *Value) Warn(rule Rule, format string, args ...any) {
	p := v.Place()
	v.doc.warnings = append(v.doc.warnings, Problem{p.File, p.Line, p.Column, v.path, fmt.Sprintf(format, args...), rule})
}

// Map reads the value as keys with values. The example is shown if it is
// something else.
func (v *Value) Map(example string) *Map {
	m := &Map{doc: v.doc, path: v.path}
	switch {
	case !v.Good(), v.nothing(example):
	case v.node.Kind != yaml.MappingNode:
		v.Fail(NotAMap, "%s stands where %s is needed", v.is(), example)
	default:
		m.node = v.node
	}
	v.doc.maps = append(v.doc.maps, m)
	return m
}

// IsText tells whether the value is written as a single text or number.
func (v *Value) IsText() bool { return v.Good() && v.node.Kind == yaml.ScalarNode && !isNull(v.node) }

// IsList tells whether the value is a list.
func (v *Value) IsList() bool { return v.Good() && v.node.Kind == yaml.SequenceNode }

// List reads the value as a list with at least one item.
func (v *Value) List(example string) []*Value {
	switch {
	case !v.Good(), v.nothing(example):
		return nil
	case v.node.Kind != yaml.SequenceNode:
		v.Fail(NotAList, "%s stands where %s is needed", v.is(), example)
		return nil
	case len(v.node.Content) == 0:
		v.Fail(EmptyList, "the list is empty; needed is %s", example)
		return nil
	}
	out := make([]*Value, len(v.node.Content))
	for i, n := range v.node.Content {
		out[i] = &Value{doc: v.doc, node: n, path: fmt.Sprintf("%s[%d]", v.path, i+1)}
	}
	return out
}

// Text reads a text that may have several lines.
func (v *Value) Text(longest int) string {
	text, ok := v.scalar("a text")
	if !ok {
		return ""
	}
	text = strings.TrimSpace(text)
	switch {
	case text == "":
		v.Fail(EmptyText, "the text is empty")
	case utf8.RuneCountInString(text) > longest:
		v.Fail(LongText, "the text has %d characters, and %d are allowed", utf8.RuneCountInString(text), longest)
	case strings.ContainsFunc(text, func(r rune) bool { return r != '\n' && (unicode.IsControl(r) || r == utf8.RuneError) }):
		v.Fail(TextForm, "the text holds a character that cannot be seen")
	default:
		return text
	}
	return ""
}

// Line reads a text of one line.
func (v *Value) Line(longest int) string {
	text := v.Text(longest)
	if strings.Contains(text, "\n") {
		v.Fail(TextForm, "the text must stand in one line")
		return ""
	}
	return text
}

// Secret reads a text that is never shown, not even with its source line.
func (v *Value) Secret(longest int) string {
	if v.IsText() && len(v.node.Value) > 0 {
		v.doc.hide(v.node)
	}
	return v.Line(longest)
}

// Word reads one of some words.
func (v *Value) Word(allowed ...string) string {
	text, ok := v.scalar(listed(allowed))
	if !ok {
		return ""
	}
	if slices.Contains(allowed, text) {
		return text
	}
	message := quoted(text) + " is not known"
	if near := Nearest(text, allowed); near != "" {
		message += fmt.Sprintf("; %q is probably meant", near)
	}
	v.Fail(UnknownWord, "%s; allowed: %s", message, strings.Join(allowed, ", "))
	return ""
}

// Flag reads true or false, and no other word for them.
func (v *Value) Flag() bool {
	text, ok := v.scalar("true or false")
	if ok && (v.node.Style != 0 || (text != "true" && text != "false")) {
		v.Fail(NotAFlag, "%s is not true or false", quoted(text))
		return false
	}
	return ok && text == "true"
}

// scalar gives the text of a single value as it is written.
func (v *Value) scalar(want string) (string, bool) {
	switch {
	case !v.Good(), v.nothing(want):
		return "", false
	case v.node.Kind != yaml.ScalarNode:
		v.Fail(NotAValue, "%s stands where %s is needed", v.is(), want)
		return "", false
	}
	return v.node.Value, true
}

// nothing reports a key without a value, and null.
func (v *Value) nothing(want string) bool {
	if !isNull(v.node) {
		return false
	}
	if v.node.Value == "" {
		v.Fail(NoValue, "has no value; needed is %s", want)
	} else {
		v.Fail(Null, "%s is no value; needed is %s", quoted(v.node.Value), want)
	}
	return true
}

// is says what kind of thing was found.
func (v *Value) is() string {
	switch v.node.Kind {
	case yaml.MappingNode:
		return "a group of keys"
	case yaml.SequenceNode:
		return "a list"
	case yaml.DocumentNode, yaml.ScalarNode, yaml.AliasNode:
	}
	return quoted(v.node.Value)
}
