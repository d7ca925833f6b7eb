package ink

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"

	"platewright/composite/spectrum"
)

// Write writes the shelf as Load reads it. Colors are written as CIELAB with
// three decimals, far below what can be seen.
func (s *Shelf) Write(w io.Writer) error {
	e := encoder{w: bufio.NewWriter(w)}
	for n, p := range s.Papers {
		e.table("paper", n > 0)
		e.text("name", p.Name)
		e.text("finish", string(p.Finish))
		e.solid(p.Color, p.Spectrum)
		e.positive("surface", p.Surface)
		e.positive("yule_nielsen", p.N)
		e.record(&p.Record)
	}
	for _, i := range s.Inks {
		e.table("ink", true)
		e.text("name", i.Name)
		e.text("on", i.On)
		e.solid(i.Color, i.Spectrum)
		e.number("opacity", i.Opacity)
		if i.OverBlack != nil {
			e.line("over_black", quote(FormatColor(*i.OverBlack)))
		}
		e.bands("over_black_spectrum", i.OverBlackSpectrum)
		if i.Black != nil {
			e.line("black", quote(FormatColor(*i.Black)))
		}
		e.number("base", i.Base)
		e.positive("register", i.Register)
		if len(i.Tints) > 0 {
			e.line("tints", "[")
			for _, t := range i.Tints {
				fmt.Fprintf(e.w, "  { film = %s, color = %s },\n", decimal(t.Film), quote(FormatColor(t.Color)))
			}
			fmt.Fprintln(e.w, "]")
		}
		if len(i.ToneCurve) > 0 {
			var points []string
			for _, p := range i.ToneCurve {
				points = append(points, fmt.Sprintf("[%s, %s]", decimal(p[0]), decimal(p[1])))
			}
			e.line("tone_curve", "[ "+strings.Join(points, ", ")+" ]")
		}
		e.record(&i.Record)
	}
	for n := range s.Overprints {
		o := &s.Overprints[n]
		e.table("overprint", true)
		e.names(o.Inks)
		if !o.Solid() {
			film := make([]string, len(o.Film))
			for k, v := range o.Film {
				film[k] = decimal(v)
			}
			e.line("film", "["+strings.Join(film, ", ")+"]")
		}
		e.text("on", o.On)
		e.line("color", quote(FormatColor(o.Color)))
		e.record(&o.Record)
	}
	for _, set := range s.Sets {
		e.table("set", true)
		e.text("name", set.Name)
		e.names(set.Inks)
	}
	return e.w.Flush()
}

// FormatColor writes a color as ParseColor reads it: "lab(62, -21, 6)".
func FormatColor(c spectrum.XYZ) string {
	lab := c.Lab()
	if lab[0] < 0 || lab[0] > 130 || math.Abs(lab[1]) > 200 || math.Abs(lab[2]) > 200 {
		return fmt.Sprintf("xyz(%s, %s, %s)", decimal(c[0]), decimal(c[1]), decimal(c[2]))
	}
	return fmt.Sprintf("lab(%s, %s, %s)", decimal(lab[0]), decimal(lab[1]), decimal(lab[2]))
}

// encoder writes TOML. The writer keeps its first error until Flush.
type encoder struct{ w *bufio.Writer }

func (e encoder) table(name string, space bool) {
	if space {
		fmt.Fprintln(e.w)
	}
	fmt.Fprintf(e.w, "[[%s]]\n", name)
}

func (e encoder) line(key, value string) { fmt.Fprintf(e.w, "%s = %s\n", key, value) }

func (e encoder) text(key, value string) {
	if value != "" {
		e.line(key, quote(value))
	}
}

func (e encoder) number(key string, v float64) {
	if !math.IsNaN(v) {
		e.line(key, decimal(v))
	}
}

// positive writes a number of which 0 stands for not known.
func (e encoder) positive(key string, v float64) {
	if v != 0 {
		e.number(key, v)
	}
}

func (e encoder) names(names []string) {
	quoted := make([]string, len(names))
	for i, n := range names {
		quoted[i] = quote(n)
	}
	e.line("inks", "["+strings.Join(quoted, ", ")+"]")
}

// solid writes the spectrum where there is one, and the color where it says
// something else, as with fluorescent inks.
func (e encoder) solid(c spectrum.XYZ, r *spectrum.Reflectance) {
	if r == nil || spectrum.DeltaE(c.Lab(), r.XYZ().Lab()) > .01 {
		e.line("color", quote(FormatColor(c)))
	}
	e.bands("spectrum", r)
}

func (e encoder) bands(key string, r *spectrum.Reflectance) {
	if r == nil {
		return
	}
	fmt.Fprintf(e.w, "%s = [", key)
	for b, v := range r {
		if b%12 == 0 {
			fmt.Fprint(e.w, "\n ")
		}
		fmt.Fprintf(e.w, " %.5f,", v)
	}
	fmt.Fprintln(e.w, "\n]")
}

func (e encoder) record(r *Record) {
	e.text("known_by", r.By)
	e.text("measured", r.When)
	e.text("mesh", r.Mesh)
	e.text("note", r.Note)
}

// decimal writes v with three decimals at most.
func decimal(v float64) string {
	s := strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.3f", v), "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

// quote writes a TOML basic string.
func quote(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < 0x20 || r == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
