package artwork

import (
	"bytes"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"
)

// TestMeasure wants of a header what reading the picture gives.
func TestMeasure(t *testing.T) {
	var file bytes.Buffer
	if err := png.Encode(&file, image.NewGray(image.Rect(0, 0, 31, 17))); err != nil {
		t.Fatal(err)
	}
	data := file.Bytes()
	p, err := Read(bytes.NewReader(data), "a.png", Limits{})
	if err != nil {
		t.Fatal(err)
	}
	s, err := Measure(bytes.NewReader(data), "a.png", int64(len(data)), Limits{})
	if err != nil || s.Width != p.Width || s.Height != p.Height || s.SHA256 != p.SHA256 || s.Format != p.Format || s.Bytes < 3*31*17 {
		t.Errorf("%+v %v, want %d × %d, %s", s, err, p.Width, p.Height, p.SHA256)
	}
	if _, err := Measure(bytes.NewReader(data), "a.png", 0, Limits{MaxPixels: 31 * 16}); err == nil {
		t.Error("a picture beyond the limit was taken")
	}
	if s, err := Measure(bytes.NewReader(data[:40]), "a.png", 0, Limits{}); err == nil || s.SHA256 == "" {
		t.Errorf("a cut file: %+v %v, want an error and the checksum", s, err)
	}
	if _, err := Measure(bytes.NewReader([]byte("words\n")), "a.png", 0, Limits{}); err == nil {
		t.Error("a text was taken")
	}
	for name, want := range map[string]bool{"a.PNG": true, "b.jpeg": true, "c.psd": false, "png": false, "d.tif": true} {
		if IsPictureName(name) != want {
			t.Errorf("IsPictureName(%q) = %v", name, !want)
		}
	}
}

// TestMeasureHeld compares the memory that headers promise with what pictures
// take: at most a third more, for transparency that none of the pixels has.
func TestMeasureHeld(t *testing.T) {
	names, _ := filepath.Glob("testdata/*/*.*")
	formats := make(map[string]bool)
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		p, err := Read(bytes.NewReader(data), name, Limits{})
		if err != nil {
			continue
		}
		s, err := Measure(bytes.NewReader(data), name, int64(len(data)), Limits{})
		if err != nil {
			t.Fatal(err)
		}
		got := int64(len(p.Pix) + 2*len(p.Pix16) + len(p.Alpha) + 2*len(p.Alpha16))
		if got > s.Held || 3*s.Held > 4*got || s.Held > s.Bytes {
			t.Errorf("%s: %d bytes are held, %d promised, %d while reading", name, got, s.Held, s.Bytes)
		}
		formats[p.Format] = true
	}
	if len(formats) < 5 {
		t.Errorf("only %v were compared", formats)
	}
}
