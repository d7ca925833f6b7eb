package chart

import (
	"errors"
	"fmt"
	"strings"
)

// readCSV reads lines of values with a header.
func (g *grid) readCSV(data []byte) error {
	lines := strings.Split(string(data), "\n")
	comma := byte(',')
	for n, l := range lines {
		if strings.TrimSpace(l) == "" || strings.HasPrefix(strings.TrimSpace(l), "#") {
			continue
		}
		if g.header == nil {
			switch {
			case strings.Contains(l, ";"):
				comma = ';'
			case strings.Contains(l, "\t"):
				comma = '\t'
			}
		}
		row, err := csvCells(l, comma)
		if err != nil {
			return g.bad(n+1, "%v", err)
		}
		if g.header == nil {
			g.header, g.at = row, n+1
			if len(row) > maxColumns {
				return g.unsupported(n+1, "more than %d columns", maxColumns)
			}
			continue
		}
		for len(row) > len(g.header) && row[len(row)-1] == "" {
			row = row[:len(row)-1]
		}
		if len(row) != len(g.header) {
			return g.bad(n+1, "%d values for %d columns", len(row), len(g.header))
		}
		empty := true
		for i, v := range row {
			empty = empty && v == ""
			if comma == ';' || comma == '\t' {
				row[i] = strings.Replace(v, ",", ".", 1) // decimal commas
			}
		}
		if !empty {
			g.rows, g.line = append(g.rows, row), append(g.line, n+1)
		}
	}
	if len(g.rows) == 0 {
		return g.bad(0, "no rows of values under a header of names; a table has one column an ink and X, Y, Z or L, a, b")
	}
	return nil
}

func csvCells(l string, comma byte) ([]string, error) {
	var out []string
	for {
		l = strings.TrimLeft(l, " ")
		var cell string
		if strings.HasPrefix(l, `"`) {
			var b strings.Builder
			rest := l[1:]
			for {
				end := strings.IndexByte(rest, '"')
				if end < 0 {
					return nil, errors.New(`a quote " without its end`)
				}
				b.WriteString(rest[:end])
				rest = rest[end+1:]
				if !strings.HasPrefix(rest, `"`) {
					break
				}
				b.WriteByte('"')
				rest = rest[1:]
			}
			cell, l = b.String(), strings.TrimLeft(rest, " ")
			if l != "" && l[0] != comma {
				return nil, fmt.Errorf("%q after a closing quote", l[:1])
			}
		} else if end := strings.IndexByte(l, comma); end >= 0 {
			cell, l = l[:end], l[end:]
		} else {
			cell, l = l, ""
		}
		out = append(out, strings.TrimSpace(cell))
		if l == "" {
			return out, nil
		}
		l = l[1:]
		if l == "" {
			return append(out, ""), nil
		}
	}
}
