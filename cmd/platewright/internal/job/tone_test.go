package job

import (
	"math"
	"testing"

	"platewright/halftone"
)

func TestToneCurves(t *testing.T) {
	var c ToneCurves
	for _, typed := range []string{"20=26 50=68", "deep kelp: 20=15, 50=60%"} {
		if err := c.add(typed); err != nil {
			t.Fatal(err)
		}
	}
	for ink, want := range map[string]float64{"deep kelp": 60, "Deep Kelp": 60, "brick rust": 68} {
		if got := c.of(ink).Print(50); math.Abs(got-want) > 1e-9 {
			t.Errorf("50 %% of %s prints %g, want %g", ink, got, want)
		}
	}
	if (ToneCurves{"deep kelp: 50=60"}).of("brick rust") != nil {
		t.Error("brick rust took the curve of deep kelp")
	}
	for _, typed := range []string{"", "kelp:", "20", "20=x", "20=26 20=30", "120=100", "20=60 50=40"} {
		if err := new(ToneCurves).add(typed); err == nil {
			t.Errorf("%q was taken", typed)
		}
	}
}

// What the table puts on film prints what was wanted. The curve is a measured
// one of a screen print: Sefar, "Half-tone printing", article 6566571, film
// percent and printed percent.
func TestToneTableInverse(t *testing.T) {
	j := New()
	if err := j.ToneCurve.add("1=0 6=2 11=7 17=15 22=22 32=35 40=44 47=53 53=59 63=76 69=84 76=89 83=94 91=98 99=100"); err != nil {
		t.Fatal(err)
	}
	table, err := j.table("any ink")
	if err != nil {
		t.Fatal(err)
	}
	curve := j.ToneCurve.of("any ink")
	worst := 0.0
	for p := 1; p <= 99; p++ {
		film := float64(table[uint16(math.Round(float64(p)/100*halftone.Full))]) / halftone.Full * 100
		worst = max(worst, math.Abs(curve.Print(film)-float64(p)))
	}
	t.Logf("film for wanted print, printed again: at most %.4f %% off", worst)
	if worst > .01 {
		t.Errorf("the film prints %.4f %% off what was wanted", worst)
	}
	j.ToneLimits = "5-95"
	if table, err = j.table("any ink"); err != nil {
		t.Fatal(err)
	}
	for i, v := range table {
		film := float64(v) / halftone.Full * 100
		if film > 0 && film < 4.999 || film > 95.001 && film < 100 {
			t.Fatalf("coverage %d gets %.3f %% of film, beyond 5 to 95", i, film)
		}
	}
	if table, err := New().table("any ink"); table != nil || err != nil {
		t.Errorf("no curve and no limits gave %v, %v", table != nil, err)
	}
}

func TestMargins(t *testing.T) {
	var m Margins
	if err := m.UnmarshalText([]byte("5mm, 3mm,0")); err != nil {
		t.Fatal(err)
	}
	if lead, side, tail, ok := m.mm(); lead != 5 || side != 3 || tail != 0 || !ok {
		t.Errorf("%g, %g, %g, %v", lead, side, tail, ok)
	}
	for _, typed := range []string{"5mm", "5mm,3mm", "5,3,2", "5mm,3mm,-2mm", "a,b,c"} {
		if m.UnmarshalText([]byte(typed)) == nil {
			t.Errorf("%q was taken", typed)
		}
	}
}
