package push

import (
	"fmt"
	"strconv"
	"strings"
)

// pointer is a JSON Pointer (RFC 6901), cut into its tokens. The empty one is the
// whole document.
type pointer []string

func parsePointer(text string) (pointer, error) {
	if text == "" {
		return pointer{}, nil
	}
	if text[0] != '/' {
		return nil, fmt.Errorf("%q is not a JSON Pointer: it begins with a slash, such as /gravity", text)
	}
	tokens := strings.Split(text[1:], "/")
	for i, t := range tokens {
		if strings.Contains(strings.NewReplacer("~0", "", "~1", "").Replace(t), "~") {
			return nil, fmt.Errorf("%q is not a JSON Pointer: ~ is written ~0, and / within a name ~1", text)
		}
		// In this order: "~01" is "~1", not "/".
		tokens[i] = strings.ReplaceAll(strings.ReplaceAll(t, "~1", "/"), "~0", "~")
	}
	return tokens, nil
}

// in looks the pointer up in a document as encoding/json gives it.
func (p pointer) in(doc any) (any, bool) {
	for _, token := range p {
		switch d := doc.(type) {
		case map[string]any:
			next, ok := d[token]
			if !ok {
				return nil, false
			}
			doc = next
		case []any:
			i, ok := index(token)
			if !ok || i >= len(d) {
				return nil, false
			}
			doc = d[i]
		default:
			return nil, false
		}
	}
	return doc, true
}

// index reads a place in an array: digits without a leading zero. "-", the place
// after the last, never holds anything to read.
func index(token string) (int, bool) {
	if token == "" || strings.Trim(token, "0123456789") != "" || len(token) > 1 && token[0] == '0' {
		return 0, false
	}
	i, err := strconv.Atoi(token)
	return i, err == nil
}
