package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

// release is the version of the program.
const release = "0.1.0"

func newVersion(p *program) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "version",
		Short: "print the version",
		Args:  noFiles,
		RunE: func(*cobra.Command, []string) error {
			if asJSON {
				return p.writeJSON(map[string]string{"version": release, "revision": revision(), "go": runtime.Version()})
			}
			_, err := fmt.Fprintln(p.out, "platewright "+release)
			return err
		},
	}
	addBool(cmd.Flags(), &asJSON, "json", "", "write the result to stdout as JSON")
	return cmd
}

// revision is the state of the source that the program was built from, "" where
// the build did not note it.
func revision() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return ""
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			return s.Value
		}
	}
	return ""
}
