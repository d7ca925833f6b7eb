package film

import (
	"bytes"
	"fmt"
	"image"
	imagedraw "image/draw"
	_ "image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
)

// valid holds a PDF against an independent reader and, where installed, qpdf. It
// returns the file's name.
func valid(t *testing.T, file []byte) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "film.pdf")
	if err := os.WriteFile(name, file, 0o600); err != nil {
		t.Fatal(err)
	}
	api.DisableConfigDir()
	conf := model.NewDefaultConfiguration()
	conf.ValidationMode = model.ValidationStrict
	if err := api.Validate(bytes.NewReader(file), conf); err != nil {
		t.Fatalf("pdfcpu: %v", err)
	}
	if tool, err := exec.LookPath("qpdf"); err == nil {
		out, err := exec.Command(tool, "--check", name).CombinedOutput()
		if err != nil || strings.Contains(string(out), "WARNING") {
			t.Fatalf("qpdf: %v: %s", err, out)
		}
	}
	return name
}

// rendered draws a page with the given program; nil where it is not installed.
func rendered(t *testing.T, tool, name string, page int, dpi float64) image.Image {
	t.Helper()
	path, err := exec.LookPath(tool)
	if err != nil {
		return nil
	}
	to, res := filepath.Join(t.TempDir(), "page"), decimal(dpi, 3)
	args := []string{"-r", res, "-png", "-singlefile", "-f", fmt.Sprint(page), "-l", fmt.Sprint(page), name, to}
	if tool == "mutool" { // -O 0: no simulation of overprint from single inks
		args = []string{"draw", "-q", "-O", "0", "-r", res, "-o", to + ".png", name, fmt.Sprint(page)}
	}
	if tool == "gs" {
		args = []string{"-q", "-dSAFER", "-dNOPAUSE", "-dBATCH", "-sDEVICE=png16m", "-r" + res, fmt.Sprintf("-dFirstPage=%d", page), fmt.Sprintf("-dLastPage=%d", page), "-o", to + ".png", name}
	}
	if out, err := exec.Command(path, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s: %v: %s", tool, err, out)
	}
	f, err := os.Open(to + ".png")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	im, _, err := image.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	return im
}

// looksLike holds a rendering against the bitmap: equal in size and, in the plate's
// area, in every pixel; elsewhere edges of marks may fall on either side. wide is for
// fillers that take every pixel an outline touches (ISO 32000-1, 10.6.5): marks may
// be a pixel larger.
func looksLike(t *testing.T, im image.Image, page *Page, wide bool) {
	t.Helper()
	m, l := all(page), page.layout
	if s := im.Bounds().Size(); s.X != m.w || s.Y != m.h {
		t.Fatalf("drawn as %v pixels, want %d x %d", s, m.w, m.h)
	}
	x0, y0 := l.Origin()
	area := image.Rect(x0, y0, x0+l.aw, y0+l.ah)
	gray, ok := im.(*image.Gray)
	if !ok {
		gray = image.NewGray(im.Bounds())
		imagedraw.Draw(gray, gray.Rect, im, im.Bounds().Min, imagedraw.Src)
	}
	plate, marks, ink := 0, 0, 0
	for y := range m.h {
		for x := range m.w {
			r := gray.Pix[y*gray.Stride+x]
			if m.at(x, y) && !image.Pt(x, y).In(area) {
				ink++
			}
			if (r < 128) == m.at(x, y) || wide && r < 128 && besideInk(m, x, y) {
				continue
			}
			if image.Pt(x, y).In(area) {
				plate++
			} else {
				marks++
			}
		}
	}
	// Two fillers see pixels on an edge differently: 0.4 % of the marks' ink at 300
	// dpi, 2.7 % at 120 (measured).
	if plate > 0 || marks*30 > ink {
		t.Errorf("%+v: %d pixels of the plate and %d of the marks' %d are drawn differently", l.sheet, plate, marks, ink)
	}
}

