package strict

import (
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"

	"gopkg.in/yaml.v3"
)

// hide keeps a text from being shown, whole and by its words: it may be folded
// over lines. In quotes it may stand in the file in other letters than its own.
func (d *Doc) hide(n *yaml.Node) {
	d.secrets = append(d.secrets, n.Value)
	d.secrets = append(d.secrets, strings.Fields(n.Value)...)
	switch {
	case n.Style&yaml.DoubleQuotedStyle != 0:
		d.secrets = append(d.secrets, d.inQuotes(n.Line, n.Column, '"')...)
	case n.Style&yaml.SingleQuotedStyle != 0:
		d.secrets = append(d.secrets, d.inQuotes(n.Line, n.Column, '\'')...)
	}
	// The longest first, so that no part of one is left beside the stars of another.
	slices.SortStableFunc(d.secrets, func(a, b string) int { return cmp.Compare(len(b), len(a)) })
}

// inQuotes gives the words of a quoted text as they are written.
func (d *Doc) inQuotes(line, column int, quote rune) []string {
	var raw strings.Builder
	for i, from := line, column; i <= len(d.runes); i, from = i+1, 0 {
		text := d.runes[i-1]
		for at := from; at < len(text); at++ {
			next := d.runeAt(i, at+2)
			switch {
			case text[at] == quote && (quote == '"' || next != quote):
				return strings.Fields(raw.String())
			case (text[at] == '\\' && quote == '"') || text[at] == quote:
				raw.WriteRune(text[at])
				if at++; at < len(text) {
					raw.WriteRune(text[at])
				}
			default:
				raw.WriteRune(text[at])
			}
		}
		raw.WriteByte(' ')
	}
	return strings.Fields(raw.String())
}

// starred gives a line with every secret in it starred out, letter for letter.
func starred(line string, secrets []string) string {
	for _, s := range secrets {
		line = strings.ReplaceAll(line, s, strings.Repeat("*", utf8.RuneCountInString(s)))
	}
	return line
}
