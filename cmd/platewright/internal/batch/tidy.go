package batch

import (
	"os"
	"path/filepath"
	"strings"
)

// tidy removes what processes that were cut off left behind, of pictures that
// are gone by now too.
func (n *session) tidy() {
	n.others() // forgets the dead
	for _, dir := range []string{n.root, n.state(doneDir)} {
		for _, name := range partNames(dir) {
			name, _ = strings.CutSuffix(name, ".json")
			if strings.HasPrefix(name, "summary.") {
				sweepDir(n.root, name)
				sweepDir(n.root, name+".json")
				continue
			}
			if c, err := n.claim(name); c != nil && err == nil {
				n.sweep(name)
				c.end()
			}
		}
	}
	for _, id := range partNames(n.state(runsDir)) {
		if !n.alive(id) {
			sweepDir(n.state(runsDir), id)
		}
	}
	if len(n.others()) == 0 {
		sweepDir(n.state(), dateFile)
	}
	entries, err := os.ReadDir(n.state(claimsDir))
	if err != nil {
		return
	}
	for _, e := range entries {
		path := n.state(claimsDir, e.Name())
		if id, err := os.Readlink(path); err == nil && !n.alive(id) {
			os.Remove(path)
		}
	}
}

// partNames are the names of what is under way in a folder.
func partNames(dir string) []string {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil
	}
	seen := make(map[string]bool)
	var out []string
	for _, e := range entries {
		if m := underway.FindStringSubmatch(filepath.Base(e.Name())); m != nil && !seen[m[1]] {
			seen[m[1]] = true
			out = append(out, m[1])
		}
	}
	return out
}
