package film

import (
	"archive/zip"
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"encoding/xml"
	"image"
	"image/color"
	imgdraw "image/draw"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/anthonynsimon/bild/blend"
	"github.com/lucasb-eyer/go-colorful"

	"platewright/halftone"
)

// harbor is a set of k inks that print a known, simple color: each takes lightness
// away in proportion, the first turns a, the second b.
func harbor(k, w, h int) Set {
	s := Set{PaperLab: [3]float64{95, 0, 3}, PaperRGB: [3]uint8{244, 240, 232}}
	names := []string{"deep kelp", "brick rust", "salt (fog) #2", "größer Hafen", "e", "f", "g", "h"}
	for i := range k {
		p := ramp(w, h)
		for j := range p.Cov {
			p.Cov[j] = p.Cov[(j*(i+3)+i*977)%len(p.Cov)]
		}
		s.Plates = append(s.Plates, p)
		rgb := [3]uint8{uint8(30 + 20*i), uint8(120 - 9*i), uint8(80 + 15*i)}
		s.Inks = append(s.Inks, Ink{Name: names[i], Lab: [3]float64{50, float64(20*i - 30), 10}, RGB: rgb, Solidity: float64(i) / 8})
	}
	s.Color = func(c []float64) [3]float64 {
		lab := s.PaperLab
		for i, v := range c {
			lab[0] *= 1 - .4*v
			lab[1+i%2] += 25 * v * float64(1-i%4)
		}
		return lab
	}
	s.Shown = func(c []float64) [3]float64 {
		rgb := labToSRGB(s.Color(c))
		return [3]float64{rgb[0] / 255, rgb[1] / 255, rgb[2] / 255}
	}
	return s
}

// flats is a set whose plates are tiles of whole tints.
func flats(s Set, w, h int, tints ...float64) Set {
	for i := range s.Plates {
		p := &halftone.Plate{Width: w, Height: h, Cov: make([]uint16, w*h)}
		for j := range p.Cov {
			tile := j % w * len(tints) / w
			if i%2 == 1 {
				tile = j / w * len(tints) / h
			}
			p.Cov[j] = uint16(math.Round(tints[tile] * 65535))
		}
		s.Plates[i] = p
	}
	return s
}

// TestSetTIFFReadsBack reads strips, predictor and tags by itself.
func TestSetTIFFReadsBack(t *testing.T) {
	le := binary.LittleEndian
	for _, k := range []int{1, 2, 5, 8} {
		s := harbor(k, 300, 400)
		file := onCores(t, func() []byte {
			var b seekBuffer
			if err := WriteSetTIFF(&b, s, Info{DPI: 300, Title: "harbor"}); err != nil {
				t.Fatal(err)
			}
			return b.b
		})
		tags := directory(t, file)
		for tag, want := range map[uint16]uint16{259: 8, 262: 5, 277: uint16(k), 284: 1, 317: 2, 332: 2, 334: uint16(k)} {
			if le.Uint16(tags[tag]) != want {
				t.Errorf("%d inks: tag %d is % x, want %d", k, tag, tags[tag], want)
			}
		}
		if len(tags[258]) != 2*k || len(tags[336]) != 4 || le.Uint16(tags[336]) != 0 || le.Uint16(tags[336][2:]) != 255 {
			t.Errorf("bits % x, dot range % x", tags[258], tags[336])
		}
		names := strings.Split(strings.TrimSuffix(string(tags[333]), "\x00"), "\x00")
		if len(names) != k || names[0] != "deep kelp" || names[k-1] != s.Inks[k-1].Name {
			t.Errorf("ink names %q", names)
		}
		rows := int(le.Uint32(tags[278]))
		for i := range len(tags[273]) / 4 {
			at, n := le.Uint32(tags[273][4*i:]), le.Uint32(tags[279][4*i:])
			z, err := zlib.NewReader(bytes.NewReader(file[at : at+n]))
			if err != nil {
				t.Fatal(err)
			}
			raw, err := io.ReadAll(z)
			if err != nil {
				t.Fatal(err)
			}
			for r := range len(raw) / (300 * k) {
				y := i*rows + r
				for x := range 300 {
					for c := range k {
						at := (r*300+x)*k + c
						if x > 0 {
							raw[at] += raw[at-k]
						}
						if want := uint8(float64(s.Plates[c].(*halftone.Plate).Cov[y*300+x])/257 + .5); raw[at] != want {
							t.Fatalf("%d inks: pixel %d, %d of ink %d is %d, want %d", k, x, y, c, raw[at], want)
						}
					}
				}
			}
		}
		if tool, err := exec.LookPath("tiffinfo"); err == nil {
			name := filepath.Join(t.TempDir(), "set.tif")
			if err := os.WriteFile(name, file, 0o600); err != nil {
				t.Fatal(err)
			}
			out, err := exec.Command(tool, "-D", name).CombinedOutput()
			for _, want := range []string{"separated", "Ink Names: deep kelp", "InkSet: 2", "Resolution: 300, 300 pixels/inch"} {
				if err != nil || !strings.Contains(string(out), want) {
					t.Errorf("no %q: %v: %s", want, err, out)
				}
			}
			// Beyond four inks libtiff takes the rest for extra samples and warns, though
			// section 16 counts all N as inks.
			if strings.Contains(string(out), "rror") || k <= 4 && strings.Contains(string(out), "arning") {
				t.Errorf("it complains: %s", out)
			}
		}
	}
}

