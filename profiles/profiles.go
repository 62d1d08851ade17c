package profiles

import (
	"embed"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"strings"

	"example.org/restpoint/controller"
	"example.org/restpoint/profiles/strict"
)

//go:embed builtin/*.yaml
var library embed.FS

// Warning is something that is allowed and doubtful.
type Warning = strict.Problem

// File is a schedule as it was written: its text, what it means, and where in
// the text everything stands.
type File struct {
	Name     string // of the file, or of the built-in schedule
	Source   []byte
	Schedule *controller.Schedule
	Warnings []Warning
	Doc      *strict.Doc // Where("stages[2].target") and problems found later
}

// Read reads and checks a schedule. The error is a *strict.Problems that holds
// everything that is wrong.
func Read(name string, src []byte) (*File, error) {
	doc := strict.Open(name, src)
	s := read(doc)
	if err := doc.Err(); err != nil {
		return nil, err
	}
	return &File{Name: name, Source: src, Schedule: s, Warnings: doc.Warnings(), Doc: doc}, nil
}

// Parse is Read for those who need no positions.
func Parse(name string, src []byte) (*controller.Schedule, []Warning, error) {
	f, err := Read(name, src)
	if err != nil {
		return nil, nil, err
	}
	return f.Schedule, f.Warnings, nil
}

// Builtin lists the names of the schedules that come with the program.
func Builtin() []string {
	entries, err := library.ReadDir("builtin")
	if err != nil {
		return nil // cannot be: the folder is part of the program
	}
	names := make([]string, len(entries))
	for i, e := range entries {
		names[i] = strings.TrimSuffix(e.Name(), ".yaml")
	}
	return names
}

// Source gives the text of a built-in schedule.
func Source(name string) ([]byte, bool) {
	if strings.ContainsAny(name, `/\`) {
		return nil, false
	}
	src, err := library.ReadFile(path.Join("builtin", name+".yaml"))
	return src, err == nil
}

// Load reads a built-in schedule by its name, or a file by its path. A file in
// the working folder that is called like a built-in one is "./name".
func Load(nameOrPath string) (*File, error) {
	if src, ok := Source(nameOrPath); ok {
		return Read(nameOrPath, src)
	}
	src, err := os.ReadFile(filepath.Clean(nameOrPath))
	if err == nil {
		return Read(nameOrPath, src)
	}
	if strings.ContainsRune(nameOrPath, filepath.Separator) || filepath.Ext(nameOrPath) != "" {
		return nil, fmt.Errorf("read schedule: %w", err)
	}
	near := strict.Nearest(nameOrPath, Builtin())
	if near != "" {
		near = fmt.Sprintf("; %q is probably meant", near)
	}
	return nil, fmt.Errorf("%q is no schedule%s: built in are %s; a file is given by its path",
		nameOrPath, near, strings.Join(Builtin(), ", "))
}
