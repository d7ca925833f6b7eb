package chart

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"platewright/composite/spectrum"
)

const cgatsText = `CGATS.17
ORIGINATOR "press room"	# a remark
DESCRIPTOR "two inks"
KEYWORD "MADE_UP"
MADE_UP "a # in quotes"
WEIGHTING_FUNCTION "ILLUMINANT, D50"
NUMBER_OF_FIELDS 7
BEGIN_DATA_FORMAT
SAMPLE_ID SAMPLE_NAME deep_kelp brick_rust
XYZ_X XYZ_Y XYZ_Z
END_DATA_FORMAT
NUMBER_OF_SETS 3
BEGIN_DATA
1 "bare paper" 0 0 84.5 87.6 74.6
2 A2 100.00 0 10.1 12.0 9.5
3 A3 0 50 40 35
30
END_DATA
`

func read(t testing.TB, text string) (*Table, error) {
	t.Helper()
	return ReadTable(strings.NewReader(text), "t.txt")
}

func TestReadCGATS(t *testing.T) {
	for _, end := range []string{"\n", "\r\n", "\r"} {
		tab, err := read(t, strings.ReplaceAll(cgatsText, "\n", end))
		if err != nil {
			t.Fatal(err)
		}
		if tab.Title != "two inks" || len(tab.Samples) != 3 || len(tab.Inks) != 2 {
			t.Fatalf("%+v", tab)
		}
		s := tab.Samples[2]
		if s.Film[1] != 50 || s.Color != (spectrum.XYZ{40, 35, 30}) || s.Name != "A3, line 16" {
			t.Errorf("%+v", s)
		}
		if note, err := tab.Order([]string{"Brick Rust", "deep kelp"}); err != nil || note != "" || tab.Samples[1].Film[1] != 100 {
			t.Errorf("ordered: %v %q %+v", err, note, tab.Samples[1])
		}
	}
}

func TestReadSpectra(t *testing.T) {
	f, err := os.Open("../../testdata/spectral-single-ink-ramps.cgats")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	tab, err := ReadTable(f, "ramps")
	if err != nil {
		t.Fatal(err)
	}
	if len(tab.Samples) != 35 || strings.Join(tab.Inks, " ") != "CMYK_C CMYK_M CMYK_Y CMYK_K" {
		t.Fatalf("%d samples, %v", len(tab.Samples), tab.Inks)
	}
	paper := tab.Samples[0]
	if paper.Spectrum == nil || math.Abs(paper.Spectrum[5]-.8813) > 1e-9 || paper.Color[1] < 85 {
		t.Errorf("paper %+v", paper)
	}
	note, err := tab.Order([]string{"sea", "rose", "sun", "coal"})
	if err != nil || !strings.Contains(note, "CMYK_M is rose") {
		t.Errorf("%q, %v", note, err)
	}
	// Every 20 nm is enough, and fractions are as good as percents.
	var coarse strings.Builder
	coarse.WriteString("name;kelp")
	for b := 0; b < spectrum.Bands; b += 2 {
		coarse.WriteString(";nm" + itoa(380+10*b))
	}
	coarse.WriteString("\npaper;0")
	for b := 0; b < spectrum.Bands; b += 2 {
		coarse.WriteString(";" + strings.Replace(ftoa(.5+.01*float64(b)), ".", ",", 1))
	}
	tab, err = read(t, coarse.String())
	if err != nil {
		t.Fatal(err)
	}
	for b, v := range tab.Samples[0].Spectrum {
		if math.Abs(v-(.5+.01*float64(min(b, 34)))) > 1e-9 {
			t.Errorf("band %d: %g", b, v)
		}
	}
}

