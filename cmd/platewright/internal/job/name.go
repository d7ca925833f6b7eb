package job

import (
	"path/filepath"
	"strings"
	"unicode"
	"unicode/utf8"
)

// nameBytes is the longest piece of a file name: two of them, a number and an
// ending stay below the 255 bytes that file systems take.
const nameBytes = 80

// FileName turns any text into a piece of a file name that every system takes:
// no separators, control characters, spaces or broken letters, no name that a
// system keeps for itself, and not too long. It is never empty.
func FileName(s string) string {
	var b strings.Builder
	gap := false
	for _, r := range s {
		if r == utf8.RuneError || !unicode.IsPrint(r) || unicode.IsSpace(r) || strings.ContainsRune(`/\:*?"<>|'`+"`$", r) {
			r = '-'
		}
		if r == '-' {
			gap = b.Len() > 0
			continue
		}
		if gap {
			b.WriteByte('-')
			gap = false
		}
		if b.Len()+utf8.RuneLen(r) > nameBytes {
			break
		}
		b.WriteRune(r)
	}
	out := strings.Trim(b.String(), ".-~")
	if out == "" {
		return "untitled"
	}
	first, _, _ := strings.Cut(strings.ToLower(out), ".")
	if reserved(first) {
		return out + "_"
	}
	return out
}

// reserved reports device names of Windows, which are no file names there.
func reserved(s string) bool {
	switch s {
	case "con", "prn", "aux", "nul":
		return true
	}
	return len(s) == 4 && (strings.HasPrefix(s, "com") || strings.HasPrefix(s, "lpt")) && s[3] >= '0' && s[3] <= '9'
}

// ArtName is the name of a job made from a picture: its file name without the
// ending.
func ArtName(path string) string {
	base := filepath.Base(path)
	return FileName(strings.TrimSuffix(base, filepath.Ext(base)))
}