// TestSetPDFShowsThePrint holds the page's colors in readers that have no such inks
// against what the set says it prints.
func TestSetPDFShowsThePrint(t *testing.T) {
	for _, k := range []int{1, 2, 3, 8} {
		s := flats(harbor(k, 80, 60), 80, 60, 0, .25, .5, 1)
		s.BleedMM = 1
		file := onCores(t, func() []byte {
			var b bytes.Buffer
			if err := WriteSetPDF(&b, s, Info{DPI: 150, Title: "harbor"}); err != nil {
				t.Fatal(err)
			}
			return b.Bytes()
		})
		name := valid(t, file)
		for _, want := range []string{"/NChannel", "/Colorants", "/Solidities", "/PrintingOrder [/deep#20kelp", "/DeviceN [/deep#20kelp"} {
			if !bytes.Contains(file, []byte(want)) {
				t.Errorf("no %s", want)
			}
		}
		limit := 1.0
		if k == 8 { // four samples along each ink
			limit = 3
		}
		for _, tool := range []string{"pdftoppm", "gs", "mutool"} {
			im := rendered(t, tool, name, 1, 150)
			if im == nil {
				continue
			}
			if b := im.Bounds().Size(); b.X != 80 || b.Y != 60 {
				t.Errorf("%s draws %v pixels", tool, b)
			}
			worst := 0.0
			for i := range 16 {
				x, y := i%4*20+10, i/4*15+7
				c := make([]float64, k)
				for n := range c {
					c[n] = float64(s.Plates[n].(*halftone.Plate).Cov[y*80+x]) / 65535
				}
				want := labToSRGB(s.Color(c))
				got, _ := colorful.MakeColor(im.At(x, y))
				de := 100 * got.DistanceCIEDE2000(colorful.Color{R: want[0] / 255, G: want[1] / 255, B: want[2] / 255})
				worst = max(worst, de)
				if de > limit {
					t.Errorf("%d inks, %s: coverage %.2f shows %s, ΔE00 %.2f from %.0f", k, tool, c, got.Hex(), de, want)
					break
				}
			}
			t.Logf("%d inks, %s: ΔE00 up to %.2f", k, tool, worst)
		}
	}
}

