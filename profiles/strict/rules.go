package strict

// The rules of form. A file that breaks one of the first group is not read any
// further, since nothing in it can be trusted to stand where it seems to.
const (
	TooBig           Rule = "file-too-big"
	NotText          Rule = "not-utf8"
	Tab              Rule = "tab"
	ControlCharacter Rule = "control-character"
	Syntax           Rule = "syntax"
	Empty            Rule = "empty-file"
	SecondDocument   Rule = "second-document"
	TooDeep          Rule = "nested-too-deeply"

	Anchor       Rule = "anchor"
	Alias        Rule = "alias"
	MergeKey     Rule = "merge-key"
	Tag          Rule = "tag"
	KeyForm      Rule = "key-form"
	DuplicateKey Rule = "duplicate-key"
	DecimalComma Rule = "decimal-comma"

	NoValue     Rule = "no-value"
	Null        Rule = "null"
	UnknownKey  Rule = "unknown-key"
	MissingKey  Rule = "missing-key"
	NotAMap     Rule = "not-a-map"
	NotAList    Rule = "not-a-list"
	NotAValue   Rule = "not-a-value"
	EmptyList   Rule = "empty-list"
	EmptyText   Rule = "empty-text"
	LongText    Rule = "long-text"
	TextForm    Rule = "text-form"
	UnknownWord Rule = "unknown-word"
	NotAFlag    Rule = "not-true-or-false"
	Quantity    Rule = "quantity"
	Range       Rule = "range"
)

// Rules lists every rule of form.
func Rules() []Rule {
	return []Rule{
		TooBig, NotText, Tab, ControlCharacter, Syntax, Empty, SecondDocument, TooDeep,
		Anchor, Alias, MergeKey, Tag, KeyForm, DuplicateKey, DecimalComma,
		NoValue, Null, UnknownKey, MissingKey, NotAMap, NotAList, NotAValue, EmptyList, EmptyText, LongText,
		TextForm, UnknownWord, NotAFlag, Quantity, Range,
	}
}
