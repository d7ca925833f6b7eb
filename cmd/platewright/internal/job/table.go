package job

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"platewright/composite"
)

// Coverages is a table of film percents, one column an ink, one row a color.
type Coverages struct {
	name   string
	comma  rune
	header []string
	rows   [][]string
	line   []int // of each row in the file
}

// ReadCoverages reads a table with a header from CSV; semicolons or tabs in the
// header part its columns as well as commas.
func ReadCoverages(r io.Reader, name string) (*Coverages, error) {
	data, err := io.ReadAll(io.LimitReader(r, 256<<20))
	if err != nil {
		return nil, err
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	t := &Coverages{name: name, comma: ','}
	first, _, _ := strings.Cut(string(data), "\n")
	if !strings.Contains(first, ",") {
		if strings.Contains(first, ";") {
			t.comma = ';'
		} else if strings.Contains(first, "\t") {
			t.comma = '\t'
		}
	}
	c := csv.NewReader(bytes.NewReader(data))
	c.Comma = t.comma
	c.TrimLeadingSpace = t.comma != '\t'
	for {
		row, err := c.Read()
		if err == io.EOF {
			break
		}
		var bad *csv.ParseError
		if errors.As(err, &bad) {
			return nil, fmt.Errorf("%s:%d: %v: give every row the columns of the header", name, bad.Line, bad.Err)
		}
		if err != nil {
			return nil, err
		}
		if t.header == nil {
			t.header = row
			continue
		}
		line, _ := c.FieldPos(0)
		t.rows, t.line = append(t.rows, row), append(t.line, line)
	}
	if t.header == nil {
		return nil, fmt.Errorf("%s is empty: give a header of ink names and rows of film percents", name)
	}
	return t, nil
}

// InkNames returns the columns that are inks of the shelf, in their order.
func (t *Coverages) InkNames(s *Stock) []string {
	var out []string
	for _, h := range t.header {
		if i, err := s.Ink(h); err == nil {
			out = append(out, i.Name)
		}
	}
	return out
}

// Predict writes the table with the predicted color behind each row: X, Y, Z
// (D50, a perfect white has Y = 100), L, a, b and the sRGB code.
func (t *Coverages) Predict(w io.Writer, s *Stock, c *Choice) error {
	column := make([]int, len(c.Uses))
	for i := range column {
		column[i] = -1
	}
	for k, h := range t.header {
		i, err := s.Ink(h)
		if err != nil {
			continue // a column of another kind stays as it is
		}
		at, err := c.index(i.Name)
		if err != nil {
			return fmt.Errorf("%s: column %q is an ink of the shelf: %w", t.name, h, err)
		}
		if column[at] >= 0 {
			return fmt.Errorf("%s: two columns are called %q: keep one", t.name, h)
		}
		column[at] = k
	}
	for i, k := range column {
		if k < 0 {
			return fmt.Errorf("%s: no column for ink %q: its columns are %s", t.name, c.Uses[i].Ink.Name, strings.Join(t.header, ", "))
		}
	}
	out := csv.NewWriter(w)
	out.Comma = t.comma
	if err := out.Write(append(append([]string(nil), t.header...), "X", "Y", "Z", "L", "a", "b", "hex")); err != nil {
		return err
	}
	e := c.Model.NewEvaluator()
	cov := make([]float64, len(column))
	for n, row := range t.rows {
		for i, k := range column {
			v, err := strconv.ParseFloat(strings.TrimSpace(row[k]), 64)
			if err != nil || !(v >= 0 && v <= 100) {
				return fmt.Errorf("%s:%d: %q is no film percent of %s: give 0 to 100", t.name, t.line[n], row[k], t.header[k])
			}
			cov[i] = v / 100
		}
		if err := out.Write(append(append([]string(nil), row...), predicted(e, cov)...)); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

func predicted(e *composite.Evaluator, cov []float64) []string {
	c := e.XYZ(cov)
	lab := c.Lab()
	var out []string
	for _, v := range []float64{c[0], c[1], c[2], lab[0], lab[1], lab[2]} {
		out = append(out, decimals(v))
	}
	return append(out, HexCode(c))
}

// decimals writes four decimals, and no minus before zero.
func decimals(v float64) string {
	s := strconv.FormatFloat(v, 'f', 4, 64)
	if s == "-0.0000" {
		return "0.0000"
	}
	return s
}
