package choose

import (
	"cmp"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"platewright/separate"
	"platewright/separate/artwork"
)

// exhaustive solves every set in every order in full and returns the one of
// the least mean difference, which is best where none has less. The colors of
// each are added up one by one, and it is given up as soon as it has more than
// the best so far: what is left cannot make it less. What costs the best most
// comes first.
func exhaustive(t *testing.T, s *search, best answer) answer {
	t.Helper()
	var sets [][]int
	combinations(len(s.inks), s.count, func(set []int) { sets = append(sets, slices.Clone(set)) })
	orders := permutations(s.count)
	m, err := s.model(best.set, best.order)
	if err != nil {
		t.Fatal(err)
	}
	printed := s.solve(m, s.fine, nil)
	cost := func(c int) float64 { return s.fine.count[c] * spectrum.DeltaE(s.fine.want[c], printed[c]) }
	colors := rising(len(printed))
	slices.SortFunc(colors, func(a, b int) int { return cmp.Compare(cost(b), cost(a)) })
	var mu sync.Mutex
	err = parallel(len(sets), func() func(int) error {
		return func(i int) error {
			for _, o := range orders {
				m, err := s.model(sets[i], o)
				if err != nil {
					return err
				}
				mu.Lock()
				most := best.score
				mu.Unlock()
				a := answer{set: sets[i], order: o, score: fullMean(s, m, colors, most)}
				mu.Lock()
				if compareAnswers(a, best) < 0 {
					best = a
				}
				mu.Unlock()
			}
			return nil
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	return best
}

// fullMean is the mean difference of the print of m over the fine palette,
// added up in the order of colors, or something above most where it is more.
func fullMean(s *search, m *composite.Model, colors []int, most float64) float64 {
	p := s.fine
	if s.levels != nil {
		return p.mean(s.solve(m, p, nil))
	}
	sv := separate.NewSolver(m, s.opt.InksPerSpot)
	coverage := make([]float64, s.count)
	sum := 0.0
	aims := s.aims(m, p)
	for _, c := range colors {
		sum += p.count[c] * spectrum.DeltaE(p.want[c], sv.Solve(aims[c], coverage))
		if sum > most {
			break
		}
	}
	return sum
}

// checkExhaustive ranks the sets of count inks for p and compares the first
// with the best of all sets in all orders. Up to colors main colors count.
func checkExhaustive(t *testing.T, shelf *ink.Shelf, paper *ink.Paper, p *artwork.Picture, q Question, colors int) {
	t.Helper()
	s, err := newSearch(shelf, paper, p, &q)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.fine.want) > colors {
		s.fine = newHistogram(p, paper.Color, nil, s.rule == separate.TintsNone, s.opt).cluster(colors)
	}
	got, err := s.run(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	n := binomial(len(s.inks), q.Count)
	if s.sets != n {
		t.Errorf("%d sets were looked at, there are %d", s.sets, n)
	}
	want := exhaustive(t, s, got[0])
	loss := 100 * (got[0].score/want.score - 1)
	t.Logf("%d of %d inks, tints %v, %d colors, %d sets in %d orders: chosen %.4f, best %.4f, %.2f %% behind",
		q.Count, len(s.inks), s.rule, len(s.fine.want), n, len(permutations(q.Count)), got[0].score, want.score, loss)
	if got[0].score > 1.01*want.score {
		t.Errorf("%v in order %v has %.4f; %v in %v has %.4f", got[0].set, got[0].order, got[0].score, want.set, want.order, want.score)
	}
}

// What is ranked first is within 1 % of the best of all sets in all orders.
func TestRankIsExhaustive(t *testing.T) {
	for _, c := range []struct {
		name  string
		inks  int
		count int
		reach separate.OutOfReach
		pic   func(*ink.Paper) *artwork.Picture
	}{
		{"flat, 3 of 9", 9, 3, separate.Nearest, func(*ink.Paper) *artwork.Picture {
			return stripes([][3]uint8{{230, 80, 40}, {40, 90, 160}, {20, 20, 24}, {240, 200, 60}, {90, 150, 90}}, []int{20, 16, 9, 12, 7})
		}},
		{"flat, 4 of 9", 9, 4, separate.Nearest, func(*ink.Paper) *artwork.Picture {
			return stripes([][3]uint8{{200, 60, 90}, {60, 120, 90}, {250, 220, 120}, {30, 40, 80}, {160, 160, 160}}, []int{20, 16, 9, 12, 7})
		}},
		{"soft, 2 of 8", 8, 2, separate.Nearest, func(*ink.Paper) *artwork.Picture { return soft(60, 40, 1) }},
		{"map, 4 of 8", 8, 4, separate.Nearest, func(p *ink.Paper) *artwork.Picture { return opened(t, "testdata/map.png", p) }},
		{"citrus, 3 of 8", 8, 3, separate.Nearest, func(p *ink.Paper) *artwork.Picture { return opened(t, "testdata/citrus.jpg", p) }},
		{"citrus, 4 of 6", 6, 4, separate.Nearest, func(p *ink.Paper) *artwork.Picture { return opened(t, "testdata/citrus.jpg", p) }},
		{"map, eased, 3 of 8", 8, 3, separate.Ease, func(p *ink.Paper) *artwork.Picture { return opened(t, "testdata/map.png", p) }},
		{"citrus, eased, 3 of 7", 7, 3, separate.Ease, func(p *ink.Paper) *artwork.Picture { return opened(t, "testdata/citrus.jpg", p) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			shelf, paper := shelfOf(t, c.inks, 11)
			checkExhaustive(t, shelf, paper, c.pic(paper), Question{Count: c.count, Options: separate.Options{OutOfReach: c.reach}}, 16)
		})
	}
}

func opened(t *testing.T, path string, paper *ink.Paper) *artwork.Picture {
	t.Helper()
	p, err := artwork.Open(path, artwork.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	p.Flatten(paper.Color)
	return p
}

// TestExhaustiveOnPictures does the same on pictures of one's own, over all
// main colors. It takes minutes a picture, and is skipped unless they are named:
//
//	PLATEWRIGHT_PICTURES='/some/folder/*.png' go test ./separate/choose -run OnPictures -v -timeout 0
//
// PLATEWRIGHT_SETS says which questions, "3/10 4/10" without it: three and four
// inks of shelves of ten. With PLATEWRIGHT_EASE set, colors out of reach are
// eased.
func TestExhaustiveOnPictures(t *testing.T) {
	glob := os.Getenv("PLATEWRIGHT_PICTURES")
	if glob == "" {
		t.Skip("PLATEWRIGHT_PICTURES names no pictures")
	}
	pictures, err := filepath.Glob(glob)
	if err != nil || len(pictures) == 0 {
		t.Fatalf("no pictures at %s: %v", glob, err)
	}
	var opt separate.Options
	if os.Getenv("PLATEWRIGHT_EASE") != "" {
		opt.OutOfReach = separate.Ease
	}
	sets := os.Getenv("PLATEWRIGHT_SETS")
	if sets == "" {
		sets = "3/10 4/10"
	}
	for _, path := range pictures {
		for _, set := range strings.Fields(sets) {
			k, n, _ := strings.Cut(set, "/")
			count, err := strconv.Atoi(k)
			if err != nil {
				t.Fatal(err)
			}
			inks, err := strconv.Atoi(n)
			if err != nil {
				t.Fatal(err)
			}
			t.Run(fmt.Sprintf("%s %d of %d", filepath.Base(path), count, inks), func(t *testing.T) {
				shelf, paper := shelfOf(t, inks, 11)
				checkExhaustive(t, shelf, paper, opened(t, path, paper), Question{Count: count, Options: opt}, finalColors)
			})
		}
	}
}
