package ink

import (
	"errors"
	"fmt"
	"regexp"
	"strings"

	"github.com/BurntSushi/toml"
)

// source finds the lines of a shelf file that an error is about.
type source struct {
	name  string
	lines []string
}

func newSource(name, text string) *source {
	return &source{name, strings.Split(text, "\n")}
}

// block returns the lines, from 0, of the n-th [[table]]: its header and the
// line after its last.
func (s *source) block(table string, n int) (from, to int) {
	from = -1
	for l, line := range s.lines {
		t := strings.TrimSpace(line)
		if !strings.HasPrefix(t, "[[") && !(strings.HasPrefix(t, "[") && from >= 0 && !strings.Contains(t, ",")) {
			continue
		}
		if from >= 0 {
			return from, l
		}
		if head, _, ok := strings.Cut(strings.TrimPrefix(t, "[["), "]]"); ok && strings.TrimSpace(head) == table {
			if n == 0 {
				from = l
			}
			n--
		}
	}
	return from, len(s.lines)
}

// at puts file and line before an error about the n-th [[table]].
func (s *source) at(table string, n int, err error) error {
	from, to := s.block(table, n)
	if from < 0 {
		return fmt.Errorf("%s: %w", s.name, err)
	}
	line := from
	var key *keyError
	if errors.As(err, &key) {
		for l := from + 1; l < to; l++ {
			if k, _, ok := strings.Cut(s.lines[l], "="); ok && strings.Trim(strings.TrimSpace(k), `"'`) == key.key {
				line = l
				break
			}
		}
	}
	return fmt.Errorf("%s:%d: %w", s.name, line+1, err)
}

var tableKeys = map[string][]string{
	"":          {"paper", "ink", "overprint", "set"},
	"paper":     {"name", "finish", "color", "spectrum", "known_by", "measured", "mesh", "note"},
	"ink":       {"name", "on", "color", "spectrum", "opacity", "over_black", "over_black_spectrum", "black", "base", "tints", "tone_curve", "known_by", "measured", "mesh", "note"},
	"ink.tints": {"film", "color"},
	"overprint": {"inks", "on", "color", "known_by", "measured", "mesh", "note"},
	"set":       {"name", "inks"},
}

// unknownKey says which key is not one, where, and which may be meant.
func (s *source) unknownKey(keys []toml.Key) error {
	key := keys[0]
	last := key[len(key)-1]
	table := strings.Join(key[:len(key)-1], ".")
	line := 0
	for l, text := range s.lines {
		if i := strings.Index(text, last); i >= 0 && isKey(text, i, last) {
			line = l + 1
			break
		}
	}
	where := s.name
	if line > 0 {
		where = fmt.Sprintf("%s:%d", s.name, line)
	}
	known := tableKeys[table]
	mend := "known are " + strings.Join(known, ", ")
	if near := nearest(last, known); near != "" {
		mend = fmt.Sprintf("did you mean %q?", near)
	}
	if known == nil {
		mend = "take it out"
	}
	return fmt.Errorf("%s: unknown key %q; %s", where, strings.Join(key, "."), mend)
}

// isKey tells a key from a word in a comment or a value.
func isKey(text string, at int, key string) bool {
	before := strings.TrimRight(text[:at], " \t\"'")
	after := strings.TrimLeft(text[at+len(key):], " \t\"'")
	start := before == "" || strings.HasSuffix(before, "{") || strings.HasSuffix(before, ",") || strings.HasSuffix(before, "[") || strings.HasSuffix(before, ".")
	end := strings.HasPrefix(after, "=") || strings.HasPrefix(after, "]") || strings.HasPrefix(after, ".")
	return start && end
}

// typeError is how the decoder words a value of the wrong type. Its line may be
// that of another table with the same key.
var typeError = regexp.MustCompile(`last key "([^"]*)"\): (?:incompatible types: )?(.*)`)

// wrongType says which value has the wrong type, and where.
func (s *source) wrongType(err error) error {
	m := typeError.FindStringSubmatch(oneLine(err.Error()))
	if m == nil {
		return fmt.Errorf("%s: %s", s.name, oneLine(strings.TrimPrefix(err.Error(), "toml: ")))
	}
	switch m[1] {
	case "paper", "ink", "overprint", "set":
		return fmt.Errorf("%s: [%s] is no list; write its header in double brackets, [[%s]]", s.name, m[1], m[1])
	}
	key := m[1][strings.LastIndex(m[1], ".")+1:]
	text := strings.HasSuffix(m[2], "destination has type string")
	for l, line := range s.lines {
		k, v, ok := strings.Cut(line, "=")
		if v = strings.TrimSpace(v); !ok || v == "" || strings.TrimSpace(k) != key {
			continue
		}
		if quoted := v[0] == '"' || v[0] == '\''; quoted != text {
			mend := "write a number without quotes, or a list as the template has it"
			if text {
				mend = "put it in quotes"
			}
			return fmt.Errorf("%s:%d: %s = %s has the wrong type; %s", s.name, l+1, key, v, mend)
		}
	}
	return fmt.Errorf("%s: %s: %s", s.name, m[1], m[2])
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
