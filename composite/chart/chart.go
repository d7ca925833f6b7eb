package chart

import (
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"strings"

	"github.com/BurntSushi/toml"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// MaxInks is the largest number of inks on a chart: 32 overlaps of solids.
const MaxInks = 5

// A Chart is a test print: what is printed where on the sheet. All lengths are
// millimetres from the sheet's upper left corner, to the right and down.
type Chart struct {
	Title  string  `toml:"title"`
	Code   string  `toml:"code"` // what the printed code says, four hexadecimal digits
	Width  float64 `toml:"width_mm"`
	Height float64 `toml:"height_mm"`

	// MarkInk prints the corner targets and all words, counted from 0; it is
	// found by its contrast in Channel, 0 … 2 for red, green and blue light.
	MarkInk int `toml:"mark_ink"`
	Channel int `toml:"channel"`

	Swatches  bool `toml:"swatches,omitempty"`   // only the overlaps, for the eye
	BlackCard bool `toml:"black_card,omitempty"` // black card under a window in place of a black film

	Paper   Stock      `toml:"paper"`
	Inks    []Stock    `toml:"ink"`
	Patches []Patch    `toml:"patch"`
	Pairs   []Pair     `toml:"register"`
	Rows    [4]float64 `toml:"rows_mm"` // upper edges of black bar, line wedges, verniers, writing; 0: none
}

// Stock is an ink or a paper as it was expected when the chart was made.
type Stock struct {
	Name   string `toml:"name"`
	Color  string `toml:"color"`
	Finish string `toml:"finish,omitempty"`

	xyz spectrum.XYZ
}

// A Patch is a rectangle of one coverage per ink.
type Patch struct {
	X         float64   `toml:"x"`
	Y         float64   `toml:"y"`
	W         float64   `toml:"w"`
	H         float64   `toml:"h"`
	Film      []float64 `toml:"film,omitempty"` // percent of each ink in print order; none: bare
	OverBlack bool      `toml:"over_black,omitempty"`
	Label     string    `toml:"label"`
}

// A Pair is two discs side by side, the one at X, Y of the MarkInk and the other
// Step to the right of Ink: their true distance is the ink's register error.
type Pair struct {
	Ink  int     `toml:"ink"`
	X    float64 `toml:"x"`
	Y    float64 `toml:"y"`
	Step float64 `toml:"step"`
}

// Order says what to put on a chart.
type Order struct {
	Shelf     *ink.Shelf
	Paper     *ink.Paper
	Inks      []*ink.Ink // in print order, 1 … MaxInks
	Width     float64    // of the sheet, mm
	Height    float64
	Swatches  bool
	BlackCard bool
}

// Sizes of what is on the sheet, mm.
const (
	margin   = 9.0
	size     = 12.0 // of a patch
	pitchX   = 15.0 // 3 of bare paper between
	pitchY   = 17.0 // 5, which hold the label
	targetR  = 5.0
	ringR    = 3.4 // inside of the ring
	dotR     = 2.0
	holeR    = 1.0 // in the dot of the upper left target
	barRoom  = 4.0 // more above and below the black bar
	topH     = 15.0
	titleH   = 6.0
	wedgeW   = 60.0
	wedgeH   = 11.0
	vernierW = 46.0
	vernierH = 24.0
	lineH    = 7.0 // to write on
	discR    = 2.0
	discStep = 7.0
	cellW    = 3.0 // of the code
	cellN    = 24

	// leastContrast is the share of the paper's light that the targets must take
	// away in some channel to be found.
	leastContrast = .25
)

// steps are the tints of an ink alone.
var steps = [...]float64{5, 10, 20, 30, 40, 50, 60, 70, 80, 90}

// middleTint is the tint of the overlaps of tints: where tints of single inks
// bend most in print [calc: gain is largest at 40 … 50 %].
const middleTint = 40

// ContrastError is a set of inks none of which can be found on the paper.
type ContrastError struct {
	Ink      string
	Contrast float64
}

func (e *ContrastError) Error() string {
	return fmt.Sprintf("no ink stands out enough from the paper to be found in a scan: %s does best and takes away %.0f %% of the light, 25 %% are needed; add a darker ink to the chart", e.Ink, 100*e.Contrast)
}

// SizeError is a sheet that is too small.
type SizeError struct {
	Width, Height float64
	Inks          int
	Need, Room    int // patches
}

func (e *SizeError) Error() string {
	inks, mend := "1 ink", "take a larger sheet"
	if e.Inks > 1 {
		inks, mend = fmt.Sprint(e.Inks, " inks"), mend+" or fewer inks"
	}
	return fmt.Sprintf("a chart of %s needs %d patches and a sheet of %g × %g mm holds %d; %s", inks, e.Need, e.Width, e.Height, e.Room, mend)
}

// New lays a chart out.
func New(o Order) (*Chart, error) {
	k := len(o.Inks)
	if k < 1 || k > MaxInks {
		return nil, fmt.Errorf("%d inks; a chart takes 1 to %d, make a second one for the others", k, MaxInks)
	}
	c := &Chart{Title: "test print", Width: o.Width, Height: o.Height, Swatches: o.Swatches, BlackCard: o.BlackCard,
		Paper: Stock{o.Paper.Name, ink.FormatColor(o.Paper.Color), string(o.Paper.Finish), o.Paper.Color}}
	m, err := composite.New(o.Shelf, o.Paper, composite.AsMeasured(o.Inks...))
	if err != nil {
		return nil, err
	}
	for i, u := range o.Inks {
		s := m.Overprint(1 << i)
		c.Inks = append(c.Inks, Stock{Name: u.Name, Color: ink.FormatColor(s), xyz: s})
	}
	var contrast float64
	c.MarkInk, c.Channel, contrast = c.strongest()
	if contrast < leastContrast {
		return nil, &ContrastError{c.Inks[c.MarkInk].Name, contrast}
	}
	if err := c.place(); err != nil {
		return nil, err
	}
	sum := crc32.NewIEEE()
	fmt.Fprint(sum, c.Width, c.Height, c.Swatches, c.BlackCard, c.Inks, c.Patches)
	c.Code = fmt.Sprintf("%04x", sum.Sum32()>>16)
	return c, nil
}

// strongest returns the ink and the channel of the highest contrast.
func (c *Chart) strongest() (mark, channel int, contrast float64) {
	contrast = math.Inf(-1)
	p := c.Paper.xyz.Linear()
	for i, s := range c.Inks {
		for ch, v := range s.xyz.Linear() {
			if d := 1 - math.Max(v, 0)/p[ch]; d > contrast+1e-9 {
				mark, channel, contrast = i, ch, d
			}
		}
	}
	return mark, channel, contrast
}

// place puts everything on the sheet.
func (c *Chart) place() error {
	k := len(c.Inks)
	wedgeRows, vernierRows := 0, 0
	across := c.Width - 2*margin
	bottom := c.Height - margin - topH // the lower targets
	if !c.Swatches {
		wedgeRows = (k + int(across/wedgeW) - 1) / max(1, int(across/wedgeW))
		perRow := max(1, int(across/vernierW))
		vernierRows = (k - 1 + perRow - 1) / perRow
	}
	y := margin + topH + titleH
	low := bottom
	if !c.Swatches {
		c.Rows[3] = c.Height - margin - lineH*float64(k+1) // beside the lower targets
		low = math.Min(low, c.Rows[3])
		low -= vernierH * float64(vernierRows)
		c.Rows[2] = low
		low -= wedgeH * float64(wedgeRows)
		c.Rows[1] = low
		low -= barRoom
	}
	columns := max(1, int((across+pitchX-size)/pitchX))
	left := (c.Width - (float64(columns)*pitchX - pitchX + size)) / 2
	rows := int((low - y) / pitchY)
	list, least := c.list()
	over := 0
	if !c.Swatches {
		over = (k + 1 + columns - 1) / columns * columns // rows of their own
	}
	room := rows*columns - over
	if columns < 2 || room < least {
		return &SizeError{c.Width, c.Height, k, least + over, max(0, rows*columns)}
	}
	list = list[:min(len(list), room)]
	at := func(n int) (x, top float64) {
		return left + float64(n%columns)*pitchX, y + float64(n/columns)*pitchY
	}
	for n, film := range list {
		p := Patch{W: size, H: size, Film: film}
		p.X, p.Y = at(n)
		p.Label = c.label(film)
		c.Patches = append(c.Patches, p)
	}
	if !c.Swatches {
		first := (len(list) + columns - 1) / columns * columns
		for n := 0; n <= k; n++ {
			p := Patch{W: size, H: size, OverBlack: true, Label: "black"}
			p.X, p.Y = at(first + n)
			p.Y += barRoom / 2
			if n > 0 {
				p.Film = make([]float64, k)
				p.Film[n-1] = 100
				p.Label = c.label(p.Film)
			}
			if n == 0 {
				c.Rows[0] = p.Y
			}
			c.Patches = append(c.Patches, p)
		}
		perRow := max(1, int(across/vernierW))
		n := 0
		for i := range c.Inks {
			if i != c.MarkInk {
				c.Pairs = append(c.Pairs, Pair{Ink: i, X: margin + float64(n%perRow)*vernierW + 4, Y: c.Rows[2] + 8 + float64(n/perRow)*vernierH, Step: discStep})
				n++
			}
		}
	}
	return nil
}

// list returns the patches on bare paper in the order in which they are placed,
// and how many of them must be there: paper, solids, overlaps, ramps, some twice.
func (c *Chart) list() (films [][]float64, least int) {
	k := len(c.Inks)
	solids := func(mask int) []float64 {
		f := make([]float64, k)
		for i := range f {
			f[i] = float64(mask >> i & 1 * 100)
		}
		return f
	}
	for mask := range 1 << k {
		films = append(films, solids(mask))
	}
	if c.Swatches {
		return films, len(films)
	}
	for i := range k {
		for _, s := range steps {
			f := make([]float64, k)
			f[i] = s
			films = append(films, f)
		}
	}
	for i := range k { // again, far from the first
		films = append(films, solids(1<<i))
		f := make([]float64, k)
		f[i] = middleTint
		films = append(films, f)
	}
	films = append(films, solids(1<<k-1))
	least = len(films)
	return append(films, middleFilms(k, middleTint, 40)...), least
}

// label says in short words what is printed.
func (c *Chart) label(film []float64) string {
	var bare, solid, middle []int
	for i, v := range film {
		switch v {
		case 0:
			bare = append(bare, i)
		case 100:
			solid = append(solid, i)
		case middleTint:
			middle = append(middle, i)
		}
	}
	switch k := len(film); {
	case k > 2 && len(solid) == k:
		return "all inks"
	case k > 2 && len(middle) == k:
		return fmt.Sprintf("all %d %%", middleTint)
	case k > 3 && len(bare) == 1 && len(solid) == k-1:
		return "all but " + c.Inks[bare[0]].Name
	case k > 3 && len(bare) == 1 && len(middle) == k-1:
		return fmt.Sprintf("all %d %% but %s", middleTint, c.Inks[bare[0]].Name)
	}
	s := Sample{Film: film}
	names := make([]string, len(c.Inks))
	for i, n := range c.Inks {
		names[i] = n.Name
	}
	return s.Words(names)
}

// InkNames are the inks in print order.
func (c *Chart) InkNames() []string {
	names := make([]string, len(c.Inks))
	for i, s := range c.Inks {
		names[i] = s.Name
	}
	return names
}

// Darkness is how dark each ink is, 0 … 100.
func (c *Chart) Darkness() []float64 {
	out := make([]float64, len(c.Inks))
	for i, s := range c.Inks {
		out[i] = 100 - s.xyz.Lab()[0]
	}
	return out
}

// targets are the centers of the corner targets, clockwise from the upper left.
func (c *Chart) targets() [4]point {
	l, t, r, b := margin+targetR, margin+targetR, c.Width-margin-targetR, c.Height-margin-targetR
	return [4]point{{l, t}, {r, t}, {r, b}, {l, b}}
}

// code is where the cells of the code lie and which of them are printed: a
// frame of 1 0 1 1, sixteen bits, their complement's parity in fours.
func (c *Chart) cells() (x, y float64, on [cellN]bool) {
	var v uint16
	fmt.Sscanf(c.Code, "%04x", &v)
	return c.Width/2 - cellN*cellW/2, margin + 3, codeBits(v)
}

func codeBits(v uint16) (on [cellN]bool) {
	on[0], on[2], on[3] = true, true, true
	var check uint16
	for i := range 16 {
		on[4+i] = v>>(15-i)&1 == 1
	}
	for s := 0; s < 16; s += 4 {
		check ^= v >> s & 15
	}
	check ^= 0b1010
	for i := range 4 {
		on[20+i] = check>>(3-i)&1 == 1
	}
	return on
}

// Write writes the chart as TOML.
func (c *Chart) Write(w io.Writer) error {
	if _, err := fmt.Fprint(w, "# What is printed where on the chart, for platewright measure. Keep it with the films.\n\n"); err != nil {
		return err
	}
	e := toml.NewEncoder(w)
	e.Indent = ""
	return e.Encode(c)
}

const (
	maxChart = 1 << 20 // the largest chart file that is read
	longest  = 200     // bytes of an error that quotes from it
)

// Load reads a chart. Errors are one line that starts with name.
func Load(r io.Reader, name string) (*Chart, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxChart+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	bad := func(format string, args ...any) (*Chart, error) {
		text := fmt.Sprintf(format, args...)
		if len(text) > longest {
			text = strings.ToValidUTF8(text[:longest], "") + " …"
		}
		return nil, fmt.Errorf("%s: %s: %w; take the chart.toml that was made with the films", name, text, ErrMalformed)
	}
	if len(data) > maxChart {
		return bad("larger than a chart can be")
	}
	if err := ink.Shallow(data); err != nil {
		return bad("%v", err)
	}
	c := &Chart{}
	meta, err := toml.Decode(string(data), c)
	if err != nil {
		var parse toml.ParseError
		if errors.As(err, &parse) {
			return bad("line %d: %s", parse.Position.Line, strings.Join(strings.Fields(parse.Message), " "))
		}
		return bad("%s", strings.Join(strings.Fields(err.Error()), " "))
	}
	if u := meta.Undecoded(); len(u) > 0 {
		return bad("unknown key %q", u[0].String())
	}
	k := len(c.Inks)
	switch {
	case k < 1 || k > MaxInks:
		return bad("%d inks", k)
	case !(c.Width >= 50 && c.Width <= 3000 && c.Height >= 50 && c.Height <= 3000):
		return bad("a sheet of %g × %g mm", c.Width, c.Height)
	case c.MarkInk < 0 || c.MarkInk >= k || c.Channel < 0 || c.Channel > 2:
		return bad("mark_ink %d, channel %d", c.MarkInk, c.Channel)
	case len(c.Patches) == 0 || len(c.Patches) > 5000:
		return bad("%d patches", len(c.Patches))
	case len(c.Code) != 4 || strings.Trim(c.Code, "0123456789abcdef") != "":
		return bad("code %q", c.Code)
	}
	for i := range c.Inks {
		if c.Inks[i].xyz, err = ink.ParseColor(c.Inks[i].Color); err != nil {
			return bad("ink %q: %v", c.Inks[i].Name, err)
		}
	}
	if c.Paper.xyz, err = ink.ParseColor(c.Paper.Color); err != nil || c.Paper.xyz[1] < .5 {
		return bad("paper %q has no color", c.Paper.Name)
	}
	inside := func(x, y float64) bool { return x >= 0 && x <= c.Width && y >= 0 && y <= c.Height }
	for n, p := range c.Patches {
		if !(p.W > 0 && p.H > 0 && inside(p.X, p.Y) && inside(p.X+p.W, p.Y+p.H)) {
			return bad("patch %d lies beside the sheet", n+1)
		}
		if p.Film == nil {
			c.Patches[n].Film = make([]float64, k)
			continue
		}
		if len(p.Film) != k {
			return bad("patch %d has %d film percents for %d inks", n+1, len(p.Film), k)
		}
		for _, v := range p.Film {
			if !(v >= 0 && v <= 100) {
				return bad("patch %d has film %g", n+1, v)
			}
		}
	}
	for _, p := range c.Pairs {
		if p.Ink < 0 || p.Ink >= k || !inside(p.X, p.Y) || !inside(p.X+p.Step, p.Y) || !(p.Step > 2*discR) {
			return bad("a register mark of ink %d beside the sheet", p.Ink)
		}
	}
	return c, nil
}
