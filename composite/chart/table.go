package chart

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"sort"
	"strconv"
	"strings"

	"platewright/composite/spectrum"
)

const (
	maxTable   = 64 << 20 // bytes of a table: a hundred thousand spectra
	maxColumns = 2000
	maxInks    = 16 // columns of film percents
)

var (
	// ErrMalformed is a file that breaks the rules of its own format.
	ErrMalformed = errors.New("malformed")
	// ErrUnsupported is a sound file with something that is not read here.
	ErrUnsupported = errors.New("unsupported")
)

// fileError is an error at a line of a file.
type fileError struct {
	name string
	line int
	text string
	kind error
}

func (e *fileError) Error() string {
	if e.line == 0 {
		return fmt.Sprintf("%s: %s", e.name, e.text)
	}
	return fmt.Sprintf("%s:%d: %s", e.name, e.line, e.text)
}

func (e *fileError) Unwrap() error { return e.kind }

// grid is a table as text: a header and rows, with the line of each.
type grid struct {
	name     string
	title    string
	keywords map[string]string
	foreign  string // what the colors are for where not D50 and 2°
	header   []string
	at       int // line of the header
	rows     [][]string
	line     []int
}

func (g *grid) bad(line int, format string, args ...any) error {
	return &fileError{g.name, line, fmt.Sprintf(format, args...), ErrMalformed}
}

func (g *grid) unsupported(line int, format string, args ...any) error {
	return &fileError{g.name, line, fmt.Sprintf(format, args...), ErrUnsupported}
}

