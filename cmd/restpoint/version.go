package main

import (
	"encoding/json"
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"example.org/restpoint/controller"
)

// build says which program this is, from what the compiler noted.
func build() controller.Build {
	b := controller.Build{Version: "unreleased", Revision: "unknown", Go: runtime.Version()}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return b
	}
	if info.Main.Version != "" && info.Main.Version != "(devel)" {
		b.Version = info.Main.Version
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			b.Revision = s.Value
		}
	}
	return b
}

func versionCommand(e env) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use: "version", Short: "Say which program this is", Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			b := build()
			if asJSON {
				return json.NewEncoder(e.out).Encode(map[string]string{
					"version": b.Version, "revision": b.Revision, "go": b.Go, "os": runtime.GOOS, "arch": runtime.GOARCH,
				})
			}
			_, err := fmt.Fprintf(e.out, "restpoint %s (revision %s, %s, %s/%s)\n", b.Version, b.Revision, b.Go, runtime.GOOS, runtime.GOARCH)
			return err
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}