// besideInk reports whether one of nine pixels has ink.
func besideInk(m *bitmap, x, y int) bool {
	for j := max(y-1, 0); j <= min(y+1, m.h-1); j++ {
		for i := max(x-1, 0); i <= min(x+1, m.w-1); i++ {
			if m.at(i, j) {
				return true
			}
		}
	}
	return false
}

func TestPDFLooksLikeTheBitmap(t *testing.T) {
	for i, s := range sheets {
		for _, pack := range []Compression{Deflate, Group4} {
			page := mustPage(t, mustLayout(t, s), kelp, 0)
			var b bytes.Buffer
			if err := WritePDF(&b, []*Page{page}, Info{Compression: pack}); err != nil {
				t.Fatal(err)
			}
			name := valid(t, b.Bytes())
			// Each reader sees each way of packing, in turn.
			tool := []string{"pdftoppm", "mutool", "gs"}[(i+int(pack))%3]
			if im := rendered(t, tool, name, 1, s.DPI); im != nil {
				t.Run(fmt.Sprintf("%s %d %d", tool, i, pack), func(t *testing.T) { looksLike(t, im, page, tool == "gs") })
			}
		}
	}
}

// TestPDFOfAJob writes several plates on one layout and holds boxes and texts.
func TestPDFOfAJob(t *testing.T) {
	l := mustLayout(t, Sheet{WidthMM: 200, HeightMM: 260, DPI: 200, BleedMM: 3})
	var pages []*Page
	for i := range 3 {
		label := kelp
		label.Pull = i + 1
		pages = append(pages, mustPage(t, l, label, i))
	}
	info := filed
	info.Title = `harbor (pier 2) \ Hafen – größer`
	file := onCores(t, func() []byte {
		var b bytes.Buffer
		if err := WritePDF(&b, pages, info); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	})
	name := valid(t, file)
	conf := model.NewDefaultConfiguration()
	boxes, err := api.Boxes(bytes.NewReader(file), nil, conf)
	if err != nil {
		t.Fatal(err)
	}
	if len(boxes) != 3 {
		t.Fatalf("%d pages", len(boxes))
	}
	wMM, hMM := l.SizeMM()
	pt := func(mm float64) float64 { return mm * 72 / 25.4 }
	half := 36 / l.sheet.DPI // half a pixel in points
	for _, b := range boxes {
		media, trim, bleed := b.MediaBox(), b.TrimBox(), b.BleedBox()
		for what, v := range map[string][2]float64{
			"media width": {media.Width(), pt(wMM)}, "media height": {media.Height(), pt(hMM)},
			"bleed width": {bleed.Width(), pt(200)}, "bleed height": {bleed.Height(), pt(260)},
			"trim width": {trim.Width(), pt(194)}, "trim height": {trim.Height(), pt(254)},
			"left": {bleed.LL.X, pt(19)}, "trim inside": {trim.LL.X - bleed.LL.X, pt(3)}, "top": {media.UR.Y - bleed.UR.Y, pt(19)},
		} {
			if math.Abs(v[0]-v[1]) > half*1.05 {
				t.Errorf("%s %.3f pt, want %.3f", what, v[0], v[1])
			}
		}
	}
	if im := rendered(t, "pdftoppm", name, 3, 200); im != nil {
		looksLike(t, im, pages[2], false)
	}
	if tool, err := exec.LookPath("pdfinfo"); err == nil {
		out, err := exec.Command(tool, name).Output()
		for _, want := range []string{info.Title, info.Description, "Mar  9"} {
			if err != nil || !strings.Contains(string(out), want) {
				t.Errorf("no %q: %v, %s", want, err, out)
			}
		}
	}
}

func TestPDFRefuses(t *testing.T) {
	if err := WritePDF(&bytes.Buffer{}, nil, Info{}); err == nil {
		t.Error("a PDF without pages was written")
	}
	page := mustPage(t, mustLayout(t, sheets[0]), kelp, 0)
	if err := WritePDF(&bytes.Buffer{}, []*Page{page}, Info{DPI: 600}); err == nil {
		t.Error("a page of 300 dpi was written as 600")
	}
}
