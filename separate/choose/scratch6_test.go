package choose

import (
	"context"
	"os"
	"path/filepath"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"platewright/separate"
	"platewright/separate/artwork"
	"slices"
	"testing"
)

func TestScratchExh(t *testing.T) {
	if os.Getenv("EXH") == "" {
		t.Skip()
	}
	fs, _ := filepath.Glob("/work/shared/art/*")
	for fi, f := range fs {
		p, err := artwork.Open(f, artwork.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		for _, kind := range []int{0, 1} {
			sh, paper := shelfOf(t, 16, int64(fi))
			if kind == 1 {
				b := ink.BuiltIn()
				paper = b.Papers[0]
				sh = &ink.Shelf{Papers: b.Papers}
				for i, x := range b.Inks {
					if i%4 != 3 {
						sh.Inks = append(sh.Inks, x)
					}
				}
				sh.Inks = sh.Inks[:16]
				if err := sh.Prepare(); err != nil {
					t.Fatal(err)
				}
			}
			q := Question{Count: 4}
			p.Flatten(paper.Color)
			s, err := newSearch(sh, paper, p, &q)
			if err != nil {
				t.Fatal(err)
			}
			c0 := cpu()
			got, err := s.run(context.Background())
			if err != nil {
				t.Fatal(err)
			}
			took := cpu() - c0
			var tasks []answer
			all := permutations(4)
			combinations(len(s.inks), 4, func(set []int) {
				c := slices.Clone(set)
				for _, o := range distinctOrders(all, c, s.matters) {
					tasks = append(tasks, answer{set: c, order: o})
				}
			})
			targets := separate.NewTargets(s.main.want)
			parallel(len(tasks), func() func(int) error {
				sk := s.sketcher()
				pr := make([]spectrum.Lab, len(s.main.want))
				return func(i int) error {
					m, _ := s.model(tasks[i].set, tasks[i].order)
					sk.Fit(m, targets, pr, nil)
					tasks[i].score = s.main.mean(pr)
					return nil
				}
			})
			slices.SortFunc(tasks, compareAnswers)
			n := 0
			for n < len(tasks) && tasks[n].score <= 1.04*tasks[0].score+.01 && n < 300 {
				n++
			}
			short := slices.Clone(tasks[:n])
			parallel(n, func() func(int) error {
				return func(i int) error {
					m, _ := s.model(short[i].set, short[i].order)
					short[i].score = s.fine.mean(s.solve(m, s.fine, nil))
					return nil
				}
			})
			slices.SortFunc(short, compareAnswers)
			t.Logf("%s %d tasks %d short %d took %v: got %v %v %.4f best %v %v %.4f  loss %.2f%%", filepath.Base(f), kind, len(tasks), n, took, got[0].set, got[0].order, got[0].score, short[0].set, short[0].order, short[0].score, 100*(got[0].score/short[0].score-1))
		}
	}
}
