package push_test

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"example.org/restpoint/sensors/push"
)

// checkDocument is the example of RFC 6901, section 5.
const checkDocument = `{"foo":["bar","baz"],"":0,"a/b":1,"c%d":2,"e^f":3,"g|h":4,"i\\j":5,"k\"l":6," ":7,"m~n":8}`

func document(t testing.TB, text string) any {
	t.Helper()
	var doc any
	if err := json.Unmarshal([]byte(text), &doc); err != nil {
		t.Fatal(err)
	}
	return doc
}

// The pointers and what they find are those of RFC 6901, section 5.
func TestPointersFindWhatTheirStandardSays(t *testing.T) {
	doc := document(t, checkDocument)
	for _, row := range []struct {
		text string
		want any
	}{
		{"", doc},
		{"/foo", []any{"bar", "baz"}},
		{"/foo/0", "bar"},
		{"/", 0.0},
		{"/a~1b", 1.0},
		{"/c%d", 2.0},
		{"/e^f", 3.0},
		{"/g|h", 4.0},
		{`/i\j`, 5.0},
		{`/k"l`, 6.0},
		{"/ ", 7.0},
		{"/m~0n", 8.0},
	} {
		got, found, err := push.Look(row.text, doc)
		if err != nil || !found || !reflect.DeepEqual(got, row.want) {
			t.Errorf("%q found %v (%v, %v), want %v", row.text, got, found, err, row.want)
		}
	}
}

func TestPointersToNothingFindNothing(t *testing.T) {
	doc := document(t, `{"a":{"b":[1,[2,3]]},"~1":"tilde","n":null}`)
	for _, text := range []string{"/b", "/a/c", "/a/b/2", "/a/b/-", "/a/b/00", "/a/b/01", "/a/b/+1", "/a/b/", "/a/b/-1", "/a/b/0/0", "/a/b/99999999999999999999", "/A", "/a/"} {
		if got, found, err := push.Look(text, doc); found || err != nil {
			t.Errorf("%q found %v, %v", text, got, err)
		}
	}
	// RFC 6901, section 4: ~1 first and then ~0, so that ~01 is ~1.
	if got, found, _ := push.Look("/~01", doc); !found || got != "tilde" {
		t.Errorf("/~01 found %v, %v", got, found)
	}
	if got, found, _ := push.Look("/a/b/1/0", doc); !found || got != 2.0 {
		t.Errorf("/a/b/1/0 found %v, %v", got, found)
	}
	if got, found, _ := push.Look("/n", doc); !found || got != nil {
		t.Errorf("/n found %v, %v", got, found)
	}
}

func TestTextsThatAreNoPointersAreRefused(t *testing.T) {
	for _, text := range []string{"a", "a/b", "#/a", "/~", "/~2", "/a~", "/~a/b", "/~~0"} {
		if _, _, err := push.Look(text, nil); err == nil {
			t.Errorf("%q was taken", text)
		}
	}
}

// Every name can be reached: escaped as the standard says, it finds its value.
func FuzzEveryNameCanBePointedAt(f *testing.F) {
	for _, seed := range []string{"", "a/b", "m~n", "~1", "~01", "/", "0", "-", "é"} {
		f.Add(seed, seed)
	}
	f.Fuzz(func(t *testing.T, name, raw string) {
		escaped := strings.ReplaceAll(strings.ReplaceAll(name, "~", "~0"), "/", "~1")
		doc := map[string]any{name: []any{"x", map[string]any{name: "y"}}}
		if got, found, err := push.Look("/"+escaped+"/1/"+escaped, doc); err != nil || !found || got != "y" {
			t.Errorf("%q found %v, %v, %v", escaped, got, found, err)
		}
		_, _, _ = push.Look(raw, doc) // must not panic
	})
}
