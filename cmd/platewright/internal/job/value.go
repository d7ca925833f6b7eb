package job

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"platewright/halftone"
	"platewright/halftone/film"
	"platewright/separate/artwork"
)

// The values of settings are kept as they were typed, so that a job file says
// what its writer said. Each takes "" as not given.

// Length is a length with its unit: 297mm, 30cm, 11.7in.
type Length string

// MM returns the length in millimetres, 0 when it is not given.
func (l Length) MM() float64 {
	mm, err := artwork.ParseLength(string(l))
	if err != nil {
		return 0
	}
	return mm
}

func (l Length) String() string { return string(l) }

// UnmarshalText takes a length above zero and up to 100 m.
func (l *Length) UnmarshalText(b []byte) error {
	if len(b) > 0 {
		mm, err := artwork.ParseLength(string(b))
		if err != nil {
			return err
		}
		if mm > 100e3 {
			return errors.New("give a length below 100 m")
		}
	}
	*l = Length(b)
	return nil
}

// Ruling is a halftone ruling: 45 (lines per inch) or 18/cm, for all inks, for
// some by name, or both: "45,deep kelp=55".
type Ruling string

// defaultLPI is the ruling of inks that are given none: paper takes 30 to 55 by
// hand (common practice).
const defaultLPI = 45

// LPI returns the ruling of all inks without their own in lines per inch.
func (r Ruling) LPI() float64 { return r.Of("") }

// Of returns the ruling of an ink in lines per inch.
func (r Ruling) Of(ink string) float64 {
	lpi := float64(defaultLPI)
	for _, part := range splitList(string(r)) {
		name, v, err := parseRuling(part)
		switch {
		case err != nil:
		case name != "" && strings.EqualFold(name, ink):
			return v
		case name == "":
			lpi = v
		}
	}
	return lpi
}

// Names returns the inks that have a ruling of their own.
func (r Ruling) Names() (names []string) {
	for _, part := range splitList(string(r)) {
		if name, _, err := parseRuling(part); err == nil && name != "" {
			names = append(names, name)
		}
	}
	return names
}

func parseRuling(part string) (name string, lpi float64, err error) {
	if i := strings.LastIndexByte(part, '='); i >= 0 {
		if name, part = strings.TrimSpace(part[:i]), part[i+1:]; name == "" {
			return "", 0, errors.New("give ink=ruling, or a ruling for all inks")
		}
	}
	lpi, err = halftone.ParseRuling(strings.TrimSpace(part))
	return name, lpi, err
}

func (r Ruling) String() string { return string(r) }

// UnmarshalText takes rulings above zero.
func (r *Ruling) UnmarshalText(b []byte) error {
	parts := splitList(string(b))
	if len(parts) == 0 {
		parts = []string{""}
	}
	for _, part := range parts {
		if _, _, err := parseRuling(part); err != nil {
			return err
		}
	}
	*r = Ruling(b)
	return nil
}

// Mesh is a mesh count with its unit: 77/cm, 196/in.
type Mesh string

func (m Mesh) String() string { return string(m) }

// Count returns the mesh as package halftone knows it, 0 when it is not given.
func (m Mesh) Count() halftone.Mesh {
	v, err := halftone.ParseMesh(string(m))
	if err != nil {
		return 0
	}
	return v
}

// UnmarshalText takes a count with its unit.
func (m *Mesh) UnmarshalText(b []byte) error {
	if len(b) > 0 {
		if _, err := halftone.ParseMesh(string(b)); err != nil {
			return err
		}
	}
	*m = Mesh(b)
	return nil
}

// FilmSize is a sheet of film: A3, letter, 420x297mm.
type FilmSize string

func (f FilmSize) String() string { return string(f) }

// UnmarshalText takes a size that package film knows.
func (f *FilmSize) UnmarshalText(b []byte) error {
	if len(b) > 0 {
		if _, _, err := film.ParseSize(string(b)); err != nil {
			return err
		}
	}
	*f = FilmSize(b)
	return nil
}

