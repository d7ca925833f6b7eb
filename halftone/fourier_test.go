package halftone

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

// spectrum returns the power of an n × n picture under a Gaussian window, at
// frequency (u, v) cycles per n pixels in [v·n + u].
func spectrum(pix []uint8, n int) []float64 {
	window := make([]float64, n)
	for i := range window {
		t := (float64(i) - float64(n-1)/2) / (0.16 * float64(n))
		window[i] = math.Exp(-t * t / 2)
	}
	avg := mean(pix)
	fft := fourier.NewCmplxFFT(n)
	data := make([]complex128, n*n)
	for y := range n {
		row := data[y*n : (y+1)*n]
		for x := range row {
			row[x] = complex((float64(pix[y*n+x])-avg)*window[x]*window[y], 0)
		}
		fft.Coefficients(row, row)
	}
	power := make([]float64, n*n)
	column := make([]complex128, n)
	for x := range n {
		for y := range column {
			column[y] = data[y*n+x]
		}
		fft.Coefficients(column, column)
		for y, c := range column {
			power[y*n+x] = real(c * cmplx.Conj(c))
		}
	}
	return power
}

// strongest returns the frequency in cycles per pixel of the strongest wave.
// The window is a Gaussian, so that a parabola through the logarithms of three
// neighbors gives its place between bins exactly.
func strongest(pix []uint8, n int) (fx, fy float64) {
	power := spectrum(pix, n)
	best := 1
	for i := range power[:n*n/2] {
		if i > 0 && power[i] > power[best] {
			best = i
		}
	}
	u, v := best%n, best/n
	at := func(u, v int) float64 { return math.Log(power[(v+n)%n*n+(u+n)%n]) }
	vertex := func(l, c, r float64) float64 { return (l - r) / (2 * (l - 2*c + r)) }
	fx = float64(u) + vertex(at(u-1, v), at(u, v), at(u+1, v))
	fy = float64(v) + vertex(at(u, v-1), at(u, v), at(u, v+1))
	if fx > float64(n)/2 {
		fx -= float64(n)
	}
	return fx / float64(n), fy / float64(n)
}
