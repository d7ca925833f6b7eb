package chart

// middleFilms returns tints of overlaps in the order in which they tell most,
// at most n of them: pairs of tints, a tint with a solid, tints of all, of three,
// and two tints with a solid and one with two.
func middleFilms(inks int, film float64, n int) [][]float64 {
	var out [][]float64
	all := 1
	for range inks {
		all *= 3
	}
	for _, kind := range middleKinds {
		for code := range all {
			f := make([]float64, inks)
			tints, solids := 0, 0
			for i, c := 0, code; i < inks; i, c = i+1, c/3 {
				switch c % 3 {
				case 1:
					f[i] = film
					tints++
				case 2:
					f[i] = 100
					solids++
				}
			}
			if tints == kind[0] && solids == kind[1] && len(out) < n {
				out = append(out, f)
			}
		}
	}
	return out
}

// middleKinds are numbers of tints and of solids in an overlap.
var middleKinds = [...][2]int{{2, 0}, {1, 1}, {4, 0}, {3, 0}, {2, 1}, {1, 2}}
