package ink

import (
	"bytes"
	"fmt"
)

// deepest is how far brackets may be nested in a text file of this program, and
// the number of dots in one key. What the files need is 3.
const deepest = 16

// Shallow returns an error, with its line, for a TOML text whose brackets are
// nested or whose keys are dotted without end: a short file of that kind makes
// a reader take time and memory by the square of its length. Everything that
// reads such a text asks first.
func Shallow(text []byte) error {
	depth, dots, line := 0, 0, 1
	for i := 0; i < len(text); i++ {
		switch c := text[i]; c {
		case '\n':
			line++
			dots = 0
		case '#':
			for i+1 < len(text) && text[i+1] != '\n' {
				i++
			}
		case '"', '\'':
			end := closing(text[i:])
			line += bytes.Count(text[i:i+end], []byte{'\n'})
			i += end - 1
		case '[', '{':
			depth++
			dots = 0
		case ']', '}':
			depth = max(0, depth-1)
			dots = 0
		case '=', ',':
			dots = 0
		case '.':
			dots++
		}
		if depth > deepest || dots > deepest {
			return fmt.Errorf("line %d: nested too deeply; this is no file of inks or of a job", line)
		}
	}
	return nil
}

// closing returns the length of the string that text begins with, quotes
// included.
func closing(text []byte) int {
	quote := text[:1]
	if triple := bytes.Repeat(quote, 3); bytes.HasPrefix(text, triple) {
		quote = triple
	}
	for i := len(quote); i < len(text); i++ {
		switch {
		case text[i] == '\\' && quote[0] == '"':
			i++
		case text[i] == '\n' && len(quote) == 1:
			return i // an error that the reader will name
		case bytes.HasPrefix(text[i:], quote):
			return i + len(quote)
		}
	}
	return len(text)
}
