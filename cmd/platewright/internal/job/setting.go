package job

import (
	"encoding"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Setting is one line of a job file and one flag: its name, what it means, and
// where its value is kept. Value is a pointer to a string, an int, a float64, a
// bool, or one of the types of this package.
type Setting struct {
	Key   string
	Arg   string // what stands for the value in help; "" for a bool
	Help  string
	Value any
}

// list is a setting of several texts.
type list interface {
	reset()
	add(typed string) error
	texts() []string
}

// Set takes a typed value. A list is replaced by it, or with more set gets it
// added.
func (s Setting) Set(typed string, more bool) error {
	switch p := s.Value.(type) {
	case list:
		if !more {
			p.reset()
		}
		return p.add(typed)
	case encoding.TextUnmarshaler:
		return p.UnmarshalText([]byte(strings.TrimSpace(typed)))
	case *string:
		*p = strings.TrimSpace(typed)
	case *int:
		v, err := strconv.Atoi(typed)
		if err != nil {
			return errors.New("give a whole number")
		}
		*p = v
	case *float64:
		v, err := strconv.ParseFloat(typed, 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return errors.New("give a number")
		}
		*p = v
	case *bool:
		v, err := strconv.ParseBool(typed)
		if err != nil {
			return errors.New("give true or false")
		}
		*p = v
	default:
		return fmt.Errorf("a setting of type %T", p) // a slip in this package
	}
	return nil
}

// Text is the value as it would be typed, "" where it is not given.
func (s Setting) Text() string {
	switch p := s.Value.(type) {
	case list:
		return strings.Join(p.texts(), ",")
	case fmt.Stringer:
		return p.String()
	case *string:
		return *p
	case *int:
		return strconv.Itoa(*p)
	case *float64:
		return number(*p)
	case *bool:
		return strconv.FormatBool(*p)
	}
	return ""
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// Names is a list of names, typed with commas between.
type Names []string

func (n *Names) reset()             { *n = nil }
func (n *Names) add(s string) error { *n = append(*n, splitList(s)...); return nil }
func (n *Names) texts() []string    { return *n }

// Texts is a list typed one by one, as commas belong to its texts.
type Texts []string

func (t *Texts) reset()             { *t = nil }
func (t *Texts) add(s string) error { *t = append(*t, strings.TrimSpace(s)); return nil }
func (t *Texts) texts() []string    { return *t }

// Formats is which files films are written as: tiff, png, pdf, or none; empty
// leaves it to the process.
type Formats []string

func (f *Formats) reset()          { *f = nil }
func (f *Formats) texts() []string { return *f }
func (f *Formats) add(s string) error {
	return addWords((*[]string)(f), s, "tiff", "png", "pdf", "none")
}

// Has reports whether a format is among them.
func (f Formats) Has(format string) bool { return slices.Contains(f, format) }

// PlateSet is which files hold all plates in one: pdf, tiff, ora.
type PlateSet []string

func (p *PlateSet) reset()          { *p = nil }
func (p *PlateSet) texts() []string { return *p }

func (p *PlateSet) add(s string) error { return addWords((*[]string)(p), s, "pdf", "tiff", "ora") }

// addWords adds words of a typed list that are not there yet. The word none
// stands alone.
func addWords(to *[]string, typed string, words ...string) error {
	for _, w := range splitList(typed) {
		var one string
		if err := oneOf(&one, w, words...); err != nil {
			return err
		}
		if !slices.Contains(*to, one) {
			*to = append(*to, one)
		}
	}
	if len(*to) > 1 && slices.Contains(*to, "none") {
		return errors.New("none stands alone")
	}
	return nil
}

// splitList parts a typed list at its commas and drops what is empty.
func splitList(s string) []string {
	var out []string
	for _, part := range strings.Split(s, ",") {
		if part = strings.TrimSpace(part); part != "" {
			out = append(out, part)
		}
	}
	return out
}

// oneOf takes one of the words.
func oneOf(dst *string, typed string, words ...string) error {
	for _, w := range words {
		if typed == w {
			*dst = w
			return nil
		}
	}
	all := strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
	if near := Nearest(typed, words); near != "" {
		return fmt.Errorf("did you mean %s? it takes %s", near, all)
	}
	return fmt.Errorf("it takes %s", all)
}

// Nearest returns the word that a typed one was most likely meant to be: the
// one that differs by the fewest letters, "" where all differ by more than a
// third of them.
func Nearest(typed string, words []string) string {
	best, limit := "", max(1, len(typed)/3)+1
	for _, w := range words {
		if d := letterChanges(typed, w); d < limit {
			best, limit = w, d
		}
	}
	return best
}

// letterChanges is the number of bytes to insert, delete or replace to turn a
// into b.
func letterChanges(a, b string) int {
	row := make([]int, len(b)+1)
	for i := range row {
		row[i] = i
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for k := range len(b) {
			cost := diagonal
			if a[i] != b[k] {
				cost++
			}
			diagonal = row[k+1]
			row[k+1] = min(cost, row[k]+1, diagonal+1)
		}
	}
	return row[len(b)]
}
