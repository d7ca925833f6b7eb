package choose

import (
	"context"
	"math"
	"math/rand"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"testing"
	"time"
)

func TestScratchMix(t *testing.T) {
	sh := ink.BuiltIn()
	paper, _ := sh.Paper("")
	for _, s := range []string{"2f6d58", "d8b0a0", "ff00ff", "lab:50,0,0", "lab:75,10,40", "f4d9c6", "102030"} {
		c, err := ink.ParseColor(s)
		if err != nil {
			t.Fatal(err)
		}
		t0 := time.Now()
		r, err := Mix(context.Background(), sh, paper, c, Mixing{})
		if err != nil {
			t.Fatal(err)
		}
		t.Log(s, time.Since(t0))
		for _, x := range r {
			t.Logf("  %.2f %v op %.2f %s", x.DE, x.InReach, x.Opacity, x.Words())
		}
		lab := r[0].Color.Lab()
		lab[0] -= 4
		lab[1] += 3
		k, err := Correct(context.Background(), sh, paper, r[0], lab.XYZ(), Mixing{})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("  corr %.2f -> %.2f %s %+v total %.1f", k.GotDE, k.DE, k.Explain, k.Add, k.Grams)
	}
	rng := rand.New(rand.NewSource(1))
	all, base, _ := components(sh, &Mixing{})
	same, close, bad := 0, 0, 0
	for n := 0; n < 60; n++ {
		p := rng.Perm(len(all))[:1+rng.Intn(3)]
		x := make([]float64, len(p))
		sum := 0.0
		for i := range x {
			x[i] = .05 + rng.Float64()
			sum += x[i]
		}
		tot := .2 + .7*rng.Float64()
		var parts []component
		for i := range x {
			x[i] *= tot / sum
			parts = append(parts, all[p[i]])
		}
		f := &ink.Film{}
		mixed(f, parts, &base, x)
		c := printed(f, sh.Sheet(paper))
		rs, _ := Mix(context.Background(), sh, paper, c, Mixing{})
		r := rs[0]
		ok := false
		for _, r := range rs[:1] {
			m := 0
			for i, q := range parts {
				for _, y := range r.Parts {
					if y.Ink == q.ink && math.Abs(y.Percent-100*x[i]) <= 2 {
						m++
					}
				}
			}
			if m == len(parts) && len(r.Parts) <= m+1 {
				ok = true
			}
		}
		if ok {
			same++
		} else if r.DE <= .5 {
			close++
		} else {
			bad++
			t.Log(parts, x, r.DE, r.Words())
		}
		_ = spectrum.XYZ{}
	}
	t.Log(same, close, bad)
}
