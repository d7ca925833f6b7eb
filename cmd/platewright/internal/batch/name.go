package batch

import (
	"crypto/sha256"
	"encoding/hex"
	"path/filepath"
	"strings"

	"platewright/cmd/platewright/internal/job"
)

// nameAll names the job folders: by the picture's path, with its ending where
// two would be alike, and with a checksum of the path where they still are.
// Names that differ by case alone count as alike.
func nameAll(inputs []Input) {
	plain := func(rel string) string { return job.FileName(strings.TrimSuffix(rel, filepath.Ext(rel))) }
	ended := func(rel string) string { return job.FileName(rel) }
	count := func(name func(string) string, of []int) map[string]int {
		n := make(map[string]int)
		for _, i := range of {
			n[strings.ToLower(name(inputs[i].Rel))]++
		}
		return n
	}
	all := make([]int, len(inputs))
	for i := range all {
		all[i] = i
	}
	taken := count(plain, all)
	var alike []int
	for _, i := range all {
		name := plain(inputs[i].Rel)
		if taken[strings.ToLower(name)] == 1 && !kept(name) {
			inputs[i].Name = name
		} else {
			alike = append(alike, i)
		}
	}
	again := count(ended, alike)
	for _, i := range alike {
		name := ended(inputs[i].Rel)
		if lower := strings.ToLower(name); again[lower] > 1 || taken[lower] > 0 || kept(name) {
			sum := sha256.Sum256([]byte(inputs[i].Rel))
			name += "-" + hex.EncodeToString(sum[:6])
		}
		inputs[i].Name = name
	}
}

// kept reports names that stand for something else in the results.
func kept(name string) bool {
	switch strings.ToLower(name) {
	case "summary.html", "summary.json", "summary.csv":
		return true
	}
	return false
}