func TestReadCSV(t *testing.T) {
	for name, text := range map[string]string{
		"commas":     "name,kelp,over black,L,a,b\nx,50,0,62,-21,6\ny,100,1,20,0,0\n",
		"semicolons": "\ufeffname;kelp;over_black;L*;a*;b*\nx;50,0;paper;62,0;-21;6\ny;100;black;20;0;0\n\n",
		"tabs":       "name\tkelp\tOVER_BLACK\tLAB_L\tLAB_A\tLAB_B\nx\t50\tno\t62\t-21\t6\ny\t100\tyes\t20\t0\t0",
		"quoted":     "# measured today\n\"name\",\"kelp\",\"over black\",\"L\",\"a\",\"b\"\n\"x\",50,,62,-21,6,,\n\"y, a \"\"black\"\"\",100,1,20,0,0\n",
	} {
		tab, err := read(t, text)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		s := tab.Samples
		if len(s) != 2 || len(tab.Inks) != 1 || s[0].Film[0] != 50 || s[0].OverBlack || !s[1].OverBlack {
			t.Errorf("%s: %+v %v", name, s, tab.Inks)
			continue
		}
		if d := spectrum.DeltaE(s[0].Color.Lab(), spectrum.Lab{62, -21, 6}); d > 1e-6 {
			t.Errorf("%s: off by %g", name, d)
		}
	}
	tab, err := read(t, "C,M,Y,K,L,a,b\n0,10,20,30,50,0,0\n")
	if err != nil || strings.Join(tab.Inks, "") != "CMYK" || tab.Samples[0].Film[2] != 20 {
		t.Errorf("single letters: %+v %v", tab, err)
	}
	tab, err = read(t, "x_mm,y_mm,X,Y,Z\n3,4,.2,.21,.15\n9,4,.8,.83,.7\n1,1,.1,.1,.1\n")
	if err != nil || tab.Column("y mm")[1] != 4 || tab.Samples[1].Color[1] != 83 || len(tab.Inks) != 0 {
		t.Errorf("a card: %+v %v", tab, err)
	}
}

func TestTableErrors(t *testing.T) {
	change := func(old, new string) string {
		if !strings.Contains(cgatsText, old) {
			t.Fatalf("no %q", old)
		}
		return strings.Replace(cgatsText, old, new, 1)
	}
	for _, tt := range []struct {
		text, want string
		kind       error
	}{
		{"", "no rows of values under a header", ErrMalformed},
		{"a,b\x00", "no text file", ErrUnsupported},
		{change("84.5 87.6", "84.5"), "t.txt:14: 6 values for 7 columns", ErrMalformed},
		{change("84.5 87.6", "84.5 87.6 1"), "t.txt:14: 8 values for 7 columns", ErrMalformed},
		{change("84.5", "8x.5"), `t.txt:14: XYZ_X is "8x.5", no number`, ErrMalformed},
		{change("84.5", "NaN"), `t.txt:14: XYZ_X is "NaN", no number`, ErrMalformed},
		{change("100.00", "130"), "t.txt:15: deep_kelp is 130; film percent goes from 0 to 100", ErrMalformed},
		{change("END_DATA\n", ""), "the file ends without END_DATA", ErrMalformed},
		{change("NUMBER_OF_SETS 3", "NUMBER_OF_SETS 4"), "t.txt:18: NUMBER_OF_SETS says 4 rows and there are 3", ErrMalformed},
		{change("NUMBER_OF_FIELDS 7", "NUMBER_OF_FIELDS many"), `t.txt:7: NUMBER_OF_FIELDS "many" is no number`, ErrMalformed},
		{change(`"bare paper"`, `"bare paper`), `t.txt:14: a quote " without its end`, ErrMalformed},
		{change("D50", "D65"), "colors under ILLUMINANT, D65; export them for D50", ErrUnsupported},
		{change("XYZ_Z", "XYZ_Q"), "no colors: the columns X, Y, Z or L, a, b", ErrUnsupported},
		{change("brick_rust", "deep_kelp"), `t.txt:8: two columns are called "deep_kelp"`, ErrMalformed},
		{"kelp,L,a,b\n0.5,50,0,0\n1,20,0,0\n", "film percents go to 1 only; write 50 for 50 percent", ErrUnsupported},
		{"kelp,L,a,b\n50,50,0\n", "t.txt:2: 3 values for 4 columns", ErrMalformed},
		{"kelp,L,a,b\n50,500,0,0\n", "t.txt:2: L, a, b = 500, 0, 0 is no color", ErrMalformed},
		{"kelp,X,Y,Z\n50,500,50,50\n", "t.txt:2: X, Y, Z", ErrMalformed},
		{"kelp,over black,X,Y,Z\n50,maybe,50,50,50\n", `over black is "maybe"; write 0 on paper, 1 over black`, ErrMalformed},
		{"kelp,nm380,nm500,nm700\n0,1,1,1\n", "no column between 380 and 500 nm", ErrMalformed},
		{"kelp,nm500,nm510,nm520\n0,1,1,1\n", "must span 420 … 680 nm", ErrUnsupported},
		{"\"kelp,L,a,b\n50,50,0,0\n", `t.txt:1: a quote " without its end`, ErrMalformed},
	} {
		_, err := read(t, tt.text)
		if err == nil || !strings.Contains(err.Error(), tt.want) || !errors.Is(err, tt.kind) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%.40q: %v, want %q", tt.text, err, tt.want)
		}
	}
	tab, _ := read(t, cgatsText)
	for _, names := range [][]string{{"deep kelp", "sea"}, {"a", "b", "c"}} {
		if _, err := tab.Order(names); err == nil || !strings.Contains(err.Error(), "no column for ink") {
			t.Errorf("%v: %v", names, err)
		}
	}
}

