package separate

// Flat says how far a picture is flat artwork: areas of a few uniform colors
// with hard or antialiased edges, against gradients, photographs and dither.
type Flat struct {
	Flat   bool       // taken for flat artwork
	Share  float64    // share of the picture that behaves as flat artwork does, 0 … 1
	Colors int        // number of uniform colors
	Main   [][3]uint8 // the uniform colors, encoded RGB, largest area first
}

// Flatness judges a picture of w × h pixels of encoded RGB, 3 bytes a pixel.
func Flatness(pix []uint8, w, h int) Flat {
	return Flat{}
}
