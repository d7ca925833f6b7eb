package choose

import (
	"cmp"
	"context"
	"math"
	"slices"
	"sync"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"platewright/separate"
	"platewright/separate/artwork"
)

const (
	keepSets   = 1500 // sets whose orders are looked at
	easedSets  = 192  // sets that are solved in one order where colors are eased, which parts know nothing of
	verifySets = 48   // sets that are solved with all their inks
	verifyMost = 12   // orders of each that are
	finalSets  = 12   // sets that every order is solved of, and the best exactly
	finalMost  = 24   // answers that are solved exactly

	// closeBy is how much worse an answer may look before it is solved exactly
	// to be given up after.
	closeBy = 1.04

	// ruleLead is how much worse, by the model, the trade's order may be and
	// still be taken: the model is not that sure.
	ruleLead = 1.003
)

// A search is one question for the best sets.
type search struct {
	shelf     *ink.Shelf
	paper     *ink.Paper
	inks      []*ink.Ink // that may be chosen, by the rule of print order
	must      []bool     // by index: has to be in the set
	base      map[*ink.Ink]float64
	count     int
	opt       *separate.Options
	levels    []float64 // coverages allowed; nil: all
	main      *palette
	fine      *palette
	matters   [][]bool
	sets      int // how many sets there are
	q         *Question
	pic       *artwork.Picture
	seams     *seams
	seamsOnce sync.Once
	rule      separate.TintRule
	why       string // of the rule
	flat      bool   // the artwork is, whatever tints were asked for
}

// answer is a set in an order with its mean CIEDE2000 over the main colors.
type answer struct {
	set   []int // rising indices of inks
	order []int // of set, first printed first
	score float64
	base  []float64 // by set; nil: as measured
}

func compareAnswers(a, b answer) int {
	return cmp.Or(cmp.Compare(a.score, b.score), slices.Compare(a.set, b.set), slices.Compare(a.order, b.order))
}

// run returns the best answers, best first, with at most one order a set.
func (s *search) run(ctx context.Context) ([]answer, error) {
	var err error
	if s.matters, err = orderMatters(s.shelf, s.paper, s.inks, s.base); err != nil {
		return nil, err
	}
	t, err := s.newParts(ctx)
	if err != nil {
		return nil, err
	}
	sets, err := s.bestSets(ctx, t)
	if err != nil {
		return nil, err
	}
	ordered := s.bestOrders(t, sets)
	if s.opt.OutOfReach == separate.Ease {
		if ordered, err = s.verify(ctx, ordered, easedSets, 1); err != nil {
			return nil, err
		}
	}
	if ordered, err = s.verify(ctx, ordered, verifySets, verifyMost); err != nil {
		return nil, err
	}
	if s.count > t.size {
		if ordered, err = s.verify(ctx, ordered, finalSets, math.MaxInt); err != nil {
			return nil, err
		}
	}
	return s.exact(ctx, ordered)
}

// bestSets returns the sets that look best by their parts, each part in the
// order that suits each color: no order of the set does better by its parts.
func (s *search) bestSets(ctx context.Context, t *parts) ([]answer, error) {
	n, k := len(s.inks), s.count
	type task struct{ first, second int }
	var tasks []task
	for i := range n {
		if k == 1 {
			tasks = append(tasks, task{i, -1})
			continue
		}
		for j := i + 1; j < n; j++ {
			tasks = append(tasks, task{i, j})
		}
	}
	found := make([][]answer, len(tasks))
	counted := make([]int, len(tasks))
	err := parallel(len(tasks), func() func(int) error {
		w := newPicker(s, t)
		return func(i int) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			w.best, w.worst, w.sets = nil, math.Inf(1), 0
			w.set[0] = tasks[i].first
			if w.allowed(0) {
				if k == 1 {
					w.leaf()
				} else {
					w.set[1] = tasks[i].second
					if w.allowed(1) {
						w.extend(1)
						if k == 2 {
							w.leaf()
						} else {
							w.pick(2)
						}
					}
				}
			}
			w.cut(keepSets)
			found[i], counted[i] = w.best, w.sets
			return nil
		}
	})
	if err != nil {
		return nil, err
	}
	var all []answer
	for i, f := range found {
		all = append(all, f...)
		s.sets += counted[i]
		if len(all) > 8*keepSets {
			all = firstAnswers(all, keepSets)
		}
	}
	return firstAnswers(all, keepSets), nil
}

func firstAnswers(a []answer, n int) []answer {
	slices.SortFunc(a, compareAnswers)
	return a[:min(n, len(a))]
}

