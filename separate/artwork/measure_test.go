package artwork

import (
	"bytes"
	"image"
	"image/png"
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
