package job

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// TestRoundTrip writes jobs of any content and reads them back.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"", "a", `"`, "'''", "a\n'''b'''\n", "\x7f\t", "line\nline\n", "\ufeff", `\u00e9`}))
		list := rapid.SliceOf(rapid.StringMatching(`[a-z][a-z ]{0,8}[a-z]`))
		j := New()
		j.Art = text.Draw(t, "art")
		j.Name = text.Draw(t, "name")
		j.ShelfCopy = text.Draw(t, "shelf")
		j.Shelf = text.Draw(t, "shelf path")
		j.Inks = Names(list.Draw(t, "inks"))
		j.Pin = Texts(list.Draw(t, "pins"))
		j.InkCount = rapid.IntRange(1, 8).Draw(t, "count")
		j.Smooth = rapid.Float64Range(0, 100).Draw(t, "smooth")
		j.FilmDPI = rapid.Float64Range(100, 5000).Draw(t, "dpi")
		j.Mirror = rapid.Bool().Draw(t, "mirror")
		j.Width = Length(rapid.SampledFrom([]string{"", "297mm", "30cm", "11.7in"}).Draw(t, "width"))
		j.Tints = Tints(rapid.SampledFrom([]string{"", "any", "none", "25,50,75"}).Draw(t, "tints"))
		j.Angle = PerInk(rapid.SampledFrom([]string{"", "22.5", "deep kelp=10,brick rust=-7.25"}).Draw(t, "angle"))
		j.Films = Formats(rapid.SampledFrom([][]string{nil, {"tiff"}, {"pdf", "png"}}).Draw(t, "films"))
		j.Date = Date(rapid.SampledFrom([]string{"", "2026-11-25"}).Draw(t, "date"))
		back, err := Parse(j.Format(), "job.toml")
		if err != nil {
			t.Fatalf("%v\n%s", err, j.Format())
		}
		// No list and an empty one are the same.
		for _, l := range []*Job{j, back} {
			if len(l.Inks) == 0 {
				l.Inks = nil
			}
			if len(l.Pin) == 0 {
				l.Pin = nil
			}
			for i, p := range l.Pin {
				l.Pin[i] = strings.TrimSpace(p)
			}
		}
		if !reflect.DeepEqual(j, back) {
			t.Fatalf("wrote %+v\nread  %+v", j, back)
		}
	})
}

func TestParseErrors(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"ruling = 45\nrulling = 45", `j:2: unknown setting "rulling": did you mean ruling?`},
		{"whatever = 1", `j:1: unknown setting "whatever": take the line out`},
		{"[inks]\nname = \"deep kelp\"", "j:1: inks: takes a text, a number, true or false"},
		{"threads.count = 77", `j:1: unknown setting "threads": take the line out`},
		{"width = 30", `j:1: width: "30": the length "30" has no unit: write 30mm, 30cm or 30in`},
		{"paper = [\"a\", \"b\"]", "j:1: paper: takes one value, not a list in brackets"},
		{"dot = \"roud\"", `j:1: dot: "roud": did you mean round? it takes round, ellipse, diamond, line, stochastic or none`},
		{"date = \"25.11.2026\"", `j:1: date: "25.11.2026": give a day as 2026-11-25`},
		{"ink-count = 2.5", `j:1: ink-count: "2.5": give a whole number`},
		{"\n\nfilm-dpi = 20", "j:3: film-dpi 20: give a number from 72 to 10160"},
		{"smooth = nan", `j:1: smooth: "NaN": give a number`},
		{"ruling = 700", "j:1: ruling 700: a film of 1200 dpi holds at most 600 lines per inch, and good tints up to 120; give a lower ruling or a higher film-dpi"},
		{"width = ", "j:1: "},
		{"width = \"1mm\"\nwidth = \"1mm\"", "j:2: "},
		{"\xff", "j:1: "},
	} {
		_, err := Parse([]byte(c.text), "j")
		if err == nil || !strings.HasPrefix(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: %v\nwant %s", c.text, err, c.want)
		}
	}
}

// TestReadPaths wants the paths of a job to be relative to its file, there and
// back.
func TestReadPaths(t *testing.T) {
	dir := t.TempDir()
	folder := filepath.Join(dir, "made", "here")
	if err := os.MkdirAll(folder, 0o777); err != nil {
		t.Fatal(err)
	}
	j := New()
	j.Art, j.Shelf = filepath.Join(dir, "art", "poster.png"), BuiltIn
	in := j.In(folder)
	if in.Art != "../../art/poster.png" || in.Shelf != BuiltIn {
		t.Errorf("written as %q and %q", in.Art, in.Shelf)
	}
	file := filepath.Join(folder, "job.toml")
	if err := os.WriteFile(file, in.Format(), 0o666); err != nil {
		t.Fatal(err)
	}
	back, err := Read(file)
	if err != nil {
		t.Fatal(err)
	}
	if back.Art != j.Art || back.Shelf != BuiltIn {
		t.Errorf("read as %q and %q", back.Art, back.Shelf)
	}
}

func FuzzParse(f *testing.F) {
	f.Add(New().Format())
	f.Add([]byte("art = 'a'\ninks = ['b', 'c']\ndate = 2026-11-25\nangle = 22.5"))
	f.Add([]byte("shelf-copy = '''\n[[ink]]\n'''\n[a.b]\nc=1"))
	f.Fuzz(func(t *testing.T, data []byte) {
		j, err := Parse(data, "job.toml")
		if err != nil {
			if strings.ContainsAny(err.Error(), "\n\r") || !strings.HasPrefix(err.Error(), "job.toml") {
				t.Fatalf("error %q", err)
			}
			return
		}
		again, err := Parse(j.Format(), "job.toml")
		if err != nil {
			t.Fatalf("%v\n%s", err, j.Format())
		}
		if string(again.Format()) != string(j.Format()) {
			t.Fatalf("%s\nbecame\n%s", j.Format(), again.Format())
		}
	})
}
