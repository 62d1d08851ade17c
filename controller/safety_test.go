package controller_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// The safety case names tests and scenarios: each of them has to be there, and every
// hazard has at least one.
func TestTheSafetyCaseNamesRealTests(t *testing.T) {
	text, err := os.ReadFile("SAFETY.md")
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{}
	test := regexp.MustCompile(`(?m)^func (Test\w+)\(`)
	err = filepath.WalkDir("..", func(path string, _ fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		code, err := os.ReadFile(path)
		for _, m := range test.FindAllStringSubmatch(string(code), -1) {
			there[m[1]] = true
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	named := 0
	for _, m := range regexp.MustCompile("`(Test\\w+)`").FindAllStringSubmatch(string(text), -1) {
		if named++; !there[m[1]] {
			t.Errorf("there is no %s", m[1])
		}
	}
	for _, m := range regexp.MustCompile("`(scenarios/[\\w-]+\\.txt)`").FindAllStringSubmatch(string(text), -1) {
		if _, err := os.Stat(filepath.Join("bench", "testdata", m[1])); err != nil {
			t.Error(err)
		}
	}
	hazards := 0
	for line := range strings.Lines(string(text)) {
		cells := strings.Split(line, "|")
		if len(cells) != 5 || strings.Contains(line, "---") || strings.Contains(line, "shown by") {
			continue
		}
		if hazards++; !strings.Contains(cells[3], "`") {
			t.Errorf("nothing shows that this is held: %s", cells[1])
		}
	}
	if hazards < 25 || named < 40 {
		t.Errorf("%d hazards and %d tests", hazards, named)
	}
}
