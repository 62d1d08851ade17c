package strict

import (
	"fmt"
	"strings"

	"gopkg.in/yaml.v3"
)

// deepest is how far values may be nested. A condition made of others costs
// two levels; nobody can read more than a few of them.
const deepest = 16

// walk looks at every node once: it notes where the values stand and reports
// the parts of YAML that have no use here. It tells whether the rest can be read.
func (d *Doc) walk(n *yaml.Node, path string, depth int) bool {
	if depth > deepest {
		d.fail(n, "", TooDeep, fmt.Sprintf("values are nested more than %d levels deep", deepest))
		return false
	}
	if _, seen := d.places[path]; !seen {
		d.places[path] = Place{d.file, n.Line, n.Column}
	}
	d.strange(n, path)
	switch n.Kind {
	case yaml.MappingNode:
		return d.walkMap(n, path, depth)
	case yaml.SequenceNode:
		for i, item := range n.Content {
			if !d.walk(item, fmt.Sprintf("%s[%d]", path, i+1), depth+1) {
				return false
			}
		}
	case yaml.DocumentNode, yaml.ScalarNode, yaml.AliasNode:
	}
	return true
}

// strange reports what marks a node in a way that has no use here.
func (d *Doc) strange(n *yaml.Node, path string) {
	switch {
	case n.Kind == yaml.AliasNode:
		d.fail(n, path, Alias, fmt.Sprintf("%s repeats another part of the file, which is not allowed; write it out, or put a text in quotes", quoted("*"+n.Value)))
		d.reported[n] = true
	case n.Anchor != "":
		d.fail(n, path, Anchor, fmt.Sprintf("%s names a part of the file, which is not allowed; put a text in quotes", quoted("&"+n.Anchor)))
	case n.Style&yaml.TaggedStyle != 0, d.isBareTag(n):
		d.fail(n, path, Tag, `a tag ("!") is not allowed; put a text in quotes`)
	}
}

// isBareTag finds a "!" without a name, of which the library keeps nothing but
// the place. A block of keys stands where its first key stands, so that a tag
// there is the key's.
func (d *Doc) isBareTag(n *yaml.Node) bool {
	if len(n.Content) > 0 && n.Content[0].Line == n.Line && n.Content[0].Column == n.Column {
		return false
	}
	return d.runeAt(n.Line, n.Column) == '!'
}

func (d *Doc) walkMap(n *yaml.Node, path string, depth int) bool {
	first := map[string]int{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		if key.Kind != yaml.ScalarNode || key.Value == "" {
			d.fail(key, path, KeyForm, "a key must be a word")
			d.skipped[key] = true
			continue
		}
		if d.isComma(n, i, path) {
			continue
		}
		inner := join(path, key.Value)
		d.strange(key, inner)
		switch line, twice := first[key.Value]; {
		case key.Tag == "!!merge":
			d.fail(key, path, MergeKey, `a merge key ("<<") is not allowed; write the keys out`)
			d.skipped[key] = true
		case twice:
			d.fail(key, inner, DuplicateKey, fmt.Sprintf("the key is given twice; it stands in line %d already", line))
			d.skipped[key] = true
		default:
			first[key.Value] = key.Line
		}
		if !d.walk(value, inner, depth+1) {
			return false
		}
	}
	return true
}

// isComma finds a decimal comma in flow style: of {at: 12,5 C} YAML makes the
// key "at" with 12 and a key "5 C" with nothing.
func (d *Doc) isComma(n *yaml.Node, i int, path string) bool {
	if n.Style&yaml.FlowStyle == 0 || i < 2 {
		return false
	}
	name, whole, key, value := n.Content[i-2], n.Content[i-1], n.Content[i], n.Content[i+1]
	if !isNull(value) || value.Value != "" || key.Style != 0 || whole.Kind != yaml.ScalarNode || whole.Style != 0 {
		return false
	}
	digits := strings.TrimLeft(whole.Value, "+-")
	if digits == "" || strings.Trim(digits, "0123456789") != "" || strings.IndexByte("0123456789", key.Value[0]) < 0 {
		return false
	}
	d.skipped[key] = true
	d.reported[whole] = true
	d.fail(whole, join(path, name.Value), DecimalComma,
		fmt.Sprintf("write a decimal point, not a comma: %s", quoted(whole.Value+"."+key.Value)))
	return true
}

// isNull tells whether a node is nothing, written or left out.
func isNull(n *yaml.Node) bool {
	return n.Kind == yaml.ScalarNode && n.Tag == "!!null" && n.Style&^yaml.TaggedStyle == 0
}

// join adds a key to a path. Keys longer than any that is known are cut, so
// that a path stays short whatever the file holds.
func join(path, key string) string {
	const longest = 40
	if r := []rune(key); len(r) > longest {
		key = string(r[:longest]) + "..."
	}
	if path == "" {
		return key
	}
	return path + "." + key
}