// PerInk is a number for all inks, for some by name, or both: "22.5",
// "deep kelp=22.5,brick rust=52.5", "60,deep kelp=40".
type PerInk string

func (p PerInk) String() string { return string(p) }

// UnmarshalText takes numbers with or without an ink name before them.
func (p *PerInk) UnmarshalText(b []byte) error {
	for _, part := range splitList(string(b)) {
		if _, _, err := parsePerInk(part); err != nil {
			return err
		}
	}
	*p = PerInk(b)
	return nil
}

func parsePerInk(part string) (name string, v float64, err error) {
	typed := part
	if i := strings.LastIndexByte(part, '='); i >= 0 {
		if name = strings.TrimSpace(part[:i]); name == "" {
			return "", 0, fmt.Errorf("%q names no ink: give ink=number, or a number for all inks", part)
		}
		typed = part[i+1:]
	}
	v, err = strconv.ParseFloat(strings.TrimSpace(typed), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return "", 0, fmt.Errorf("%q is not a number: give ink=number, or a number for all inks", part)
	}
	return name, v, nil
}

// Of returns the number of one ink, and whether there is one.
func (p PerInk) Of(ink string) (v float64, ok bool) {
	for _, part := range splitList(string(p)) {
		name, n, err := parsePerInk(part)
		switch {
		case err != nil:
		case strings.EqualFold(name, ink):
			return n, true
		case name == "":
			v, ok = n, true
		}
	}
	return v, ok
}

// Names returns the inks that have a number of their own.
func (p PerInk) Names() []string {
	var out []string
	for _, part := range splitList(string(p)) {
		if name, _, err := parsePerInk(part); err == nil && name != "" {
			out = append(out, name)
		}
	}
	return out
}

// PerInkOf writes one number for each ink.
func PerInkOf(inks []string, v []float64) PerInk {
	parts := make([]string, len(inks))
	for i, name := range inks {
		parts[i] = name + "=" + number(v[i])
	}
	return PerInk(strings.Join(parts, ","))
}

// Tints is which tints a plate may hold: any, none or a list of percents. Empty
// leaves it to the picture.
type Tints string

func (t Tints) String() string { return string(t) }

// UnmarshalText takes any, none or percents between 0 and 100.
func (t *Tints) UnmarshalText(b []byte) error {
	if s := string(b); s != "" && s != "any" && s != "none" {
		list, err := parseTints(s)
		if err != nil {
			return err
		}
		if len(list) == 0 || len(list) > 20 {
			return fmt.Errorf("%d tints: give 1 to 20 percents, any or none", len(list))
		}
	}
	*t = Tints(b)
	return nil
}

// List returns the percents of a list, nil for any, none and empty.
func (t Tints) List() []float64 {
	list, err := parseTints(string(t))
	if err != nil {
		return nil
	}
	return list
}

func parseTints(s string) ([]float64, error) {
	var out []float64
	for _, part := range splitList(s) {
		v, err := strconv.ParseFloat(strings.TrimSuffix(part, "%"), 64)
		if err != nil || !(v > 0 && v < 100) {
			return nil, fmt.Errorf("%q is no tint: give any, none, or percents between 0 and 100 such as 25,50,75", part)
		}
		out = append(out, v)
	}
	return out, nil
}

// Date is a day, 2026-11-25.
type Date string

func (d Date) String() string { return string(d) }

// UnmarshalText takes a day written year-month-day.
func (d *Date) UnmarshalText(b []byte) error {
	if len(b) > 0 {
		if _, err := time.Parse(time.DateOnly, string(b)); err != nil {
			return errors.New("give a day as 2026-11-25")
		}
	}
	*d = Date(b)
	return nil
}

// Time returns the day's start in UTC, the zero time when it is not given.
func (d Date) Time() time.Time {
	t, err := time.Parse(time.DateOnly, string(d))
	if err != nil {
		return time.Time{}
	}
	return t
}