// CGATS samples of a general color package, where it is installed: every file
// that holds measured colors is read, and the others say why not.
func TestCGATSSamples(t *testing.T) {
	var files []string
	for _, ending := range []string{"*.cie", "*.ti1", "*.ti2", "*.sp", "*.cal", "*.cht"} {
		f, _ := filepath.Glob("/usr/share/color/*/ref/" + ending)
		files = append(files, f...)
	}
	if len(files) == 0 {
		t.Skip("no CGATS samples are installed")
	}
	sound, colors := 0, 0
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		tab, err := ReadTable(f, filepath.Base(name))
		f.Close()
		if err == nil {
			sound++
			colors += len(tab.Samples)
		} else {
			t.Log(err)
		}
		switch ext := filepath.Ext(name); {
		case (ext == ".cie" || ext == ".ti1" || ext == ".ti2") && err != nil:
			t.Errorf("%s: %v", name, err)
		case err == nil && len(tab.Samples) == 0:
			t.Errorf("%s: no samples", name)
		case err != nil && !errors.Is(err, ErrMalformed) && !errors.Is(err, ErrUnsupported):
			t.Errorf("%s: %v", name, err)
		}
	}
	t.Logf("%d of %d files hold colors, %d in all", sound, len(files), colors)
}

func FuzzReadTable(f *testing.F) {
	f.Add([]byte(cgatsText))
	f.Add([]byte("name;kelp;over_black;L*;a*;b*\nx;50,0;paper;62,0;-21;6\n"))
	f.Add([]byte("kelp,nm380,nm400,nm420,nm440,nm460,nm480,nm500,nm520,nm540,nm560,nm580,nm600,nm620,nm640,nm660,nm680\n0,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		tab, err := ReadTable(strings.NewReader(string(data)), "f")
		if err != nil {
			if strings.Contains(err.Error(), "\n") {
				t.Errorf("more than a line: %q", err)
			}
			return
		}
		for _, s := range tab.Samples {
			if len(s.Film) != len(tab.Inks) || !finite(s.Color[:]...) || !finite(s.Film...) {
				t.Fatalf("%+v", s)
			}
		}
		if len(tab.Inks) > 0 && len(tab.Inks) < 5 && len(tab.Samples) < 200 {
			// Whatever was read, a fit ends in a shelf or in an error.
			if fit, err := Fit(nil, Print{Inks: tab.Inks}, tab.Samples); err == nil && fit.Shelf == nil {
				t.Fatal("neither shelf nor error")
			}
		}
	})
}

func itoa(n int) string     { return strconv.Itoa(n) }
func ftoa(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
