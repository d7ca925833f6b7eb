package batch

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"platewright/separate/artwork"
)

// picture writes a small PNG whose bytes differ by n.
func picture(t testing.TB, path string, n int) {
	t.Helper()
	m := image.NewGray(image.Rect(0, 0, 24, 20))
	for i := range m.Pix {
		m.Pix[i] = 255
	}
	for i := range 120 {
		m.Pix[200+i] = 0
	}
	m.SetGray(n%24, n/24%20, color.Gray{40})
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
}

func scan(t testing.TB, folder, results string) *Folder {
	t.Helper()
	f, err := Scan(folder, results, artwork.Limits{}, func(string) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// hostile are names that a file may have and a result must not take over.
var hostile = []string{
	"with space.png", "quote\"s and 'these'.png", "line\nbreak.png", "bell\a.png", "\x1b[31mred.png", "back\\slash.png",
	"..png", "...png", "-rf.png", "~.png", "$(id).png", "`id`.png", "=1+1.png", "<script>alert(1)<.png", "&amp;.png", "%2e%2e.png",
	"con.png", "NUL.png", "com1.png", "broken\xff\xfe.png", "null-byte-less.png", "dots....png", "summary.html.png", ".png.png.png",
	strings.Repeat("long", 62) + ".png", strings.Repeat("long", 61) + "er.png", strings.Repeat("long", 61) + "er.jpg", "ünïcödé.png", "\u202egnp.exe.png", "''' \"\"\" # toml.png", "trailing .png", "tab\t.png",
}

func TestScanHostileNames(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("other systems refuse such names themselves")
	}
	dir := filepath.Join(t.TempDir(), "in")
	wanted := 0
	for i, name := range hostile {
		picture(t, filepath.Join(dir, name), i)
		if !strings.HasPrefix(name, ".") {
			wanted++
		}
	}
	picture(t, filepath.Join(dir, "..", "in", "a b", "c.png"), 99) // a folder with a space
	picture(t, filepath.Join(dir, "a", "b-c.png"), 98)             // joins to the same name
	wanted += 2
	f := scan(t, dir, dir+"-jobs")
	if len(f.Inputs) != wanted {
		t.Errorf("%d pictures, want %d", len(f.Inputs), wanted)
	}
	seen := make(map[string]string)
	for _, in := range f.Inputs {
		if in.Err != nil {
			t.Errorf("%q: %v", in.Rel, in.Err)
		}
		name := in.Name
		lower := strings.ToLower(name)
		if other, ok := seen[lower]; ok {
			t.Errorf("%q and %q both go to %q", in.Rel, other, name)
		}
		seen[lower] = in.Rel
		if name == "" || name != filepath.Base(name) || strings.HasPrefix(name, ".") || strings.HasPrefix(name, "-") || len(name) > 120 {
			t.Errorf("%q goes to %q", in.Rel, name)
		}
		for _, r := range name {
			if r < ' ' || r == 0x7f || r == '\ufffd' || strings.ContainsRune(`/\:*?"<>|'`+"`$", r) {
				t.Errorf("%q goes to %q, which holds %q", in.Rel, name, r)
			}
		}
	}
}

// TestScanOneBaseName wants two inputs of one base name apart, whatever the
// order they are found in.
func TestScanOneBaseName(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "in")
	for i, name := range []string{"poster.png", "poster.jpg", "Poster.tif", "poster-jpg.gif", "one.png"} {
		picture(t, filepath.Join(dir, name), i)
	}
	got := make(map[string]string)
	for _, in := range scan(t, dir, dir+"-jobs").Inputs {
		got[in.Rel] = in.Name
	}
	for rel, want := range map[string]string{"one.png": "one", "poster.png": "poster.png", "poster.jpg": "poster.jpg", "Poster.tif": "Poster.tif", "poster-jpg.gif": "poster-jpg"} {
		if got[rel] != want {
			t.Errorf("%s goes to %q, want %q", rel, got[rel], want)
		}
	}
}

func TestScanLinksAndLoops(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "in")
	picture(t, filepath.Join(dir, "a.png"), 1)
	for name, to := range map[string]string{"loop": ".", "up": "..", "sub/self": "self", "nowhere.png": "missing.png", "b.png": "a.png"} {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink(to, filepath.Join(dir, name)); err != nil {
			t.Skip(err)
		}
	}
	f := scan(t, dir, dir+"-jobs")
	var rels, skipped []string
	for _, in := range f.Inputs {
		rels = append(rels, in.Rel)
	}
	for _, k := range f.Skipped {
		skipped = append(skipped, k.File)
	}
	if got := strings.Join(rels, " "); got != "a.png b.png" {
		t.Errorf("pictures: %s", got)
	}
	if got := strings.Join(skipped, " "); got != "loop nowhere.png sub/self up" {
		t.Errorf("skipped: %s", got)
	}
}

// TestScanLeavesResultsOut wants no result of any run among the inputs.
func TestScanLeavesResultsOut(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "in")
	picture(t, filepath.Join(dir, "a.png"), 1)
	picture(t, filepath.Join(dir, "x-jobs", "a", "proof.png"), 2)
	if _, err := openStore(filepath.Join(dir, "x-jobs2")); err != nil {
		t.Fatal(err)
	}
	picture(t, filepath.Join(dir, "x-jobs2", "a", "proof.png"), 3)
	picture(t, filepath.Join(dir, "poster-plates", "proof.png"), 4)
	for _, name := range []string{"report.json", "job.toml"} {
		if err := os.WriteFile(filepath.Join(dir, "poster-plates", name), []byte("{}"), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	f := scan(t, dir, filepath.Join(dir, "x-jobs"))
	if len(f.Inputs) != 1 || f.Inputs[0].Rel != "a.png" {
		t.Errorf("%+v, want a.png alone", f.Inputs)
	}
}

func TestScanSaysWhatIsWrong(t *testing.T) {
	dir := t.TempDir()
	for name, data := range map[string]string{"empty.png": "", "text.png": "hello\n", "drawing.svg": "<svg xmlns='x'/>", "layers.psd": "8BPS\x00\x01"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(data), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	f := scan(t, dir, dir+"-jobs")
	if len(f.Inputs) != 2 || f.Inputs[0].Err == nil || !errors.Is(f.Inputs[1].Err, artwork.ErrUnsupported) {
		t.Errorf("%+v, want two that cannot be read", f.Inputs)
	}
	if len(f.Skipped) != 2 || f.Skipped[0].Mend == "" || !strings.Contains(f.Skipped[0].Reason, "SVG") {
		t.Errorf("%+v, want two skipped with a mend", f.Skipped)
	}
}

// FuzzNameAll wants any two files to go to two places inside the results.
func FuzzNameAll(f *testing.F) {
	for i, name := range hostile {
		f.Add(name, hostile[(i+1)%len(hostile)])
	}
	f.Add("a/b.png", "a-b.png")
	f.Add("poster.png", "POSTER.PNG")
	f.Add("summary.html", "summary.html.png")
	f.Fuzz(func(t *testing.T, a, b string) {
		if a == b {
			return
		}
		in := []Input{{Rel: a}, {Rel: b}}
		nameAll(in)
		if strings.EqualFold(in[0].Name, in[1].Name) {
			t.Errorf("%q and %q both go to %q", a, b, in[0].Name)
		}
		for _, i := range in {
			if n := i.Name; n == "" || n != filepath.Base(n) || strings.HasPrefix(n, ".") || len(n) > 120 || kept(n) {
				t.Errorf("%q goes to %q", i.Rel, n)
			}
		}
	})
}
