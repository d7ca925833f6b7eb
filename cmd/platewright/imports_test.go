package main

import (
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// TestImports holds the direction of imports: spectrum ← ink ← composite ←
// separate ← cmd and halftone ← film ← cmd. halftone and composite do not know
// each other, and no library knows the program.
func TestImports(t *testing.T) {
	color := []string{"composite/spectrum", "composite/ink", "composite"}
	splits := append([]string{"separate/artwork", "separate"}, color...)
	dots := []string{"halftone", "halftone/internal/"}
	may := map[string][]string{
		"composite/spectrum":  {},
		"composite/ink":       {"composite/spectrum"},
		"composite/internal/": {},
		"composite":           {"composite/spectrum", "composite/ink", "composite/internal/"},
		"composite/chart":     append([]string{"composite/internal/"}, color...),
		"separate/artwork":    {"composite/spectrum"},
		"separate":            append([]string{"separate/artwork"}, color...),
		"separate/choose":     splits,
		"halftone/internal/":  {"halftone/internal/"},
		"halftone":            {"halftone/internal/"},
		"halftone/spread":     dots,
		"halftone/film":       dots,
	}
	out, err := exec.Command("go", "list", "-deps", "-f", `{{.ImportPath}} {{join .Imports " "}}`, "platewright/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for line := range strings.Lines(string(out)) {
		words := strings.Fields(line)
		name, ours := strings.CutPrefix(words[0], "platewright/")
		if !ours || strings.HasPrefix(name, "cmd/") || strings.HasPrefix(name, "examples/") {
			continue
		}
		if i := strings.Index(name, "/internal/"); i >= 0 {
			name = name[:i] + "/internal/"
		}
		allowed, ok := may[name]
		if !ok {
			t.Errorf("%s: say here what it may import", name)
			continue
		}
		seen++
		for _, imported := range words[1:] {
			i, ours := strings.CutPrefix(imported, "platewright/")
			if ours && !slices.ContainsFunc(allowed, func(a string) bool { return i == a || strings.HasSuffix(a, "/") && strings.HasPrefix(i, a) }) {
				t.Errorf("%s imports %s, which it may not", name, i)
			}
		}
	}
	if seen < 7 {
		t.Errorf("only %d packages were looked at", seen)
	}
}
