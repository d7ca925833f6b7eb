package ink

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/BurntSushi/toml"

	"platewright/composite/spectrum"
)

// maxShelf is the largest shelf file that is read: thousands of inks fit.
const maxShelf = 8 << 20

// The file as TOML has it. Numbers that must be told from "not given" are
// pointers.
type (
	fileRecord struct {
		KnownBy  string `toml:"known_by"`
		Measured any    `toml:"measured"`
		Mesh     string `toml:"mesh"`
		Note     string `toml:"note"`
	}
	filePaper struct {
		Name     string    `toml:"name"`
		Finish   string    `toml:"finish"`
		Color    string    `toml:"color"`
		Spectrum []float64 `toml:"spectrum"`
		Surface  *float64  `toml:"surface"`
		N        *float64  `toml:"yule_nielsen"`
		fileRecord
	}
	fileTint struct {
		Film  float64 `toml:"film"`
		Color string  `toml:"color"`
	}
	fileInk struct {
		Name              string       `toml:"name"`
		On                string       `toml:"on"`
		Color             string       `toml:"color"`
		Spectrum          []float64    `toml:"spectrum"`
		Opacity           any          `toml:"opacity"`
		OverBlack         string       `toml:"over_black"`
		OverBlackSpectrum []float64    `toml:"over_black_spectrum"`
		Black             string       `toml:"black"`
		Base              *float64     `toml:"base"`
		Register          float64      `toml:"register"`
		Tints             []fileTint   `toml:"tints"`
		ToneCurve         [][2]float64 `toml:"tone_curve"`
		fileRecord
	}
	fileOverprint struct {
		Inks  []string  `toml:"inks"`
		Film  []float64 `toml:"film"`
		On    string    `toml:"on"`
		Color string    `toml:"color"`
		fileRecord
	}
	fileSet struct {
		Name string   `toml:"name"`
		Inks []string `toml:"inks"`
	}
	file struct {
		Paper     []filePaper     `toml:"paper"`
		Ink       []fileInk       `toml:"ink"`
		Overprint []fileOverprint `toml:"overprint"`
		Set       []fileSet       `toml:"set"`
	}
)

// Load reads a shelf and makes it ready. Every error is one line that starts
// with name and, where it can be told, the line in the file.
func Load(r io.Reader, name string) (*Shelf, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxShelf+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(data) > maxShelf {
		return nil, fmt.Errorf("%s: larger than 8 MB; a shelf is a short text file", name)
	}
	if err := Shallow(data); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	src := newSource(name, string(data))
	var f file
	meta, err := toml.Decode(string(data), &f)
	if err != nil {
		var parse toml.ParseError
		if errors.As(err, &parse) {
			return nil, fmt.Errorf("%s:%d: %s", name, parse.Position.Line, oneLine(parse.Message))
		}
		return nil, src.wrongType(err)
	}
	if u := meta.Undecoded(); len(u) > 0 {
		return nil, src.unknownKey(u)
	}
	s := &Shelf{}
	for n, p := range f.Paper {
		if err := s.addPaper(&p); err != nil {
			return nil, src.at("paper", n, err)
		}
	}
	if len(s.Papers) == 0 {
		return nil, fmt.Errorf("%s: no paper; describe one under [[paper]] with name and color", name)
	}
	for n, i := range f.Ink {
		if err := s.addInk(&i); err != nil {
			return nil, src.at("ink", n, err)
		}
	}
	for n, o := range f.Overprint {
		if err := s.addOverprint(&o); err != nil {
			return nil, src.at("overprint", n, err)
		}
	}
	for n, set := range f.Set {
		s.Sets = append(s.Sets, Set{Name: strings.TrimSpace(set.Name), Inks: set.Inks})
		if err := s.checkSet(len(s.Sets) - 1); err != nil {
			return nil, src.at("set", n, err)
		}
	}
	if err := s.Prepare(); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return s, nil
}

