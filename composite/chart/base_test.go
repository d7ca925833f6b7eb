package chart

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// simInk is an ink made up of humps of absorption, and scattering, at full
// strength.
type simInk struct {
	name  string
	humps [][3]float64 // nm, width, height
	s     float64      // at 380 nm; it falls with the wavelength, as of fine pigment
}

var simInks = []simInk{
	{"lake", [][3]float64{{640, 70, 2.2}, {420, 20, .15}}, .02},
	{"poppy", [][3]float64{{520, 50, 2.5}, {440, 40, 1.2}}, .08},
	{"straw", [][3]float64{{430, 35, 2.8}}, .1},
	{"soot", [][3]float64{{500, 400, 2.4}}, .02},
	{"chalk rose", [][3]float64{{530, 60, 1.2}}, 1.2},
}

// solid is the spectrum of a film of the ink with a share of base in it, thick
// times as thick as usual, on a ground, both inside the surface: Kubelka and Munk's
// formula over a ground of reflectance g.
func (k *simInk) solid(share, thick float64, ground *spectrum.Reflectance) (r spectrum.Reflectance) {
	for b := range r {
		nm := 380 + 10*float64(b)
		absorb := .003
		for _, h := range k.humps {
			d := (nm - h[0]) / h[1]
			absorb += h[2] * math.Exp(-d*d)
		}
		absorb *= (1 - share) * thick
		scatter := (k.s*(380/nm)*(1-share) + .005*share) * thick
		a := 1 + absorb/scatter
		q := math.Sqrt(a*a - 1)
		c := q / math.Tanh(q*scatter)
		g := ground[b]
		r[b] = (1 - g*(a-c)) / (a - g + c)
	}
	return r
}

// simPrint measures solids of the simulated inks over paper and over black.
type simPrint struct {
	base, thick, noise float64
	black              bool
	rnd                *rand.Rand
}

func (p simPrint) samples(inks []simInk) (out []Sample) {
	face := spectrum.Surface{Re: .04, Ri: .6}
	var paper, black spectrum.Reflectance
	for b := range paper {
		paper[b] = .88 - .08*math.Exp(-math.Pow(float64(b)/8, 2))
		black[b] = .03
	}
	add := func(film []float64, over bool, r *spectrum.Reflectance) {
		lab := face.XYZ(r).Lab()
		for c := range lab {
			if p.noise > 0 {
				lab[c] += p.noise * p.rnd.NormFloat64()
			}
		}
		out = append(out, Sample{Name: "simulated", Film: film, OverBlack: over, Color: lab.XYZ()})
	}
	add(make([]float64, len(inks)), false, &paper)
	if p.black {
		add(make([]float64, len(inks)), true, &black)
	}
	for i := range inks {
		film := make([]float64, len(inks))
		film[i] = 100
		r := inks[i].solid(p.base/100, p.thick, &paper)
		add(film, false, &r)
		if p.black {
			r := inks[i].solid(p.base/100, p.thick, &black)
			add(film, true, &r)
		}
	}
	return out
}

