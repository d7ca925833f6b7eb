package job

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/BurntSushi/toml"

	"platewright/composite/ink"
)

// maxFile is the largest job file that is read; it holds a whole shelf.
const maxFile = 16 << 20

// Read reads the job file at path. Relative paths in it are relative to its
// folder and come back as seen from where the program stands.
func Read(path string) (*Job, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxFile+1))
	if err != nil {
		return nil, err
	}
	if len(data) > maxFile {
		return nil, fmt.Errorf("%s: larger than 16 MB: name a job.toml that separate wrote", path)
	}
	j, err := Parse(data, path)
	if err != nil {
		return nil, err
	}
	for _, p := range []*string{&j.Art, &j.Shelf} {
		if *p != "" && *p != BuiltIn && !filepath.IsAbs(*p) {
			*p = filepath.Join(filepath.Dir(path), filepath.FromSlash(*p))
		}
	}
	return j, nil
}

// Parse reads a job; what it does not name keeps its default. Errors are one
// line that begins with name and the line in the file.
func Parse(data []byte, name string) (*Job, error) { return New().With(data, name) }

// With returns the job with the settings of a file laid over it.
func (j *Job) With(data []byte, name string) (*Job, error) {
	if err := ink.Shallow(data); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	var values map[string]any
	meta, err := toml.Decode(string(data), &values)
	if err != nil {
		var parse toml.ParseError
		if errors.As(err, &parse) {
			return nil, fmt.Errorf("%s:%d: %s", name, parse.Position.Line, oneLine(parse.Message))
		}
		return nil, fmt.Errorf("%s: %s", name, oneLine(strings.TrimPrefix(err.Error(), "toml: ")))
	}
	over := *j
	j = &over
	known := make(map[string]Setting)
	var keys []string
	for _, sec := range j.sections() {
		for _, s := range sec.settings {
			known[s.Key] = s
			keys = append(keys, s.Key)
		}
	}
	done := make(map[string]bool)
	for _, key := range meta.Keys() { // in the order of the file; a.b = 1 counts as a
		if done[key[0]] {
			continue
		}
		done[key[0]] = true
		s, ok := known[key[0]]
		if !ok {
			at := place(name, data, key[0])
			if near := Nearest(key[0], keys); near != "" {
				return nil, fmt.Errorf("%s: unknown setting %q: did you mean %s?", at, key[0], near)
			}
			return nil, fmt.Errorf("%s: unknown setting %q: take the line out", at, key[0])
		}
		if err := s.take(values[key[0]]); err != nil {
			return nil, fmt.Errorf("%s: %s: %s", place(name, data, s.Key), s.Key, oneLine(err.Error()))
		}
	}
	if err := j.Check(); err != nil {
		var bad *SettingError
		if errors.As(err, &bad) {
			return nil, fmt.Errorf("%s: %w", place(name, data, bad.Key), err)
		}
		return nil, err
	}
	return j, nil
}

// take sets a value as TOML has it.
func (s Setting) take(v any) error {
	all, isList := v.([]any)
	if !isList {
		all = []any{v}
	}
	l, listed := s.Value.(list)
	if listed {
		l.reset()
	} else if isList {
		return errors.New("takes one value, not a list in brackets")
	}
	for _, v := range all {
		var typed string
		switch v := v.(type) {
		case string:
			typed = v
			if p, ok := s.Value.(*string); ok { // a shelf keeps its blank lines
				*p = v
				continue
			}
		case bool:
			typed = strconv.FormatBool(v)
		case int64:
			typed = strconv.FormatInt(v, 10)
		case float64:
			typed = number(v)
		case time.Time:
			typed = v.Format(time.DateOnly)
		default:
			return errors.New("takes a text, a number, true or false")
		}
		if err := s.Set(typed, true); err != nil {
			return fmt.Errorf("%q: %w", typed, err)
		}
	}
	return nil
}

// place is the name of a file with the line that sets key, where there is one.
func place(name string, data []byte, key string) string {
	for i, line := range strings.Split(string(data), "\n") {
		left, _, _ := strings.Cut(line, "=")
		left = strings.Trim(strings.TrimSpace(left), `"'[]`)
		if left == key || strings.HasPrefix(left, key+".") {
			return fmt.Sprintf("%s:%d", name, i+1)
		}
	}
	return name
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

const fileHead = `# A job: everything that decides this result. The same job gives the same files,
# byte for byte:  platewright separate --job job.toml
# Names are those of the flags; a flag given beside --job wins. "" is: not given.
`

// Format writes the job as TOML, every setting under a line that explains it.
// Parse reads it back to the same job.
func (j *Job) Format() []byte {
	var b bytes.Buffer
	b.WriteString(fileHead)
	for _, sec := range j.sections() {
		fmt.Fprintf(&b, "\n# ---- %s\n", sec.title)
		for _, s := range sec.settings {
			fmt.Fprintf(&b, "\n# %s\n%s = %s\n", s.Help, s.Key, s.toml())
		}
	}
	return b.Bytes()
}

// In returns the job as it stands in a file in the given folder: paths are
// relative to it where they can be.
func (j *Job) In(folder string) *Job {
	out := *j
	for _, p := range []*string{&out.Art, &out.Shelf} {
		if *p == "" || *p == BuiltIn {
			continue
		}
		from, err1 := filepath.Abs(folder)
		to, err2 := filepath.Abs(*p)
		if err1 != nil || err2 != nil {
			continue
		}
		if rel, err := filepath.Rel(from, to); err == nil {
			*p = filepath.ToSlash(rel)
		} else {
			*p = to
		}
	}
	return &out
}

// toml writes the value.
func (s Setting) toml() string {
	switch p := s.Value.(type) {
	case list:
		parts := make([]string, len(p.texts()))
		for i, t := range p.texts() {
			parts[i] = quote(t)
		}
		return "[" + strings.Join(parts, ", ") + "]"
	case *int, *bool:
		return s.Text()
	case *float64:
		if t := s.Text(); strings.Contains(t, ".") {
			return t
		}
		return s.Text() + ".0"
	}
	return quote(s.Text())
}

// quote writes a TOML string: several lines as they are, where they hold
// nothing that TOML would read otherwise.
func quote(s string) string {
	if strings.Contains(s, "\n") && !strings.Contains(s, "'''") && !strings.HasSuffix(s, "'") && plainLines(s) {
		return "'''\n" + s + "'''"
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b) // its strings are strings of TOML, but for DEL
	enc.SetEscapeHTML(false)
	if err := enc.Encode(s); err != nil {
		return `""`
	}
	return strings.ReplaceAll(strings.TrimSuffix(b.String(), "\n"), "\x7f", `\u007f`)
}

func plainLines(s string) bool {
	for _, r := range s {
		if r < ' ' && r != '\n' && r != '\t' || r == 0x7f || r == '\ufffd' {
			return false
		}
	}
	return true
}
