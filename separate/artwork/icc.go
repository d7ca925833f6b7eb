package artwork

import (
	"encoding/binary"
	"errors"
	"strings"
	"unicode"
	"unicode/utf16"
)

// profile is what is used of an embedded color profile (ICC.1:2010, and the
// version 2 files of ICC.1:2001-04): its description and, for profiles made of
// tone curves and a matrix or of one gray curve, the Space.
type profile struct {
	name  string
	space Space
}

var (
	errProfileBroken = errors.New("is damaged")
	errProfileTable  = errors.New("works by tables, which are not read")
	errProfileInks   = errors.New("describes process colors, not what a screen shows")
	errProfileKind   = errors.New("is not a profile of a picture")
)

// parseProfile reads an ICC profile. The name is set as far as it was found
// even when there is an error.
func parseProfile(b []byte) (p profile, err error) {
	const headerLen = 128
	be := binary.BigEndian
	if len(b) < headerLen+4 || string(b[36:40]) != "acsp" {
		return p, errProfileBroken
	}
	if size := be.Uint32(b); int64(size) > int64(len(b)) {
		return p, errProfileBroken
	}
	count := be.Uint32(b[headerLen:])
	if count > 256 || int(count)*12 > len(b)-headerLen-4 {
		return p, errProfileBroken
	}
	tags := make(map[string][]byte, count)
	for i := range int(count) {
		e := b[headerLen+4+12*i:]
		off, n := int64(be.Uint32(e[4:])), int64(be.Uint32(e[8:]))
		if off+n > int64(len(b)) {
			return p, errProfileBroken
		}
		tags[string(e[:4])] = b[off : off+n]
	}
	p.name = profileText(tags["desc"])

	switch class := string(b[12:16]); class {
	case "mntr", "scnr", "spac", "prtr":
	default:
		return p, errProfileKind
	}
	pcs := string(b[20:24])
	ok := false
	switch string(b[16:20]) {
	case "RGB ":
		if tags["rXYZ"] == nil || tags["rTRC"] == nil || pcs != "XYZ " {
			return p, errProfileTable
		}
		var curves [3]curve
		var m matrix
		for j, ch := range []string{"r", "g", "b"} {
			if curves[j], err = profileCurve(tags[ch+"TRC"]); err != nil {
				return p, err
			}
			t := tags[ch+"XYZ"]
			if len(t) < 20 || string(t[:4]) != "XYZ " {
				return p, errProfileBroken
			}
			for i := range 3 {
				m[3*i+j] = fixed16(t[8+4*i:])
			}
		}
		p.space, ok = newSpace(curves, m)
	case "GRAY":
		if pcs != "XYZ " {
			return p, errProfileTable
		}
		c, err := profileCurve(tags["kTRC"])
		if err != nil {
			return p, err
		}
		p.space, ok = graySpace(c)
	case "CMYK":
		return p, errProfileInks
	default:
		return p, errProfileKind
	}
	if !ok {
		return p, errProfileBroken
	}
	return p, nil
}

// profileCurve reads a curveType or parametricCurveType tag.
func profileCurve(t []byte) (curve, error) {
	if len(t) < 12 {
		return nil, errProfileBroken
	}
	be := binary.BigEndian
	var c curve
	switch string(t[:4]) {
	case "curv":
		n := int64(be.Uint32(t[8:]))
		if n > 65536 || 12+2*n > int64(len(t)) {
			return nil, errProfileBroken
		}
		switch n {
		case 0:
			c = gamma(1)
		case 1:
			c = gamma(float64(be.Uint16(t[12:])) / 256)
		default:
			s := make(sampled, n)
			for i := range s {
				s[i] = float64(be.Uint16(t[12+2*i:])) / 65535
			}
			c = s
		}
	case "para":
		kind := int(be.Uint16(t[8:]))
		if kind > 4 {
			return nil, errProfileBroken
		}
		want := []int{1, 3, 4, 5, 7}[kind]
		if len(t) < 12+4*want {
			return nil, errProfileBroken
		}
		var v [7]float64
		for i := range want {
			v[i] = fixed16(t[12+4*i:])
		}
		p := parametric{g: v[0], a: 1}
		if kind > 0 {
			p.a, p.b = v[1], v[2]
			if p.a <= 0 {
				return nil, errProfileBroken
			}
		}
		switch kind {
		case 1, 2: // flat below −b/a, at 0 or at the added c
			p.d = -p.b / p.a
			p.e, p.f = v[3], v[3]
		case 3:
			p.c, p.d = v[3], v[4]
		case 4:
			p.c, p.d, p.e, p.f = v[3], v[4], v[5], v[6]
		}
		if p.g <= 0 {
			return nil, errProfileBroken
		}
		c = p
	default:
		return nil, errProfileBroken
	}
	if !sound(c) {
		return nil, errProfileBroken
	}
	return c, nil
}

// fixed16 reads an s15Fixed16Number.
func fixed16(b []byte) float64 { return float64(int32(binary.BigEndian.Uint32(b))) / 65536 }

// profileText reads a textDescriptionType or multiLocalizedUnicodeType tag, the
// first language; "" for what it cannot read.
func profileText(t []byte) string {
	if len(t) < 12 {
		return ""
	}
	be := binary.BigEndian
	var s string
	switch string(t[:4]) {
	case "desc":
		n := min(int64(be.Uint32(t[8:])), int64(len(t)-12))
		s = string(t[12 : 12+n])
	case "mluc":
		if len(t) < 28 {
			return ""
		}
		n, off := int64(be.Uint32(t[20:])), int64(be.Uint32(t[24:]))
		if off+n > int64(len(t)) {
			return ""
		}
		u := make([]uint16, n/2)
		for i := range u {
			u[i] = be.Uint16(t[off+2*int64(i):])
		}
		s = string(utf16.Decode(u))
	}
	return cleanText(s)
}

// cleanText keeps the printable part of a text from a file, up to its first
// NUL and 80 characters, so that it can stand in a report.
func cleanText(s string) string {
	s, _, _ = strings.Cut(s, "\x00")
	s = strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) || r == unicode.ReplacementChar {
			return -1
		}
		return r
	}, s)
	if r := []rune(s); len(r) > 80 {
		s = string(r[:80])
	}
	return strings.TrimSpace(s)
}
