package choose

import (
	"cmp"
	"slices"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// byRule sorts inks as the trade prints them: opaque and dark ones first,
// lighter and more transparent ones on top, so that they are not covered
// [common practice for transparent layering].
func byRule(shelf *ink.Shelf, inks []*ink.Ink) error {
	key := make(map[*ink.Ink]float64, len(inks))
	for _, i := range inks {
		f, err := shelf.Film(i)
		if err != nil {
			return err
		}
		key[i] = 100*f.Opacity + 100 - i.Color.Lab()[0]
	}
	slices.SortStableFunc(inks, func(a, b *ink.Ink) int { return cmp.Compare(key[b], key[a]) })
	return nil
}

// permutations returns all orders of 0 … k−1, the rising one first.
func permutations(k int) [][]int {
	if k == 0 {
		return [][]int{{}}
	}
	var out [][]int
	for _, rest := range permutations(k - 1) {
		// Put k−1 at each place, last place first.
		for at := k - 1; at >= 0; at-- {
			out = append(out, slices.Insert(slices.Clone(rest), at, k-1))
		}
	}
	return out
}

// orderSeen is the CIEDE2000 between the two orders of a pair of solids up to
// which their order does not matter: hand pulls vary by more.
const orderSeen = 0.5

// orderMatters returns, for each pair of inks, whether the order of the two
// shows in print.
func orderMatters(shelf *ink.Shelf, paper *ink.Paper, inks []*ink.Ink, base map[*ink.Ink]float64) ([][]bool, error) {
	n := len(inks)
	m := make([][]bool, n)
	for i := range m {
		m[i] = make([]bool, n)
	}
	err := parallel(n, func() func(int) error {
		return func(i int) error {
			for j := range i {
				ij, err := composite.New(shelf, paper, uses(base, inks[i], inks[j]))
				if err != nil {
					return err
				}
				ji, err := composite.New(shelf, paper, uses(base, inks[j], inks[i]))
				if err != nil {
					return err
				}
				m[i][j] = spectrum.DeltaE(ij.Overprint(3).Lab(), ji.Overprint(3).Lab()) > orderSeen
			}
			return nil
		}
	})
	for i := range m {
		for j := range i {
			m[j][i] = m[i][j]
		}
	}
	return m, err
}

// distinctOrders returns, of the given orders of set (indices into matters),
// the first of each class that prints alike: whose pairs that matter are in
// the same order.
func distinctOrders(orders [][]int, set []int, matters [][]bool) [][]int {
	seen := map[uint64]bool{}
	var out [][]int
	for _, o := range orders {
		key := uint64(0)
		for a := range o {
			for b := a + 1; b < len(o); b++ {
				if o[a] > o[b] && matters[set[o[a]]][set[o[b]]] {
					key |= 1 << (o[a]*8 + o[b])
				}
			}
		}
		if !seen[key] {
			seen[key] = true
			out = append(out, o)
		}
	}
	return out
}