// ReadTable reads a table of measured patches: text after CGATS.17 or ISO 28178,
// or CSV with commas, semicolons or tabs and a header. Columns are known by
// their names: SPECTRAL_NM_380 or nm380 …, XYZ_X or X …, LAB_L or L …; what
// remains and holds numbers is the film percent of the ink so named. A column
// over_black tells patches over black (1) from those on paper (0). Spectra win
// over XYZ, and XYZ over Lab, which are taken as D50, 2°. Errors name the line
// and wrap ErrMalformed or ErrUnsupported.
func ReadTable(r io.Reader, name string) (*Table, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxTable+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	g := &grid{name: name, keywords: map[string]string{}}
	if len(data) > maxTable {
		return nil, g.unsupported(0, "larger than 64 MB; leave out what is not measured on this print")
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if bytes.IndexByte(data, 0) >= 0 {
		return nil, g.unsupported(0, "no text file; export the measurements as CGATS text or CSV")
	}
	data = bytes.ReplaceAll(bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n")), []byte("\r"), []byte("\n"))
	if cgatsMark.Match(data) {
		err = g.readCGATS(data)
	} else {
		err = g.readCSV(data)
	}
	if err != nil {
		return nil, err
	}
	return g.table()
}

var cgatsMark = regexp.MustCompile(`(?m)^\s*(BEGIN_DATA_FORMAT|BEGIN_DATA|NUMBER_OF_FIELDS|NUMBER_OF_SETS)\b`)

// spectralName is a column of a spectrum with its wavelength.
var spectralName = regexp.MustCompile(`^(?:spectral nm ?|spectral ?|spec ?|nm ?|r ?)?([2-9]\d\d|1\d\d\d)(?:\.0+)?(?: ?nm)?$`)

// ignored are columns that neither measure nor tell a coverage.
var ignored = regexp.MustCompile(`^(sample( ?(id|loc|name|no|number))?|id|no|nr|number|name|index|row|col(umn)?|page|date|time|string|rgb [rgb]|hex|d (red|green|blue|vis|major filter)|density.*|lab [ch]|lch [lch]|xyy [xyy]|de( ?(ab|76|94|00|2000|cmc))?|delta e( .*)?|stdev.*|mean de|chi sqd par|x mm|y mm|w mm|h mm)$`)

// columns are what the columns of a grid hold, by place; −1: absent.
type columns struct {
	xyz, lab  [3]int
	nm        []float64
	spectral  []int
	overBlack int
	inks      []int
	name      int
}

// columns finds what each column is.
func (g *grid) columns() (*columns, error) {
	c := &columns{xyz: [3]int{-1, -1, -1}, lab: [3]int{-1, -1, -1}, overBlack: -1, name: -1}
	seen := map[string]bool{}
	for k, h := range g.header {
		key := canonical(h)
		if key == "" {
			continue
		}
		if seen[key] {
			return nil, g.bad(g.at, "two columns are called %q", h)
		}
		seen[key] = true
		set := func(to *int) { *to = k }
		switch key {
		case "x", "xyz x":
			set(&c.xyz[0])
		case "y", "xyz y":
			set(&c.xyz[1])
		case "z", "xyz z":
			set(&c.xyz[2])
		case "l", "lab l":
			set(&c.lab[0])
		case "a", "lab a":
			set(&c.lab[1])
		case "b", "lab b":
			set(&c.lab[2])
		case "over black", "backing", "black under":
			set(&c.overBlack)
		case "sample id", "sample name", "sample loc", "name":
			if c.name < 0 || key != "sample id" {
				set(&c.name)
			}
		default:
			if m := spectralName.FindStringSubmatch(key); m != nil {
				nm, _ := strconv.ParseFloat(m[1], 64)
				if n := len(c.nm); n > 0 && nm <= c.nm[n-1] {
					return nil, g.bad(g.at, "column %q comes after %g nm; wavelengths must rise", h, c.nm[n-1])
				}
				c.nm, c.spectral = append(c.nm, nm), append(c.spectral, k)
			} else if !ignored.MatchString(key) && g.numeric(k) {
				c.inks = append(c.inks, k)
			}
		}
	}
	has := func(p [3]int) bool { return p[0] >= 0 && p[1] >= 0 && p[2] >= 0 }
	// C, M, Y, K beside L, a, b: a letter of XYZ or Lab without the others of its
	// color is an ink's.
	for _, p := range []*[3]int{&c.xyz, &c.lab} {
		if has(*p) {
			continue
		}
		for _, k := range p {
			if k >= 0 && len(g.header[k]) == 1 && g.numeric(k) {
				c.inks = append(c.inks, k)
			}
		}
		*p = [3]int{-1, -1, -1}
	}
	sort.Ints(c.inks)
	switch {
	case len(c.nm) > 0:
		if c.nm[0] > 420 || c.nm[len(c.nm)-1] < 680 {
			return nil, g.unsupported(g.at, "spectra from %g to %g nm; they must span 420 … 680 nm", c.nm[0], c.nm[len(c.nm)-1])
		}
		for i := 1; i < len(c.nm); i++ {
			if c.nm[i]-c.nm[i-1] > 25 && c.nm[i] > 400 && c.nm[i-1] < 700 {
				return nil, g.bad(g.at, "no column between %g and %g nm; a step is 25 nm at most", c.nm[i-1], c.nm[i])
			}
		}
	case !has(c.xyz) && !has(c.lab):
		return nil, g.unsupported(g.at, "no colors: the columns X, Y, Z or L, a, b or a spectrum are missing; export one of them")
	}
	if len(c.inks) > maxInks {
		return nil, g.unsupported(g.at, "%d columns of film percents (%s, …); leave out those that are none", len(c.inks), g.header[c.inks[0]])
	}
	if len(c.nm) == 0 {
		if g.foreign != "" {
			return nil, g.unsupported(0, "colors under %s; export them for D50 and 2°, or as spectra", g.foreign)
		}
	}
	return c, nil
}

// numeric reports whether a column holds numbers in every row.
func (g *grid) numeric(k int) bool {
	for _, row := range g.rows {
		if _, err := strconv.ParseFloat(row[k], 64); err != nil {
			return false
		}
	}
	return len(g.rows) > 0
}

func (g *grid) number(n, k int) (float64, error) {
	v, err := strconv.ParseFloat(g.rows[n][k], 64)
	if err != nil || !finite(v) {
		return 0, g.bad(g.line[n], "%s is %q, no number", g.header[k], g.rows[n][k])
	}
	return v, nil
}

// largest returns the largest number of columns.
func (g *grid) largest(at []int) (float64, error) {
	most := 0.0
	for n := range g.rows {
		for _, k := range at {
			v, err := g.number(n, k)
			if err != nil {
				return 0, err
			}
			most = math.Max(most, v)
		}
	}
	return most, nil
}

// table turns text into samples.
func (g *grid) table() (*Table, error) {
	c, err := g.columns()
	if err != nil {
		return nil, err
	}
	t := &Table{Title: g.title, extra: map[string][]float64{}}
	for _, k := range c.inks {
		t.Inks = append(t.Inks, g.header[k])
	}
	if err := g.percents(c.inks); err != nil {
		return nil, err
	}
	byXYZ := c.xyz[0] >= 0 && c.xyz[1] >= 0 && c.xyz[2] >= 0
	scale, spectralScale := 1.0, 1.0
	if byXYZ {
		most, err := g.largest(c.xyz[1:2])
		if err != nil {
			return nil, err
		}
		if most <= 1.5 {
			scale = 100
		}
	}
	if len(c.spectral) > 0 {
		most, err := g.largest(c.spectral)
		if err != nil {
			return nil, err
		}
		if most > 2.5 {
			spectralScale = .01
		}
	}
	values := make([]float64, len(c.spectral))
	for n := range g.rows {
		s := Sample{Name: fmt.Sprintf("line %d", g.line[n]), Film: make([]float64, len(c.inks))}
		if c.name >= 0 && g.rows[n][c.name] != "" {
			s.Name = fmt.Sprintf("%s, line %d", g.rows[n][c.name], g.line[n])
		}
		for i, k := range c.inks {
			s.Film[i], _ = strconv.ParseFloat(g.rows[n][k], 64)
		}
		if c.overBlack >= 0 {
			if s.OverBlack, err = g.overBlack(n, c.overBlack); err != nil {
				return nil, err
			}
		}
		if len(values) > 0 {
			for i, k := range c.spectral {
				v, _ := strconv.ParseFloat(g.rows[n][k], 64)
				if values[i] = v * spectralScale; values[i] < -.02 || values[i] > 2 {
					return nil, g.bad(g.line[n], "%s is %g; reflectance goes from 0 to 100 percent", g.header[k], v)
				}
			}
			r := resample(c.nm, values)
			s.Spectrum, s.Color = &r, r.XYZ()
		}
		if err := g.color(n, c, byXYZ, scale, &s); err != nil {
			return nil, err
		}
		t.Samples = append(t.Samples, s)
	}
	for k, h := range g.header {
		if key := canonical(h); strings.HasSuffix(key, " mm") && g.numeric(k) {
			for _, row := range g.rows {
				v, _ := strconv.ParseFloat(row[k], 64)
				t.extra[key] = append(t.extra[key], v)
			}
		}
	}
	return t, nil
}

// color reads XYZ or Lab of a row. Beside a spectrum only XYZ counts, which
// says more where an ink is fluorescent.
func (g *grid) color(n int, c *columns, byXYZ bool, scale float64, s *Sample) error {
	at := c.lab
	if byXYZ {
		at = c.xyz
	}
	if s.Spectrum != nil && (!byXYZ || g.foreign != "") {
		return nil
	}
	var v [3]float64
	for i, k := range at {
		var err error
		if v[i], err = g.number(n, k); err != nil {
			return err
		}
	}
	if byXYZ {
		s.Color = spectrum.XYZ{v[0] * scale, v[1] * scale, v[2] * scale}
	} else {
		if v[0] < -1 || v[0] > 150 || math.Abs(v[1]) > 250 || math.Abs(v[2]) > 250 {
			return g.bad(g.line[n], "L, a, b = %g, %g, %g is no color", v[0], v[1], v[2])
		}
		s.Color = spectrum.Lab(v).XYZ()
	}
	for i, x := range s.Color {
		if x < -.5 || x > 200 {
			return g.bad(g.line[n], "X, Y, Z = %.4g is no color; a perfect white has Y = 100", s.Color)
		}
		s.Color[i] = math.Max(0, x)
	}
	return nil
}

// percents checks that the columns hold film percents.
func (g *grid) percents(at []int) error {
	most, fraction := 0.0, false
	for n := range g.rows {
		for _, k := range at {
			v, err := g.number(n, k)
			if err != nil {
				return err
			}
			if v < 0 || v > 100.001 {
				return g.bad(g.line[n], "%s is %g; film percent goes from 0 to 100", g.header[k], v)
			}
			most = math.Max(most, v)
			fraction = fraction || v > 0 && v < 1
		}
	}
	if most <= 1 && fraction {
		return g.unsupported(g.at, "film percents go to %g only; write 50 for 50 percent", most)
	}
	return nil
}

func (g *grid) overBlack(n, k int) (bool, error) {
	switch strings.ToLower(g.rows[n][k]) {
	case "", "0", "no", "paper", "white", "w", "false":
		return false, nil
	case "1", "yes", "black", "b", "true":
		return true, nil
	}
	return false, g.bad(g.line[n], "%s is %q; write 0 on paper, 1 over black", g.header[k], g.rows[n][k])
}

// resample takes a spectrum to 380 … 730 nm by 10, straight between its bands;
// beyond its ends it goes on level.
func resample(nm, v []float64) (r spectrum.Reflectance) {
	k := 0
	for b := range r {
		at := float64(spectrum.FirstNM + b*spectrum.StepNM)
		for k < len(nm)-2 && at > nm[k+1] {
			k++
		}
		t := math.Max(0, math.Min(1, (at-nm[k])/(nm[k+1]-nm[k])))
		r[b] = math.Max(0, v[k]+t*(v[k+1]-v[k]))
	}
	return r
}
