package halftone

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Mesh is a mesh count in threads per inch.
type Mesh float64

// ParseMesh reads a mesh count, which must have its unit: "77/cm" or "196/in".
func ParseMesh(s string) (Mesh, error) {
	t := strings.ToLower(strings.TrimSpace(s))
	for _, u := range []struct {
		suffix string
		scale  float64
	}{{"/cm", 2.54}, {"/inch", 1}, {"/in", 1}} {
		if rest, ok := strings.CutSuffix(t, u.suffix); ok {
			v, err := strconv.ParseFloat(strings.TrimSpace(rest), 64)
			if err != nil || !(v > 0) || math.IsInf(v, 0) {
				break
			}
			return Mesh(v * u.scale), nil
		}
	}
	return 0, fmt.Errorf("halftone: mesh %q is not a count of threads with its unit: write 77/cm or 196/in", s)
}

// String gives the count in both units.
func (m Mesh) String() string { return fmt.Sprintf("%.0f/cm (%.0f/in)", float64(m)/2.54, float64(m)) }

// threadShare is the thread's part of the pitch in meshes that hold tints: 48
// of 130 µm at 77/cm, 40 of 111 µm at 90/cm.
const threadShare = 0.37

// SmallestDot returns the diameter in millimetres of the smallest dot that
// finds hold on the mesh whatever its place: two threads and an opening
// (common practice), about 0.18 mm on 77/cm.
func (m Mesh) SmallestDot() float64 { return (1 + threadShare) * mmPerInch / float64(m) }

// Beat is the pattern of two grids over one another: the period in
// millimetres of the slowest wave, +Inf where the two lock.
//
// Waves of a grid of ruling f at angle θ are f·R(θ)·(p, q) for whole p, q; a
// beat is the difference of one wave of each grid. For equal rulings and the
// first waves alone it is the textbook's
// T₁T₂ / √(T₁² + T₂² − 2T₁T₂cos α).
type Beat struct {
	Period float64
	A, B   [2]int // the two waves
}

// Slowest returns the slowest beat of two grids, of rulings per inch a and b
// and angles in degrees, over waves whose p and q lie within ±harmonics.
func Slowest(a, angleA, b, angleB float64, harmonics int) Beat {
	sin, cos := math.Sincos((angleA - angleB) * math.Pi / 180)
	slowest, best := math.Inf(1), Beat{}
	limit := float64(harmonics)
	for p := 0; p <= harmonics; p++ { // the other half plane mirrors this one
		for q := -harmonics; q <= harmonics; q++ {
			x, y := a*(float64(p)*cos-float64(q)*sin), a*(float64(p)*sin+float64(q)*cos)
			r := min(max(math.Round(x/b), -limit), limit)
			s := min(max(math.Round(y/b), -limit), limit)
			if p == 0 && q == 0 || r == 0 && s == 0 {
				continue
			}
			if d := math.Hypot(x-r*b, y-s*b); d < slowest-1e-9 {
				slowest, best = d, Beat{mmPerInch / d, [2]int{p, q}, [2]int{int(r), int(s)}}
			}
		}
	}
	if slowest < lockedBelow {
		best.Period = math.Inf(1)
	}
	return best
}

const (
	// meshHarmonics is how far waves of mesh and screen matter.
	meshHarmonics = 6

	// lockedBelow is the beat in cycles per inch, one in 25 m, that is none on
	// any print.
	lockedBelow = 0.001

	// visibleCells is the beat in cells of the screen above which it shows as
	// a pattern of its own rather than as the texture of the screen.
	visibleCells = 4

	// A mesh of 5 threads to a line is the best of the usual 2.5, 3.75 and 5
	// (Sefar handbook, article 6566569); below 3.5 it is coarse (common
	// practice).
	coarseRatio = 3.5
	goodRatio   = 5
)

