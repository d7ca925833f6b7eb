package chart

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// readCGATS reads the first data set of a file.
func (g *grid) readCGATS(data []byte) error {
	sc := bufio.NewScanner(bytes.NewReader(data))
	sc.Buffer(nil, maxTable+1)
	sets := -1
	var row []string
	rowLine, line := 0, 0
	const (
		head = iota
		format
		body
	)
	state := head
	for sc.Scan() {
		line++
		words, err := cgatsWords(sc.Text())
		if err != nil {
			return g.bad(line, "%v", err)
		}
		if len(words) == 0 {
			continue
		}
		switch first := words[0]; {
		case state == head && (first == "BEGIN_DATA_FORMAT" || first == "BEGIN_DATA"):
			if state = format; first == "BEGIN_DATA" {
				if g.header == nil {
					return g.bad(line, "BEGIN_DATA without BEGIN_DATA_FORMAT before it; the columns need names")
				}
				state = body
			} else if g.header != nil {
				return g.bad(line, "a second BEGIN_DATA_FORMAT")
			} else {
				g.at = line
			}
		case state == head:
			if len(words) < 2 {
				continue // the name of the format on the first line
			}
			value := strings.Join(words[1:], " ")
			switch first {
			case "NUMBER_OF_FIELDS", "NUMBER_OF_SETS":
				n, err := strconv.Atoi(words[1])
				if err != nil || n < 1 {
					return g.bad(line, "%s %q is no number of columns or rows", first, words[1])
				}
				// The names of the columns say how many there are, and files are
				// about whose NUMBER_OF_FIELDS says otherwise.
				if first == "NUMBER_OF_SETS" {
					sets = n
				}
			default:
				g.keywords[first] = value
			}
		case state == format:
			for k, w := range words {
				if w == "END_DATA_FORMAT" {
					if k < len(words)-1 {
						return g.bad(line, "%q after END_DATA_FORMAT", words[k+1])
					}
					state = head
					break
				}
				if w == "BEGIN_DATA" {
					return g.bad(line, "BEGIN_DATA before END_DATA_FORMAT")
				}
				g.header = append(g.header, w)
			}
			if len(g.header) > maxColumns {
				return g.unsupported(line, "more than %d columns", maxColumns)
			}
			if state == head && len(g.header) == 0 {
				return g.bad(line, "no column is named")
			}
		default:
			end := first == "END_DATA"
			if !end {
				if len(row) == 0 {
					rowLine = line
				}
				row = append(row, words...)
			}
			switch {
			case len(row) > len(g.header) && len(words) == len(g.header):
				return g.bad(rowLine, "%d values for %d columns", len(row)-len(words), len(g.header))
			case len(row) > len(g.header):
				return g.bad(rowLine, "%d values for %d columns", len(row), len(g.header))
			case len(row) == len(g.header):
				g.rows, g.line = append(g.rows, row), append(g.line, rowLine)
				row = nil
			case end && len(row) > 0:
				return g.bad(rowLine, "%d values for %d columns", len(row), len(g.header))
			}
			if end {
				if sets >= 0 && len(g.rows) != sets {
					return g.bad(line, "NUMBER_OF_SETS says %d rows and there are %d", sets, len(g.rows))
				}
				g.title = g.keywords["DESCRIPTOR"]
				g.conditions()
				return nil
			}
		}
	}
	if err := sc.Err(); err != nil {
		return fmt.Errorf("%s: %w", g.name, err)
	}
	if state == body {
		return g.bad(line, "the file ends without END_DATA; it is cut off")
	}
	return g.bad(line, "no data between BEGIN_DATA and END_DATA")
}

// cgatsWords splits a line at spaces; quotes hold words together, # begins a
// remark.
func cgatsWords(s string) ([]string, error) {
	var out []string
	for i := 0; i < len(s); {
		switch c := s[i]; {
		case c == ' ' || c == '\t':
			i++
		case c == '#':
			return out, nil
		case c == '"':
			end := strings.IndexByte(s[i+1:], '"')
			if end < 0 {
				return nil, errors.New(`a quote " without its end`)
			}
			out = append(out, s[i+1:i+1+end])
			i += end + 2
		default:
			end := strings.IndexAny(s[i:], " \t\"")
			if end < 0 {
				end = len(s) - i
			}
			out = append(out, s[i:i+end])
			i += end
		}
	}
	return out, nil
}

// foreign is a light or observer other than D50 and 2°.
var foreign = regexp.MustCompile(`\b(D55|D65|D75|F\d+|TL84)\b|\b10 ?(DEG|°)`)

// conditions notes colors that are not for D50 and 2°.
func (g *grid) conditions() {
	for _, key := range [...]string{"WEIGHTING_FUNCTION", "ILLUMINANT", "OBSERVER"} {
		if v := g.keywords[key]; foreign.MatchString(strings.ToUpper(v)) {
			g.foreign = v
		}
	}
}
