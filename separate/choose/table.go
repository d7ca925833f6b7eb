package choose

import (
	"context"
	"slices"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"platewright/separate"
)

// partSize is the size of the parts that sets are first judged by. A printed
// color is a point of a space of three dimensions, and a spot of more than
// three inks is never wanted: what k inks print well, three of them print
// nearly as well.
const partSize = 3

// parts holds, for each part of size inks, in each of its orders, how far
// each main color is from what it prints.
type parts struct {
	size   int
	orders [][]int
	ranks  [][]int // binomials: index of a part
	of     []part
}

type part struct {
	class []uint8     // by index of orders: which of de
	de    [][]float32 // CIEDE2000 by color
	least []float32   // the least of all orders
}

// at returns the part of rising indices.
func (t *parts) at(set []int) *part { return &t.of[t.index(set)] }

func (t *parts) index(set []int) int {
	r := 0
	for i, v := range set {
		r += t.ranks[i][v]
	}
	return r
}

// orderIndex returns which of the orders of three the given one is.
func orderIndex(orders [][]int, o []int) int {
	for i, p := range orders {
		if slices.Equal(p, o) {
			return i
		}
	}
	return -1
}

// newParts solves the main colors with all parts of the inks.
func (s *search) newParts(ctx context.Context) (*parts, error) {
	n := len(s.inks)
	t := &parts{size: min(s.count, partSize)}
	t.orders = permutations(t.size)
	for i := range t.size {
		// The number of sets of i+1 below v, which counts in colex order.
		row := make([]int, n+1)
		for v := range row {
			row[v] = binomial(v, i+1)
		}
		t.ranks = append(t.ranks, row)
	}
	sets := make([][]int, binomial(n, t.size))
	combinations(n, t.size, func(set []int) { sets[t.index(set)] = slices.Clone(set) })
	t.of = make([]part, len(sets))
	targets := separate.NewTargets(s.main.want)
	err := parallel(len(sets), func() func(int) error {
		sk := s.sketcher()
		sk.Rough = true
		printed := make([]spectrum.Lab, len(s.main.want))
		return func(i int) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			p := &t.of[i]
			p.class = make([]uint8, len(t.orders))
			for _, o := range distinctOrders(t.orders, sets[i], s.matters) {
				m, err := s.model(sets[i], o)
				if err != nil {
					return err
				}
				sk.Fit(m, targets, printed, nil)
				de := make([]float32, len(printed))
				for c := range de {
					de[c] = float32(spectrum.DeltaE(s.main.want[c], printed[c]))
				}
				p.de = append(p.de, de)
			}
			p.least = slices.Clone(p.de[0])
			for _, de := range p.de[1:] {
				for c, d := range de {
					p.least[c] = min(p.least[c], d)
				}
			}
			p.classes(t.orders, sets[i], s.matters)
			return nil
		}
	})
	return t, err
}

// classes sets which of the solved orders each order prints like.
func (p *part) classes(orders [][]int, set []int, matters [][]bool) {
	distinct := distinctOrders(orders, set, matters)
	for i, o := range orders {
		for c, d := range distinct {
			if alike(o, d, set, matters) {
				p.class[i] = uint8(c)
				break
			}
		}
	}
}

// alike reports whether the pairs that matter are in the same order in both.
func alike(o, d []int, set []int, matters [][]bool) bool {
	for a := range o {
		for b := a + 1; b < len(o); b++ {
			if !matters[set[o[a]]][set[o[b]]] {
				continue
			}
			if slices.Index(d, o[a]) > slices.Index(d, o[b]) {
				return false
			}
		}
	}
	return true
}

func (s *search) sketcher() *separate.Sketcher {
	return &separate.Sketcher{InksPerSpot: s.opt.InksPerSpot, Levels: s.levels}
}

// model returns the print of a set in an order, as indices into the set.
func (s *search) model(set, order []int) (*composite.Model, error) {
	return composite.New(s.shelf, s.paper, s.uses(set, order))
}

func (s *search) uses(set, order []int) []composite.Use {
	inks := make([]*ink.Ink, len(set))
	for i, o := range order {
		inks[i] = s.inks[set[o]]
	}
	return uses(s.base, inks...)
}

// combinations calls f for each rising choice of k of 0 … n−1, in rising
// order. f must not keep set.
func combinations(n, k int, f func(set []int)) {
	set := make([]int, k)
	var pick func(at, from int)
	pick = func(at, from int) {
		if at == k {
			f(set)
			return
		}
		for i := from; i <= n-(k-at); i++ {
			set[at] = i
			pick(at+1, i+1)
		}
	}
	pick(0, 0)
}

// binomial is n over k.
func binomial(n, k int) int {
	if k < 0 || k > n {
		return 0
	}
	r := 1
	for i := 1; i <= k; i++ {
		r = r * (n - k + i) / i
	}
	return r
}
