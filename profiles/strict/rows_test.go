package strict_test

import "strings"

type row struct{ name, src, want string }

// rows breaks every rule of form at least once. The messages are what a brewer
// sees, so they are held to the letter.
func rows() []row {
	const celsius = `a temperature such as "19 C" or "66 F"`
	return []row{
		{"a file that is too big is not read", "name: " + strings.Repeat("x", 64<<10), `a.yaml:1:1: the file has 65542 bytes, and 65536 (64 KiB) are allowed`},
		{"another encoding is refused where it begins", "name: x\nnote: Br\xe4u\n", `a.yaml:2:9: the file is not text in UTF-8; save it as UTF-8`},
		{"a tab is refused", "name:\tx\n", `a.yaml:1:6: there is a tab; write spaces, also between words`},
		{"a terminal escape is refused", "name: \x1b[31mx\n", `a.yaml:1:7: there is a character that cannot be seen (U+001B); only text and line ends are allowed`},
		{"a lone carriage return is refused", "name: x\rnote: y\n", `a.yaml:1:8: there is a character that cannot be seen (U+000D); only text and line ends are allowed`},
		{"text that runs backwards is refused", "name: a\u202eb\n", `a.yaml:1:8: there is a character that cannot be seen (U+202E); only text and line ends are allowed`},
		{"an unclosed bracket is one problem", "name: x\nlead: {hold: 1 h\nat: 19 C\n", `a.yaml:2:1: the file is not YAML: did not find expected ',' or '}'; a comma or a closing bracket is missing`},
		{"a colon in a text is one problem", "name: x: y\n", `a.yaml:1:1: the file is not YAML: mapping values are not allowed in this context; a colon is missing above, or a text that holds ": " needs quotes`},
		{"a line that stands too far out is found", "name: x\nsteps:\n  - do: a\n  - do: b\n do: c\n", `a.yaml:5:2: the file is not YAML: did not find expected key; the line does not begin under the lines that it belongs to, or a text needs quotes`},
		{"a closing quote that is missing is found where the text begins", "name: x\nnote: \"y\nat: 19 C\nwait: 2 h\n", `a.yaml:2:1: the file is not YAML: found unexpected end of stream; a closing quote is missing`},
		{"an unknown alias is found by its name", "name: x\nnote: say *now\nkind: *rest\n", `a.yaml:3:7: the file is not YAML: unknown anchor 'rest' referenced; a text that begins with * needs quotes`},
		{"an empty file has its own words", "", `a.yaml:1:1: the file is empty`},
		{"a file of comments is empty", "# nothing\n\n# at all\n", `a.yaml:1:1: the file is empty`},
		{"a bare document mark is empty", "---\n", `a.yaml:1:1: the file is empty`},
		{"a second document is refused", "name: x\n---\nname: y\n", `a.yaml:2:1: a second document begins here ("---"); one file holds one`},
		{"a broken second document is refused", "name: x\n---\nname: [\n", `a.yaml:3:1: the file is not YAML: did not find expected node content; a value or a closing bracket is missing`},
		{"endless nesting is refused", "name: " + strings.Repeat("[", 40) + strings.Repeat("]", 40) + "\n", `a.yaml:1:23: values are nested more than 16 levels deep`},
		{"an anchor is refused", "name: &n x\n", `a.yaml:1:7: name: "&n" names a part of the file, which is not allowed; put a text in quotes`},
		{"an alias is refused", "name: &n x\nnote: *n\n", "a.yaml:1:7: name: \"&n\" names a part of the file, which is not allowed; put a text in quotes\n" +
			`a.yaml:2:7: note: "*n" repeats another part of the file, which is not allowed; write it out, or put a text in quotes`},
		{"a merge key is refused", "name: x\n<<: {at: 19 C}\n", `a.yaml:2:1: a merge key ("<<") is not allowed; write the keys out`},
		{"a tag is refused", "name: !!str x\n", `a.yaml:1:7: name: a tag ("!") is not allowed; put a text in quotes`},
		{"a bare tag is refused", "name: ! x\n", `a.yaml:1:7: name: a tag ("!") is not allowed; put a text in quotes`},
		{"a bare tag on a group of keys is refused", "name: x\nlead: ! {hold: 3}\n", `a.yaml:2:7: lead: a tag ("!") is not allowed; put a text in quotes`},
		{"a tag on a key is refused", "!!str name: x\n", `a.yaml:1:1: name: a tag ("!") is not allowed; put a text in quotes`},
		{"a key that is a list is refused", "name: x\n[a]: y\n", `a.yaml:2:1: a key must be a word`},
		{"an empty key is refused", "name: x\n\"\": y\n", `a.yaml:2:1: a key must be a word`},
		{"a key given twice is refused", "name: x\nname: y\n", `a.yaml:2:1: name: the key is given twice; it stands in line 1 already`},
		{"a decimal comma in flow style has its hint", "name: x\nlead: {hold: 12,5 C}\n", `a.yaml:2:14: lead.hold: write a decimal point, not a comma: "12.5 C"`},
		{"a decimal comma in block style has its hint", "name: x\nat: 12,5 C\n", `a.yaml:2:5: at: "12,5 C" is not ` + celsius + `; write a decimal point, not a comma`},
		{"a key without a value never becomes 0 C", "name: x\nat:\n", `a.yaml:2:4: at: has no value; needed is ` + celsius},
		{"null is no value", "name: x\nat: null\nkind: ~\n", `a.yaml:2:5: at: "null" is no value; needed is ` + celsius + "\n" +
			`a.yaml:3:7: kind: "~" is no value; needed is primary, rest or crash`},
		{"a list without a value is refused", "name: x\nsteps:\n", `a.yaml:2:7: steps: has no value; needed is a list of steps`},
		{"a misspelt key is reported once, with what is meant", "nam: x\n", `a.yaml:1:1: unknown key "nam"; "name" is probably meant; allowed: name, note, token, kind, ready, at, within, rate, gravity, spread, left, wait, volume, power, gas, share, count, steps, lead`},
		{"an unknown key in a list item names its path", "name: x\nsteps: [{do: a}, {do: b, zzz: 3}]\n", `a.yaml:2:26: steps[2]: unknown key "zzz"; allowed: do`},
		{"a missing key is refused", "note: x\n", `a.yaml:1:1: the key "name" is missing`},
		{"a text where keys are needed", "name: x\nlead: 19 C\n", `a.yaml:2:7: lead: "19 C" stands where a lead such as {ramp: 1 K/h} is needed`},
		{"a list where keys are needed", "- name: x\n", `a.yaml:1:1: a list stands where a group of keys such as "name: value" is needed`},
		{"a text where a list is needed", "name: x\nsteps: wait\n", `a.yaml:2:8: steps: "wait" stands where a list of steps is needed`},
		{"keys where a value is needed", "name: x\nat: {is: 19 C}\n", `a.yaml:2:5: at: a group of keys stands where ` + celsius + ` is needed`},
		{"an empty list is refused", "name: x\nsteps: []\n", `a.yaml:2:8: steps: the list is empty; needed is a list of steps`},
		{"an empty text is refused", "name: \" \"\n", `a.yaml:1:7: name: the text is empty`},
		{"a long text is refused", "name: one two three four five six\n", `a.yaml:1:7: name: the text has 27 characters, and 20 are allowed`},
		{"a text of one line holds no other", "name: \"a\\nb\"\n", `a.yaml:1:7: name: the text must stand in one line`},
		{"an escaped control character is refused", "name: \"a\\0b\"\n", `a.yaml:1:7: name: the text holds a character that cannot be seen`},
		{"an unknown word has its nearest", "name: x\nkind: crahs\n", `a.yaml:2:7: kind: "crahs" is not known; "crash" is probably meant; allowed: primary, rest, crash`},
		{"a far word has none", "name: x\nkind: lagering\n", `a.yaml:2:7: kind: "lagering" is not known; allowed: primary, rest, crash`},
		{"yes is not true", "name: x\nready: yes\n", `a.yaml:2:8: ready: "yes" is not true or false`},
		{"a quoted true is a text", "name: x\nready: \"true\"\n", `a.yaml:2:8: ready: "true" is not true or false`},
		{"a number without its unit is refused", "name: x\nat: 19\n", `a.yaml:2:5: at: "19" is not ` + celsius + `; the unit is missing`},
		{"not a number is refused", "name: x\nat: .nan\nwait: .inf\n", `a.yaml:2:5: at: ".nan" is not ` + celsius + "\n" +
			`a.yaml:3:7: wait: ".inf" is not a duration such as "36 h", "2 d", "90 min" or "5 s"`},
		{"a share without its sign is refused", "name: x\nshare: 0.7\n", `a.yaml:2:8: share: "0.7" is not a share such as "70 %"; the unit is missing`},
		{"a share with a comma has its hint", "name: x\nshare: 7,5 %\n", `a.yaml:2:8: share: "7,5 %" is not a share such as "70 %"; write a decimal point, not a comma`},
		{"points may be bare and nothing else", "name: x\nleft: 2 K\n", `a.yaml:2:7: left: "2 K" is not a difference of gravity such as "2 points"`},
		{"a count is no fraction, octal or grouped number", "name: x\ncount: 010\n", `a.yaml:2:8: count: "010" is not a whole number such as 2`},
		{"a temperature out of range is refused as written", "name: x\nat: 200 F\n", `a.yaml:2:5: at: "200 F" is out of range; allowed: -3 C to 45 C`},
		{"a duration out of range is refused", "name: x\nwait: 5 min\n", `a.yaml:2:7: wait: "5 min" is out of range; allowed: 1 h to 10 d`},
		{"a gravity out of range is refused", "name: x\ngravity: 32 P\n", `a.yaml:2:10: gravity: "32 P" is out of range; allowed: 1.000 to 1.120`},
		{"two of which one is allowed", "name: x\nlead: {ramp: 1, hold: 2}\n", `a.yaml:2:7: lead: only one of ramp, hold or free-rise is allowed, and ramp and hold are given`},
		{"none of which one is needed", "name: x\nlead: {}\n", `a.yaml:2:7: lead: one of ramp, hold or free-rise is needed`},
		{"a misspelt one of which one is needed", "name: x\nlead: {freerise: 3}\n", `a.yaml:2:8: lead: unknown key "freerise"; "free-rise" is probably meant; allowed: ramp, hold, free-rise`},
		{"a refused key has its own words and is not offered", "name: x\nlead: {raise: 3, zzz: 4}\n", "a.yaml:2:8: lead: write ramp, not raise\n" +
			`a.yaml:2:18: lead: unknown key "zzz"; allowed: ramp, hold, free-rise`},
		{"all problems come at once, in the order of lines", "count: 0\nname:\nat: 99 C\n", `a.yaml:1:8: count: "0" is out of range; allowed: 1 to 9` + "\n" +
			"a.yaml:2:6: name: has no value; needed is a text\n" + `a.yaml:3:5: at: "99 C" is out of range; allowed: -3 C to 45 C`},
	}
}
