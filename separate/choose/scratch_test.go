package choose

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"platewright/composite/ink"
	"platewright/separate"
	"platewright/separate/artwork"
	"testing"
	"time"
)

func TestScratch(t *testing.T) {
	sh := ink.BuiltIn()
	paper, _ := sh.Paper("")
	fs, _ := filepath.Glob("/work/shared/art/*")
	for _, f := range fs {
		p, err := artwork.Open(f, artwork.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		p.Flatten(paper.Color)
		for _, k := range []int{3, 4} {
			if os.Getenv("K") != "" && k == 4 {
				continue
			}
			t0 := time.Now()
			c, err := Best(context.Background(), sh, paper, p, k, separate.Options{})
			if err != nil {
				t.Fatal(err)
			}
			var names []string
			for _, u := range c.Uses {
				names = append(names, u.Ink.Name)
			}
			t.Log(filepath.Base(f), k, time.Since(t0), names, c.Why, math.Round(c.MeanDE*100)/100, math.Round(100*c.P95DE)/100, math.Round(c.InReach))
		}
	}
}