// A picker walks the sets that begin with given inks, carrying along, for each
// number of inks, the least difference that any part so far gives each color.
type picker struct {
	s     *search
	t     *parts
	set   []int
	least [][]float32
	count []float32
	best  []answer
	worst float64
	sets  int
}

func newPicker(s *search, t *parts) *picker {
	w := &picker{s: s, t: t, set: make([]int, s.count), least: make([][]float32, s.count)}
	for i := range w.least {
		w.least[i] = make([]float32, len(s.main.want))
	}
	for _, c := range s.main.count {
		w.count = append(w.count, float32(c))
	}
	return w
}

// allowed reports whether no ink that has to be in the set was passed over
// before place at.
func (w *picker) allowed(at int) bool {
	from := 0
	if at > 0 {
		from = w.set[at-1] + 1
	}
	for i := from; i < w.set[at]; i++ {
		if w.s.must[i] {
			return false
		}
	}
	return true
}

// extend updates the differences for the ink at place at.
func (w *picker) extend(at int) {
	least := w.least[at]
	if at+1 < w.t.size {
		return
	}
	if at+1 == w.t.size {
		copy(least, w.t.at(w.set[:at+1]).least)
		return
	}
	copy(least, w.least[at-1])
	r := w.t.ranks
	last := r[2][w.set[at]]
	for i := range at {
		for j := range i {
			de := w.t.of[r[0][w.set[j]]+r[1][w.set[i]]+last].least
			de = de[:len(least)]
			for c := range least {
				least[c] = min(least[c], de[c])
			}
		}
	}
}

func (w *picker) pick(at int) {
	n, k := len(w.s.inks), w.s.count
	for i := w.set[at-1] + 1; i <= n-(k-at); i++ {
		w.set[at] = i
		if !w.allowed(at) {
			break
		}
		w.extend(at)
		if at+1 == k {
			w.leaf()
		} else {
			w.pick(at + 1)
		}
	}
}

func (w *picker) leaf() {
	k := w.s.count
	if w.t.size == k {
		w.extend(k - 1)
	}
	for i := w.set[k-1] + 1; i < len(w.s.inks); i++ {
		if w.s.must[i] {
			return
		}
	}
	w.sets++
	var sum float32
	for c, d := range w.least[k-1] {
		sum += w.count[c] * d
	}
	if score := float64(sum); score <= w.worst {
		w.best = append(w.best, answer{set: slices.Clone(w.set), score: score})
		if len(w.best) >= 4*keepSets {
			w.cut(keepSets)
		}
	}
}

// cut keeps the best n sets.
func (w *picker) cut(n int) {
	w.best = firstAnswers(w.best, n)
	if len(w.best) == n {
		w.worst = w.best[n-1].score
	}
}

// bestOrders returns the sets with all their orders that print differently,
// judged by their parts, each part now in the order it has in the set. Best
// sets first, and the best orders of each first.
func (s *search) bestOrders(t *parts, sets []answer) [][]answer {
	k := s.count
	all := permutations(k)
	// Which part, and in which of its orders, stands in each order of a set.
	var subsets [][]int
	combinations(k, t.size, func(sub []int) { subsets = append(subsets, slices.Clone(sub)) })
	in := make([][]uint8, len(all))
	for i, o := range all {
		for _, sub := range subsets {
			var rel []int
			for _, v := range o {
				if at := slices.Index(sub, v); at >= 0 {
					rel = append(rel, at)
				}
			}
			in[i] = append(in[i], uint8(orderIndex(t.orders, rel)))
		}
	}
	index := map[string]int{}
	key := func(o []int) string {
		b := make([]byte, len(o))
		for i, v := range o {
			b[i] = byte(v)
		}
		return string(b)
	}
	for i, o := range all {
		index[key(o)] = i
	}
	out := make([][]answer, len(sets))
	_ = parallel(len(sets), func() func(int) error {
		least := make([]float32, len(s.main.want))
		at := make([]int, t.size)
		return func(i int) error {
			set := sets[i].set
			from := make([]*part, len(subsets))
			for p, sub := range subsets {
				for j, v := range sub {
					at[j] = set[v]
				}
				from[p] = t.at(at)
			}
			for _, o := range distinctOrders(all, set, s.matters) {
				ways := in[index[key(o)]]
				copy(least, from[0].de[from[0].class[ways[0]]])
				for p := 1; p < len(from); p++ {
					for c, d := range from[p].de[from[p].class[ways[p]]] {
						least[c] = min(least[c], d)
					}
				}
				sum := 0.0
				for c, d := range least {
					sum += s.main.count[c] * float64(d)
				}
				out[i] = append(out[i], answer{set: set, order: o, score: sum})
			}
			slices.SortFunc(out[i], compareAnswers)
			return nil
		}
	})
	sortSets(out)
	return out
}

