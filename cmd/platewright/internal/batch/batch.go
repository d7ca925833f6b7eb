// Package batch separates a folder of pictures, each in a process of its own.
//
// Call [Scan] for what a folder holds, then [Run] to work on it, or [Collect] to
// gather what several machines made. Results go to one job folder a picture
// beside a hidden folder that remembers what was made of what: a result is known
// by the checksum of the picture, the settings, what its inks print and the
// program, and is not made again while those stay. Nothing here trusts a clock.
//
// A process takes a picture by creating a file, which only one can; so any
// number of processes, on any machines that share the folder, may work on it.
// [Share] gives each a part of its own, so that they need not meet.
//
// The work on a picture runs in a child process that [Serve] is the other end
// of: whatever a broken file does to it, the rest goes on.
package batch

import (
	"path/filepath"
	"strings"
)

// stateName is the hidden folder in the results that remembers.
const stateName = ".batch"

// OverrideEnding is what the settings of one picture end in, beside it:
// poster.job.toml for poster.png.
const OverrideEnding = ".job.toml"

// Results is the folder beside a folder of pictures that its results go to.
func Results(folder string) (string, error) {
	abs, err := filepath.Abs(folder) // "." has a name too
	if err != nil {
		return "", err
	}
	name := filepath.Base(abs) + "-jobs"
	clean := filepath.Clean(folder)
	if clean == "." || clean == ".." || strings.HasSuffix(clean, string(filepath.Separator)+"..") {
		return filepath.Join(filepath.Dir(abs), name), nil
	}
	return filepath.Join(filepath.Dir(clean), name), nil
}