// keyError is an error in the value of one key.
type keyError struct {
	key string
	err error
}

func (e *keyError) Error() string { return e.err.Error() }
func (e *keyError) Unwrap() error { return e.err }

func badKey(key, format string, args ...any) error {
	return &keyError{key, fmt.Errorf(format, args...)}
}

func colorKey(key, text string) (spectrum.XYZ, error) {
	c, err := ParseColor(text)
	if err != nil {
		return c, &keyError{key, err}
	}
	return c, nil
}

// spectrumKey reads 36 reflectances. Percent typed for fractions is the usual slip.
func spectrumKey(key string, v []float64) (*spectrum.Reflectance, error) {
	if v == nil {
		return nil, nil
	}
	if len(v) != spectrum.Bands {
		return nil, badKey(key, "%s has %d numbers; it takes %d, 380 … 730 nm by 10", key, len(v), spectrum.Bands)
	}
	r := spectrum.Reflectance(v)
	for b, x := range r {
		if !(x >= 0 && x <= 2) {
			return nil, badKey(key, "%s is %g at %d nm; reflectance goes from 0 to 1, so divide percent by 100", key, x, spectrum.FirstNM+b*spectrum.StepNM)
		}
	}
	return &r, nil
}

func (r *fileRecord) record() Record {
	when := ""
	if r.Measured != nil {
		when = strings.TrimSuffix(fmt.Sprint(r.Measured), " 00:00:00 +0000 UTC")
		if d, ok := r.Measured.(interface{ Format(string) string }); ok {
			when = d.Format("2006-01-02")
		}
	}
	return Record{By: r.KnownBy, When: when, Mesh: r.Mesh, Note: r.Note}
}

func (s *Shelf) addPaper(p *filePaper) error {
	out := &Paper{Name: strings.TrimSpace(p.Name), Finish: Finish(p.Finish), Record: p.record()}
	if p.Finish == "" {
		out.Finish = Uncoated
	}
	var err error
	if out.Spectrum, err = spectrumKey("spectrum", p.Spectrum); err != nil {
		return err
	}
	switch {
	case p.Color != "":
		if out.Color, err = colorKey("color", p.Color); err != nil {
			return err
		}
	case out.Spectrum != nil:
		out.Color = out.Spectrum.XYZ()
	default:
		return badKey("name", "paper %q has no color; add color = \"#f4f2ec\"", out.Name)
	}
	if p.Surface != nil {
		if out.Surface = *p.Surface; out.Surface == 0 {
			return badKey("surface", "paper %q: surface 0 is no surface; %s", out.Name, surfaceMend)
		}
	}
	if p.N != nil {
		if out.N = *p.N; out.N == 0 {
			return badKey("yule_nielsen", "paper %q: yule_nielsen 0; %s", out.Name, factorMend)
		}
	}
	s.Papers = append(s.Papers, out)
	return s.checkPaper(len(s.Papers) - 1)
}

// opacityWords are contrast ratios for what a tin's label says [common
// practice].
var opacityWords = []struct {
	word  string
	ratio float64
}{{"clear", 0}, {"slight", .15}, {"half", .5}, {"opaque", .95}}

func opacityKey(v any) (float64, error) {
	const mend = "write 0 … 1, or clear, slight, half, opaque"
	switch x := v.(type) {
	case nil:
		return math.NaN(), nil
	case int64:
		return opacityKey(float64(x))
	case float64:
		if x > 1 && x <= 100 {
			return 0, badKey("opacity", "opacity %g is more than 1; %s (percent divided by 100)", x, mend)
		}
		if !(x >= 0 && x <= 1) {
			return 0, badKey("opacity", "opacity %g is not between 0 and 1; %s", x, mend)
		}
		return x, nil
	case string:
		for _, w := range opacityWords {
			if fold(x) == w.word {
				return w.ratio, nil
			}
		}
		return 0, badKey("opacity", "opacity %q is unknown; %s", x, mend)
	}
	return 0, badKey("opacity", "opacity %v is neither number nor word; %s", v, mend)
}