// shelfOf measures a print onto a shelf.
func shelfOf(t testing.TB, old *ink.Shelf, inks []simInk, p simPrint, base float64, mesh string) *Fitted {
	t.Helper()
	pr := Print{Paper: "stock", Finish: ink.Uncoated, Record: ink.Record{By: "an instrument", Mesh: mesh}}
	for _, k := range inks {
		pr.Inks, pr.Base = append(pr.Inks, k.name), append(pr.Base, base)
	}
	f, err := Fit(old, pr, p.samples(inks))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// Inks of known base are found within 3 percent where the shelf knew them over
// black, as a narrow yellow is within 5, whose spectrum a color says least of. Where
// it knew a color alone, what is told is true within what is told with it, but of an
// opaque ink, which then is taken as clear. The inks are made up of spectra that the
// shelf does not know.
func TestBaseFound(t *testing.T) {
	nan := math.NaN()
	for _, black := range []bool{true, false} {
		sum, n := 0., 0.
		for _, before := range []float64{0, 20} {
			for _, base := range []float64{30, 50, 75} {
				rnd := rand.New(rand.NewPCG(5, uint64(base)))
				was := shelfOf(t, nil, simInks, simPrint{base: before, thick: 1, noise: .1, black: black, rnd: rnd}, before, "")
				now := shelfOf(t, was.Shelf, simInks, simPrint{base: base, thick: 1, noise: .1, black: black, rnd: rnd}, nan, "")
				if black && len(now.Bases) < len(simInks)-1 {
					t.Errorf("%g after %g %%: %d of %d inks told", base, before, len(now.Bases), len(simInks))
				}
				for _, b := range now.Bases {
					d := math.Abs(b.Percent - base)
					if sum, n = sum+d, n+1; !black && b.Ink == "chalk rose" {
						if d > math.Abs(before-base)*.75 {
							t.Errorf("printed with %g %% after %g %%: %v", base, before, &b)
						}
						continue
					}
					most := b.PlusMinus
					if black {
						most = math.Min(most, 3)
						if b.Ink == "straw" {
							most = 5
						}
					}
					if d > most {
						t.Errorf("black %v, printed with %g %% after %g %%: %v, want within %.1f", black, base, before, &b, most)
					}
					if b.Stated != before || b.Differs != (b.Written != b.Stated) {
						t.Errorf("%v: %+v", &b, b)
					}
				}
			}
		}
		t.Logf("over black %v: base off by %.2f in the mean of %.0f", black, sum/n, n)
	}
}

// truth is the color of the ink with percent of base on the simulated paper.
func (k *simInk) truth(percent float64) spectrum.XYZ {
	s := simPrint{base: percent, thick: 1}.samples([]simInk{*k})
	return s[1].Color
}

// What is written makes prints with any other base come out nearer than what was
// stated, or leaves them as they were.
func TestBaseNeverWorse(t *testing.T) {
	nan := math.NaN()
	for _, tt := range []struct {
		name          string
		before        float64 // base on the shelf, as stated and printed
		printed       float64
		stated        float64 // of the print; NaN: not
		thick, noise  float64
		mesh          string
		told, written bool
	}{
		{"as before", 0, 0, nan, 1, .3, "77/cm", false, false},
		{"as before, but thicker", 0, 0, nan, 1.08, .3, "77/cm", false, false},
		{"as before, with base", 30, 30, nan, 1, .3, "77/cm", true, false},
		{"base as stated", 0, 40, 40, 1, .3, "77/cm", true, false},
		{"base as stated, thinner", 0, 40, 40, .92, .3, "77/cm", true, false},
		{"base not stated", 0, 40, nan, 1, .3, "77/cm", true, true},
		{"other base than stated", 0, 65, 30, 1, .3, "77/cm", true, true},
		{"more ink than stated", 30, 0, nan, 1, .3, "77/cm", true, true},
		{"through a finer mesh", 0, 0, 0, .6, .3, "120/cm", true, false},
	} {
		better, worse := 0., 0.
		rnd := rand.New(rand.NewPCG(8, 1))
		was := shelfOf(t, nil, simInks, simPrint{base: tt.before, thick: 1, noise: .1, black: true, rnd: rnd}, tt.before, "77/cm")
		now := shelfOf(t, was.Shelf, simInks, simPrint{base: tt.printed, thick: tt.thick, noise: tt.noise, black: true, rnd: rnd}, tt.stated, tt.mesh)
		if tt.told != (len(now.Bases) > 0) {
			t.Errorf("%s: told %v", tt.name, now.Bases)
		}
		for _, b := range now.Bases {
			if tt.written != (b.Written != b.Stated) || tt.written && !b.Differs || tt.mesh != "77/cm" && !b.Differs {
				t.Errorf("%s: %v, %g written", tt.name, &b, b.Written)
			}
		}
		for i := range simInks {
			k := &simInks[i]
			u, err := now.Shelf.Ink(k.name)
			if err != nil {
				t.Fatal(err)
			}
			carried := *u
			if carried.Base = tt.stated; math.IsNaN(tt.stated) {
				carried.Base = tt.before
			}
			for _, percent := range []float64{0, 20, 50, 80} {
				var off [2]float64
				for n, v := range []*ink.Ink{&carried, u} {
					m, err := composite.New(now.Shelf, now.Paper, []composite.Use{{Ink: v, Base: percent}})
					if err != nil {
						t.Fatal(err)
					}
					off[n] = deltaE(m.Overprint(1), k.truth(percent))
				}
				better += (off[0] - off[1]) / float64(4*len(simInks))
				worse = math.Max(worse, off[1]-off[0])
			}
		}
		t.Logf("%-26s prints with other base come nearer by ΔE %.2f in the mean, none further by more than %.2f", tt.name, better, worse)
		if worse > .5 || tt.written && better < 1 {
			t.Errorf("%s: nearer by %.2f in the mean, one further by %.2f", tt.name, better, worse)
		}
	}
}

// Of an ink that the shelf does not know, or that is another one under its name,
// nothing is told and nothing is written; the shelf carries what is.
func TestBaseOfUnknownInk(t *testing.T) {
	nan := math.NaN()
	rnd := rand.New(rand.NewPCG(2, 1))
	p := simPrint{base: 0, thick: 1, noise: .1, black: true, rnd: rnd}
	was := shelfOf(t, nil, simInks[:2], p, 0, "")
	p.base = 50
	if now := shelfOf(t, was.Shelf, simInks[2:], p, nan, ""); len(now.Bases) > 0 || !math.IsNaN(now.Inks[0].Base) {
		t.Errorf("told of unknown inks: %v, base %g", now.Bases, now.Inks[0].Base)
	}
	other := simInks[3]
	other.name = simInks[0].name
	if now := shelfOf(t, was.Shelf, []simInk{other}, p, nan, ""); len(now.Bases) > 0 || now.Inks[0].Base != 0 {
		t.Errorf("told of another ink: %v, base %g", now.Bases, now.Inks[0].Base)
	}
	now := shelfOf(t, was.Shelf, simInks[:2], p, nan, "")
	var b strings.Builder
	if err := now.Shelf.Write(&b); err != nil {
		t.Fatal(err)
	}
	for _, u := range now.Inks {
		if line := fmt.Sprintf("base = %g\n", u.Base); math.Abs(u.Base-50) > 3 || !strings.Contains(b.String(), line) {
			t.Errorf("%s: %q is not on the shelf:\n%s", u.Name, line, b.String())
		}
	}
}