// Advice is what a mesh does to screens of one ruling.
type Advice struct {
	Levels      float64 // gray levels of a cell on the film
	Ratio       float64 // mesh ÷ ruling
	SmallestDot float64 // millimetres; see Mesh.SmallestDot
	LowTone     float64 // coverage, 0 … 1, of a screen of smallest dots
	MeshBeats   []Beat  // for each angle, with the mesh
	PairBeats   []Beat  // of the first waves of screens 0–1, 0–2, 1–2, 0–3 …
	Better      *Better // nil when there is none
	Findings    []Finding
}

// Better is a ruling and a turn of all screens whose slowest beat with the
// mesh is shorter.
type Better struct {
	Ruling float64 // lines per inch
	Turn   float64 // degrees to add to every angle
	Beat   float64 // millimetres
}

// Advise says how screens of one ruling (lines per inch) at the given angles
// (degrees to the threads), on a film of dpi, go with the mesh.
func (m Mesh) Advise(ruling, dpi float64, angles []float64) Advice {
	cell := mmPerInch / ruling
	a := Advice{
		Levels:      dpi/ruling*dpi/ruling + 1,
		Ratio:       float64(m) / ruling,
		SmallestDot: m.SmallestDot(),
	}
	a.LowTone = min(math.Pi/4*a.SmallestDot*a.SmallestDot/(cell*cell), 1)
	for i, angle := range angles {
		a.MeshBeats = append(a.MeshBeats, Slowest(ruling, angle, float64(m), 0, meshHarmonics))
		for _, other := range angles[:i] {
			a.PairBeats = append(a.PairBeats, Slowest(ruling, angle, ruling, other, 1))
		}
	}
	if a.Ratio < coarseRatio {
		a.Findings = append(a.Findings, Finding{
			Code:    "coarse-mesh",
			Message: fmt.Sprintf("mesh %v has only %.2g threads to a line of %.4g lpi: dots fall between threads", m, a.Ratio, ruling),
			Mend:    fmt.Sprintf("use a ruling of %.0f lpi, or a mesh of %v", math.Floor(float64(m)/goodRatio), Mesh(math.Ceil(ruling*goodRatio))),
		})
	}
	worst := slowestOf(m, ruling, 0, angles)
	if b := m.better(ruling, angles); b.Beat*1.25 < worst {
		a.Better = &b
	}
	if worst > visibleCells*cell {
		f := Finding{
			Code:    "mesh-moire",
			Message: fmt.Sprintf("%.4g lpi on mesh %v can show a pattern of %.3g mm", ruling, m, worst),
			Mend:    "use a finer mesh, or print a test strip of the screen on this mesh first",
		}
		if math.IsInf(worst, 1) {
			f.Message = fmt.Sprintf("%.4g lpi locks to mesh %v: its tone drifts over the sheet", ruling, m)
		}
		if a.Better != nil {
			f.Mend = fmt.Sprintf("use %.4g lpi, all angles turned by %g°: at most %.2g mm", a.Better.Ruling, a.Better.Turn, a.Better.Beat)
		}
		a.Findings = append(a.Findings, f)
	}
	return a
}

// slowestOf returns the longest of the beats with the mesh, in millimetres.
func slowestOf(m Mesh, ruling, turn float64, angles []float64) (worst float64) {
	for _, angle := range angles {
		worst = max(worst, Slowest(ruling, angle+turn, float64(m), 0, meshHarmonics).Period)
	}
	return worst
}

// better searches rulings within a tenth and turns within 15°, in steps that
// can be typed: the smallest change whose beats are well below what shows; if
// there is none, the shortest beats.
func (m Mesh) better(ruling float64, angles []float64) Better {
	best, bestCost := Better{}, math.Inf(1)
	for step := -10; step <= 10; step++ {
		r := math.Round(2*ruling*(1+float64(step)/100)) / 2
		for turn := 15.0; turn >= -15; turn -= 2.5 {
			worst := slowestOf(m, r, turn, angles)
			cost := math.Abs(float64(step)) + math.Abs(turn)/2.5
			if cells := worst * r / mmPerInch; cells > 0.75*visibleCells {
				cost = 100 * cells
			}
			if cost < bestCost {
				best, bestCost = Better{r, turn, worst}, cost
			}
		}
	}
	return best
}