func (s *Shelf) addInk(i *fileInk) error {
	out := &Ink{Name: strings.TrimSpace(i.Name), On: strings.TrimSpace(i.On), Base: math.NaN(), ToneCurve: i.ToneCurve, Register: i.Register, Record: i.record()}
	var err error
	if out.Opacity, err = opacityKey(i.Opacity); err != nil {
		return err
	}
	if out.Spectrum, err = spectrumKey("spectrum", i.Spectrum); err != nil {
		return err
	}
	if out.OverBlackSpectrum, err = spectrumKey("over_black_spectrum", i.OverBlackSpectrum); err != nil {
		return err
	}
	switch {
	case i.Color != "":
		if out.Color, err = colorKey("color", i.Color); err != nil {
			return err
		}
	case out.Spectrum != nil:
		out.Color = out.Spectrum.XYZ()
	default:
		return badKey("name", "ink %q has no color; add color = \"#2f6d58\", its solid on the paper", out.Name)
	}
	for key, dst := range map[string]**spectrum.XYZ{"over_black": &out.OverBlack, "black": &out.Black} {
		text := i.OverBlack
		if key == "black" {
			text = i.Black
		}
		if text == "" {
			continue
		}
		c, err := colorKey(key, text)
		if err != nil {
			return err
		}
		*dst = &c
	}
	if i.Base != nil {
		out.Base = *i.Base
	}
	if err := s.addTints(out, i.Tints); err != nil {
		return err
	}
	s.Inks = append(s.Inks, out)
	return s.checkInk(len(s.Inks) - 1)
}

// addTints sorts the tints, takes the mean of patches printed twice, and drops
// those of 0 and 100 percent once they agree with paper and solid.
func (s *Shelf) addTints(i *Ink, tints []fileTint) error {
	sorted := slices.Clone(tints)
	slices.SortStableFunc(sorted, func(a, b fileTint) int { return cmp.Compare(a.Film, b.Film) })
	count := 0.0
	for _, t := range sorted {
		if t.Color == "" {
			return badKey("tints", "a tint needs film and color: { film = 50, color = \"lab(62, -21, 6)\" }")
		}
		c, err := colorKey("tints", t.Color)
		if err != nil {
			return err
		}
		if t.Film == 0 || t.Film == 100 {
			end, what := i.Color, "the ink's color"
			if t.Film == 0 {
				p, err := s.Paper(i.On)
				if err != nil {
					return badKey("on", "ink %q: %w", i.Name, err)
				}
				end, what = p.Color, "the paper's"
			}
			if d := spectrum.DeltaE(end.Lab(), c.Lab()); d > 3 {
				return badKey("tints", "ink %q: the tint of film %g differs from %s by ΔE %.1f; leave it out or measure again", i.Name, t.Film, what, d)
			}
			continue
		}
		if n := len(i.Tints); n > 0 && i.Tints[n-1].Film == t.Film {
			last := &i.Tints[n-1].Color
			for k := range last {
				last[k] += (c[k] - last[k]) / (count + 1)
			}
			count++
			continue
		}
		i.Tints = append(i.Tints, Tint{t.Film, c})
		count = 1
	}
	return nil
}

func (s *Shelf) addOverprint(o *fileOverprint) error {
	out := Overprint{Inks: o.Inks, Film: o.Film, On: strings.TrimSpace(o.On), Record: o.record()}
	if o.Color == "" {
		return badKey("inks", "the overprint of %s has no color; add color = \"lab(31, 4, 9)\"", strings.Join(o.Inks, ", "))
	}
	var err error
	if out.Color, err = colorKey("color", o.Color); err != nil {
		return err
	}
	s.Overprints = append(s.Overprints, out)
	return s.checkOverprint(len(s.Overprints) - 1)
}