// labToSRGB goes from CIELAB under D50 to sRGB codes 0 … 255, cut to their range
// (CIE 15; Bradford D50 to D65 and matrix of IEC 61966-2-1 in one [calc]).
func labToSRGB(lab [3]float64) (rgb [3]float64) {
	f := func(t float64) float64 {
		if t > 6.0/29 {
			return t * t * t
		}
		return 3 * 36.0 / 841 * (t - 4.0/29)
	}
	fy := (lab[0] + 16) / 116
	x, y, z := .9642*f(fy+lab[1]/500), f(fy), .8249*f(fy-lab[2]/200)
	for i, row := range [3][3]float64{{3.1341, -1.6174, -.4907}, {-.9788, 1.9161, .0335}, {.0719, -.2290, 1.4053}} {
		v := math.Max(0, math.Min(1, row[0]*x+row[1]*y+row[2]*z))
		if v <= .0031308 {
			v *= 12.92
		} else {
			v = 1.055*math.Pow(v, 1/2.4) - .055
		}
		rgb[i] = 255 * v
	}
	return rgb
}

// TestOpenRaster holds the file against the layout and stack of the OpenRaster
// specification, item by item [memory].
func TestOpenRaster(t *testing.T) {
	s := flats(harbor(3, 700, 500), 700, 500, 0, .5, 1)
	s.Inks[1].Name = `rust "<&>`
	file := onCores(t, func() []byte {
		var b bytes.Buffer
		if err := WriteOpenRaster(&b, s, Info{DPI: 300}); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	})
	// The type is found at fixed places, without unpacking: the first entry, stored,
	// its size before it, no extra field.
	if string(file[30:38]) != "mimetype" || string(file[38:54]) != "image/openraster" || !bytes.Equal(file[6:10], make([]byte, 4)) ||
		binary.LittleEndian.Uint32(file[18:]) != 16 || binary.LittleEndian.Uint32(file[22:]) != 16 || !bytes.Equal(file[28:30], make([]byte, 2)) {
		t.Errorf("file begins %q", file[:60])
	}
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range z.File {
		// Stored or deflated; a reader of a stream cannot tell where a stored entry ends
		// that has its size behind it. Pictures: 8 bits a channel, not interlaced
		// (W3C PNG, 11.2.2).
		if f.Method != zip.Deflate && (f.Method != zip.Store || f.Flags&8 != 0) || f.Flags&1 != 0 || (f.Name == "mimetype") != (i == 0) {
			t.Errorf("entry %d, %s: method %d, flags %x", i, f.Name, f.Method, f.Flags)
		}
		if strings.HasSuffix(f.Name, ".png") {
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			var head [29]byte
			if _, err := io.ReadFull(r, head[:]); err != nil {
				t.Fatal(err)
			}
			if head[24] != 8 || head[25] != 2 && head[25] != 6 || head[28] != 0 {
				t.Errorf("%s has depth %d, color type %d, interlace %d", f.Name, head[24], head[25], head[28])
			}
		}
	}
	open := func(name string) []byte {
		f, err := z.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(f)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	var doc struct {
		XMLName xml.Name
		W       int    `xml:"w,attr"`
		H       int    `xml:"h,attr"`
		XRes    int    `xml:"xres,attr"`
		YRes    int    `xml:"yres,attr"`
		Version string `xml:"version,attr"`
		Layers  []struct {
			Name       string  `xml:"name,attr"`
			Src        string  `xml:"src,attr"`
			X          int     `xml:"x,attr"`
			Y          int     `xml:"y,attr"`
			Opacity    float64 `xml:"opacity,attr"`
			Visibility string  `xml:"visibility,attr"`
			Op         string  `xml:"composite-op,attr"`
		} `xml:"stack>layer"`
	}
	if err := xml.Unmarshal(open("stack.xml"), &doc); err != nil {
		t.Fatal(err)
	}
	if doc.XMLName.Local != "image" || doc.W != 700 || doc.H != 500 || doc.XRes != 300 || doc.YRes != 300 || doc.Version == "" || len(doc.Layers) != 4 {
		t.Fatalf("stack.xml says %+v", doc)
	}
	for i, want := range []string{"salt (fog) #2", `rust "<&>`, "deep kelp", "paper"} {
		l := doc.Layers[i]
		op := "svg:multiply"
		if want == "paper" {
			op = "svg:src-over"
		}
		if l.Name != want || l.Op != op || l.X != 0 || l.Y != 0 || l.Opacity != 1 || l.Visibility != "visible" {
			t.Errorf("layer %d from the top: %+v", i, l)
		}
		im, err := png.Decode(bytes.NewReader(open(l.Src)))
		if err != nil || im.Bounds().Dx() != 700 || im.Bounds().Dy() != 500 {
			t.Errorf("layer %s: %v", l.Name, err)
		}
	}
	merged, err := png.Decode(bytes.NewReader(open("mergedimage.png")))
	if err != nil || merged.Bounds() != image.Rect(0, 0, 700, 500) {
		t.Fatalf("merged picture: %v", err)
	}
	// Bare paper, the first ink's solid alone and the second's show as they are.
	for _, c := range []struct {
		x, y int
		want [3]uint8
	}{{50, 50, s.PaperRGB}} {
		if got := merged.At(c.x, c.y).(color.RGBA); got != (color.RGBA{c.want[0], c.want[1], c.want[2], 255}) {
			t.Errorf("merged at %d, %d is %v, want %v", c.x, c.y, got, c.want)
		}
	}
	if got, want := merged.At(50, 450).(color.RGBA), s.Inks[1].RGB; math.Abs(float64(got.R)-float64(want[0])) > 1 || math.Abs(float64(got.G)-float64(want[1])) > 1 {
		t.Errorf("the second ink's solid alone is %v, want %v", got, want)
	}
	// Composed from the layers by a general library's multiply.
	paper := image.NewRGBA(merged.Bounds())
	imgdraw.Draw(paper, paper.Rect, image.NewUniform(color.RGBA{s.PaperRGB[0], s.PaperRGB[1], s.PaperRGB[2], 255}), image.Point{}, imgdraw.Src)
	var composed image.Image = paper
	for i := range s.Plates {
		layer, err := png.Decode(bytes.NewReader(open(layerName(i))))
		if err != nil {
			t.Fatal(err)
		}
		onWhite := image.NewRGBA(layer.Bounds())
		imgdraw.Draw(onWhite, onWhite.Rect, image.White, image.Point{}, imgdraw.Src)
		imgdraw.Draw(onWhite, onWhite.Rect, layer, image.Point{}, imgdraw.Over)
		composed = blend.Multiply(composed, onWhite)
	}
	for y := 20; y < 500; y += 97 {
		for x := 20; x < 700; x += 119 {
			got, want := merged.At(x, y).(color.RGBA), color.RGBAModel.Convert(composed.At(x, y)).(color.RGBA)
			for _, d := range []int{int(got.R) - int(want.R), int(got.G) - int(want.G), int(got.B) - int(want.B)} {
				if d > 3 || d < -3 { // a rounding in each of the layers
					t.Fatalf("merged at %d, %d is %v, the layers make %v", x, y, got, want)
				}
			}
		}
	}
	small, err := png.Decode(bytes.NewReader(open("Thumbnails/thumbnail.png")))
	if err != nil || small.Bounds().Dx() != 256 || small.Bounds().Dy() != 182 {
		t.Errorf("thumbnail %v, %v", small.Bounds(), err)
	}
	a, b := small.At(20, 20).(color.RGBA), merged.At(54, 54).(color.RGBA)
	if a != b {
		t.Errorf("thumbnail shows %v where the picture has %v", a, b)
	}
}

// TestColorFilms holds the color pages: valid, their marks in /All, the plate in its
// ink's color.
func TestColorFilms(t *testing.T) {
	l := mustLayout(t, sheets[0])
	s := harbor(2, 8, 8)
	pages := []*Page{mustPage(t, l, kelp, 0), mustPage(t, l, kelp, 5)}
	for _, negative := range []bool{false, true} {
		if negative {
			n := sheets[0]
			n.Negative, n.Mirror = true, true
			pages[0] = mustPage(t, mustLayout(t, n), kelp, 0)
		}
		var b bytes.Buffer
		if err := WriteColorPDF(&b, pages, s.Inks, Info{}); err != nil {
			t.Fatal(err)
		}
		name := valid(t, b.Bytes())
		for _, want := range []string{"[/Separation /deep#20kelp ", "[/Separation /brick#20rust ", "[/Separation /All "} {
			if !bytes.Contains(b.Bytes(), []byte(want)) {
				t.Errorf("no %s", want)
			}
		}
		im := rendered(t, "pdftoppm", name, 1, 300)
		if im == nil {
			continue
		}
		m, want := all(pages[0]), labToSRGB(s.Inks[0].Lab)
		x0, y0 := pages[0].layout.Origin()
		for y := y0; y < y0+100; y++ {
			for x := x0; x < x0+100; x++ {
				r, g, _, _ := im.At(x, y).RGBA()
				if m.at(x, y) && (math.Abs(float64(r>>8)-want[0]) > 14 || math.Abs(float64(g>>8)-want[1]) > 14) || !m.at(x, y) && r < 0xf000 {
					t.Fatalf("negative %v: pixel %d, %d shows %d, %d; ink %v of %.0f", negative, x, y, r>>8, g>>8, m.at(x, y), want)
				}
			}
		}
	}
}

func TestSetRefuses(t *testing.T) {
	good := func() Set { return harbor(3, 20, 10) }
	cases := map[string]struct {
		change func(s *Set)
		word   string
	}{
		"no plates":       {func(s *Set) { s.Plates, s.Inks = nil, nil }, "0 plates"},
		"an ink too few":  {func(s *Set) { s.Inks = s.Inks[:2] }, "3 plates and 2 inks"},
		"another size":    {func(s *Set) { s.Plates[1] = ramp(21, 10) }, "one size"},
		"equal names":     {func(s *Set) { s.Inks[1].Name = s.Inks[0].Name }, "name them apart"},
		"a special name":  {func(s *Set) { s.Inks[1].Name = "All" }, "rename"},
		"no name":         {func(s *Set) { s.Inks[2].Name = "" }, "give it a name"},
		"too solid":       {func(s *Set) { s.Inks[0].Solidity = 1.5 }, "solidity"},
		"solidity is NaN": {func(s *Set) { s.Inks[0].Solidity = math.NaN() }, "solidity"},
	}
	info := Info{DPI: 300}
	for name, c := range cases {
		s := good()
		c.change(&s)
		for kind, err := range map[string]error{"tiff": WriteSetTIFF(&seekBuffer{}, s, info), "pdf": WriteSetPDF(io.Discard, s, info), "ora": WriteOpenRaster(io.Discard, s, info)} {
			if err == nil || !strings.Contains(err.Error(), c.word) {
				t.Errorf("%s as %s: %v", name, kind, err)
			}
		}
	}
	s := good()
	for _, without := range []func(){func() { s.Color = nil }, func() { s = good(); s.Shown = nil }} {
		without()
		if err := WriteSetPDF(io.Discard, s, info); err == nil {
			t.Error("a PDF without colors was written")
		}
	}
	s = good()
	s.BleedMM = 5
	if err := WriteSetPDF(io.Discard, s, info); err == nil {
		t.Error("a bleed larger than the plates was taken")
	}
	info.Compression = Group4
	for kind, err := range map[string]error{"tiff": WriteSetTIFF(&seekBuffer{}, good(), info), "pdf": WriteSetPDF(io.Discard, good(), info), "ora": WriteOpenRaster(io.Discard, good(), info)} {
		if err == nil {
			t.Errorf("group 4 as %s was taken", kind)
		}
	}
	if err := WriteColorPDF(io.Discard, nil, good().Inks, Info{}); err == nil {
		t.Error("inks without pages were taken")
	}
}
