package strict

import (
	"bytes"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// most is how long a file may be. The longest real ones are some kilobytes; the
// rest is a wrong file, or an attack.
const most = 64 << 10

// text checks the bytes of the file before anything is made of them, and gives
// its lines. It reports nothing but the first thing that is wrong.
func (d *Doc) text(src []byte) bool {
	if len(src) > most {
		d.fileProblem(1, 1, TooBig, fmt.Sprintf("the file has %d bytes, and %d (64 KiB) are allowed", len(src), most))
		return false
	}
	line, column := 1, 1
	for rest := src; len(rest) > 0; {
		r, n := utf8.DecodeRune(rest)
		if rule, message := forbidden(r, n, rest); rule != "" {
			d.lines = splitLines(bytes.ToValidUTF8(src, []byte("?")))
			d.fileProblem(line, column, rule, message)
			return false
		}
		if r == '\n' {
			line, column = line+1, 0
		}
		column++
		rest = rest[n:]
	}
	d.lines = splitLines(src)
	for _, l := range d.lines {
		d.runes = append(d.runes, []rune(l))
	}
	return true
}

// forbidden tells what is wrong with the character at the start of rest.
func forbidden(r rune, n int, rest []byte) (Rule, string) {
	switch {
	case r == utf8.RuneError && n == 1:
		return NotText, "the file is not text in UTF-8; save it as UTF-8"
	case r == '\t':
		return Tab, "there is a tab; write spaces, also between words"
	case r == '\n' || (r == '\r' && len(rest) > 1 && rest[1] == '\n'):
		return "", ""
	case unicode.IsControl(r), r == '\u2028', r == '\u2029', unicode.Is(unicode.Bidi_Control, r):
		return ControlCharacter, fmt.Sprintf("there is a character that cannot be seen (%U); only text and line ends are allowed", r)
	}
	return "", ""
}

func splitLines(src []byte) []string {
	lines := strings.Split(string(src), "\n")
	for i := range lines {
		lines[i] = strings.TrimSuffix(lines[i], "\r")
	}
	return lines
}

// runeAt gives the character at a place, or 0.
func (d *Doc) runeAt(line, column int) rune {
	if line < 1 || line > len(d.runes) || column < 1 || column > len(d.runes[line-1]) {
		return 0
	}
	return d.runes[line-1][column-1]
}
