package strict

import (
	"fmt"
	"slices"
	"strings"

	"gopkg.in/yaml.v3"
)

// Map reads the keys of one part of a file. A key that is asked for is known;
// Done reports all others.
type Map struct {
	doc     *Doc
	node    *yaml.Node // nil = not there, or not a map: everything reads as nothing
	path    string
	known   []string
	refused []string
	missing []string
}

// Need gives the value of a key that must be there.
func (m *Map) Need(key string) *Value {
	v := m.Opt(key)
	if !v.Given() && m.node != nil {
		m.missing = append(m.missing, key)
	}
	return v
}

// Opt gives the value of a key that may be there.
func (m *Map) Opt(key string) *Value {
	if !slices.Contains(m.known, key) {
		m.known = append(m.known, key)
	}
	v := &Value{doc: m.doc, path: join(m.path, key)}
	if i := m.index(key); i >= 0 {
		v.key, v.node = m.node.Content[i], m.node.Content[i+1]
	}
	return v
}

// Which tells which of some keys are given, in the order of the file. All of
// them become known.
func (m *Map) Which(keys ...string) []string {
	var out []string
	for _, k := range keys {
		if !slices.Contains(m.known, k) {
			m.known = append(m.known, k)
		}
	}
	for _, i := range m.keys() {
		if k := m.node.Content[i].Value; slices.Contains(keys, k) {
			out = append(out, k)
		}
	}
	return out
}

// Entry is a key of a map whose keys are names of the writer's own.
type Entry struct {
	Key   string
	Value *Value
}

// All gives every key that nobody has asked for, in the order of the file. All of
// them become known: it is for maps whose keys are names, such as ids of probes.
func (m *Map) All() []Entry {
	var out []Entry
	for _, i := range m.keys() {
		if k := m.node.Content[i].Value; !slices.Contains(m.known, k) {
			out = append(out, Entry{k, m.Opt(k)})
		}
	}
	return out
}

// One gives the only one of some keys that may be given, and its value. None,
// or more than one, is a problem, and the key is then empty.
func (m *Map) One(rule Rule, keys ...string) (string, *Value) {
	given := m.Which(keys...)
	if len(given) == 1 {
		return given[0], m.Opt(given[0])
	}
	if m.node != nil && len(given) == 0 && m.Misspelt(keys...) {
		return "", &Value{doc: m.doc} // Done will name the key
	}
	if len(given) == 0 {
		m.Fail(rule, "one of %s is needed", listed(keys))
	} else {
		m.Fail(rule, "only one of %s is allowed, and %s are given", listed(keys), strings.Join(given, " and "))
	}
	return "", &Value{doc: m.doc}
}

// Refuse reports a key that people write and that has no clear meaning, with
// words of its own. It does not become known.
func (m *Map) Refuse(key string, rule Rule, format string, args ...any) bool {
	m.refused = append(m.refused, key)
	i := m.index(key)
	if i >= 0 {
		m.doc.fail(m.node.Content[i], m.path, rule, fmt.Sprintf(format, args...))
	}
	return i >= 0
}

// Misspelt tells whether a key that nobody has asked for is probably meant to be
// one of those, so that nobody reports it as missing too.
func (m *Map) Misspelt(keys ...string) bool {
	for _, i := range m.keys() {
		if k := m.node.Content[i].Value; !slices.Contains(m.known, k) && Nearest(k, keys) != "" {
			return true
		}
	}
	return false
}

// Given tells whether there is a map at all.
func (m *Map) Given() bool { return m.node != nil }

// Path tells where in the file's structure the map stands.
func (m *Map) Path() string { return m.path }

// Fail reports a problem of the whole map.
func (m *Map) Fail(rule Rule, format string, args ...any) {
	if m.node != nil {
		m.doc.fail(m.node, m.path, rule, fmt.Sprintf(format, args...))
	}
}

// Done reports every key that nobody asked for, and every one that is missing.
func (m *Map) Done() {
	var meant []string
	for _, i := range m.keys() {
		key := m.node.Content[i]
		if slices.Contains(m.known, key.Value) || slices.Contains(m.refused, key.Value) {
			continue
		}
		message := "unknown key " + quoted(key.Value)
		if near := Nearest(key.Value, m.known); near != "" {
			message += fmt.Sprintf("; %q is probably meant", near)
			meant = append(meant, near)
		}
		m.doc.fail(key, m.path, UnknownKey, message+"; allowed: "+strings.Join(m.known, ", "))
	}
	m.reportMissing(meant)
}

// reportMissing names the keys that are missing, but for those that are only
// misspelt.
func (m *Map) reportMissing(meant []string) {
	for _, key := range m.missing {
		if !slices.Contains(meant, key) {
			m.Fail(MissingKey, "the key %q is missing", key)
		}
	}
	m.missing = nil
}

// keys gives the places of the keys in the node's content.
func (m *Map) keys() []int {
	if m.node == nil {
		return nil
	}
	var out []int
	for i := 0; i+1 < len(m.node.Content); i += 2 {
		if !m.doc.skipped[m.node.Content[i]] {
			out = append(out, i)
		}
	}
	return out
}

func (m *Map) index(key string) int {
	for _, i := range m.keys() {
		if m.node.Content[i].Value == key {
			return i
		}
	}
	return -1
}