// OutOfReach is what becomes of colors beyond the inks: nearest or ease.
type OutOfReach string

func (c OutOfReach) String() string { return string(c) }

// UnmarshalText takes one of the words.
func (c *OutOfReach) UnmarshalText(b []byte) error {
	return oneOf((*string)(c), string(b), "nearest", "ease")
}

// Solve is how the picture's colors are solved: auto, exact or lattice.
type Solve string

func (c Solve) String() string { return string(c) }

// UnmarshalText takes one of the words.
func (c *Solve) UnmarshalText(b []byte) error {
	return oneOf((*string)(c), string(b), "auto", "exact", "lattice")
}

// Process is how the ink gets on the paper: silkscreen or duplicator.
type Process string

func (c Process) String() string { return string(c) }

// UnmarshalText takes one of the words.
func (c *Process) UnmarshalText(b []byte) error {
	return oneOf((*string)(c), string(b), "silkscreen", "duplicator")
}

// Dot is the shape of halftone dots, a word that package halftone knows.
type Dot string

func (c Dot) String() string { return string(c) }

// UnmarshalText takes one of the words.
func (c *Dot) UnmarshalText(b []byte) error {
	return oneOf((*string)(c), string(b), "round", "ellipse", "diamond", "line", "stochastic", "none")
}

// Screened reports whether the dot lies on a ruling.
func (c Dot) Screened() bool { return c != "none" && c != "stochastic" }

// Packing is how one-bit films are packed: deflate, group4, or empty for what
// suits them.
type Packing string

func (c Packing) String() string { return string(c) }

// UnmarshalText takes one of the words or nothing.
func (c *Packing) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*c = ""
		return nil
	}
	return oneOf((*string)(c), string(b), "deflate", "group4")
}

// Margins are what a duplicator leaves bare: at the leading edge, the sides and
// the tail, as 5mm,3mm,2mm.
type Margins string

func (m Margins) String() string { return string(m) }

// UnmarshalText takes three lengths.
func (m *Margins) UnmarshalText(b []byte) error {
	if _, _, _, ok := Margins(b).mm(); !ok && len(b) > 0 {
		return errors.New("give three lengths, of the leading edge, the sides and the tail: 5mm,3mm,2mm")
	}
	*m = Margins(b)
	return nil
}

func (m Margins) mm() (lead, side, tail float64, ok bool) {
	var v [3]float64
	parts := splitList(string(m))
	if len(parts) != len(v) {
		return 0, 0, 0, false
	}
	for i, p := range parts {
		var err error
		if v[i], err = signedLength(p); err != nil || v[i] < 0 {
			return 0, 0, 0, false
		}
	}
	return v[0], v[1], v[2], true
}

// Only is the one part of a result that is made: plates, proof or films; empty
// makes all.
type Only string

func (c Only) String() string { return string(c) }

// UnmarshalText takes one of the words or nothing.
func (c *Only) UnmarshalText(b []byte) error {
	if len(b) == 0 || string(b) == "all" {
		*c = ""
		return nil
	}
	return oneOf((*string)(c), string(b), "plates", "proof", "films", "all")
}

// Tones are the tints that hold in print: 5-95.
type Tones string

func (t Tones) String() string { return string(t) }

// UnmarshalText takes two percents with a dash between.
func (t *Tones) UnmarshalText(b []byte) error {
	if _, _, ok := Tones(b).limits(); !ok && len(b) > 0 {
		return errors.New("give the least and the most percent that holds, such as 5-95")
	}
	*t = Tones(b)
	return nil
}

func (t Tones) limits() (low, high float64, ok bool) {
	a, b, ok := strings.Cut(string(t), "-")
	low, err1 := strconv.ParseFloat(strings.TrimSpace(a), 64)
	high, err2 := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(b), "%"), 64)
	return low, high, ok && err1 == nil && err2 == nil && low >= 0 && low < high && high <= 100
}