func sortSets(a [][]answer) {
	slices.SortFunc(a, func(a, b []answer) int { return compareAnswers(a[0], b[0]) })
}

// verify solves the first sets, up to most orders of each, with all their inks
// at once, and sorts them anew.
func (s *search) verify(ctx context.Context, in [][]answer, sets, most int) ([][]answer, error) {
	in = in[:min(sets, len(in))]
	type at struct{ set, order int }
	var tasks []at
	out := make([][]answer, len(in))
	for i, a := range in {
		out[i] = slices.Clone(a)
		for j := range min(most, len(a)) {
			tasks = append(tasks, at{i, j})
		}
	}
	targets := s.targets(s.main)
	err := parallel(len(tasks), func() func(int) error {
		sk := s.sketcher()
		printed := make([]spectrum.Lab, len(s.main.want))
		return func(i int) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			a := &out[tasks[i].set][tasks[i].order]
			m, err := s.model(a.set, a.order)
			if err != nil {
				return err
			}
			sk.Fit(m, targets(m), printed, nil)
			a.score = s.main.mean(printed)
			return nil
		}
	})
	if err != nil {
		return nil, err
	}
	for i := range out {
		// Orders beyond most keep a score by their parts, which is not
		// comparable: they go last.
		slices.SortFunc(out[i][:min(most, len(out[i]))], compareAnswers)
	}
	sortSets(out)
	return out, nil
}

// mean is the weighted mean CIEDE2000 of what is printed for each color; bare
// paper counts as met.
func (p *palette) mean(printed []spectrum.Lab) float64 {
	sum := 0.0
	for c, w := range p.want {
		sum += p.count[c] * spectrum.DeltaE(w, printed[c])
	}
	return sum
}

// exact solves the best answers on the finer palette, from many starts, and
// ranks them by it.
func (s *search) exact(ctx context.Context, in [][]answer) ([]answer, error) {
	if len(in) == 0 {
		return nil, nil
	}
	in = in[:min(finalSets, len(in))]
	for len(in) > s.q.top() && in[len(in)-1][0].score > closeBy*in[0][0].score+.02 {
		in = in[:len(in)-1]
	}
	var tasks []answer
	for _, a := range in {
		tasks = append(tasks, a[0])
	}
	// Other orders of the best sets, where they are close.
	var more []answer
	for _, a := range in {
		for _, o := range a[1:] {
			if slices.IsSorted(o.order) {
				tasks = append(tasks, o)
			} else if o.score <= closeBy*in[0][0].score+.02 {
				more = append(more, o)
			}
		}
	}
	tasks = append(tasks, firstAnswers(more, max(0, finalMost-len(in)))...)
	err := parallel(len(tasks), func() func(int) error {
		return func(i int) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			m, err := s.model(tasks[i].set, tasks[i].order)
			if err != nil {
				return err
			}
			tasks[i].score = s.fine.mean(s.solve(m, s.fine, nil))
			return nil
		}
	})
	if err != nil {
		return nil, err
	}
	slices.SortFunc(tasks, compareAnswers)
	var out []answer
	for _, a := range tasks {
		at := slices.IndexFunc(out, func(b answer) bool { return slices.Equal(a.set, b.set) })
		if at < 0 {
			out = append(out, a)
		} else if slices.IsSorted(a.order) && a.score <= ruleLead*out[at].score {
			out[at] = a
		}
	}
	slices.SortFunc(out, compareAnswers)
	return out, nil
}

// solve returns what m prints for each color of p and, unless it is nil, the
// coverages, inks fastest.
func (s *search) solve(m *composite.Model, p *palette, coverage []float64) []spectrum.Lab {
	printed := make([]spectrum.Lab, len(p.want))
	k := m.Inks()
	if coverage == nil {
		coverage = make([]float64, len(p.want)*k)
	}
	if s.levels != nil {
		s.sketcher().Fit(m, separate.NewTargets(s.aims(m, p)), printed, coverage)
		return printed
	}
	sv := separate.NewSolver(m, s.opt.InksPerSpot)
	for c, w := range s.aims(m, p) {
		printed[c] = sv.Solve(w, coverage[c*k:c*k+k])
	}
	return printed
}
