package choose

import (
	"context"
	"os"
	"platewright/separate/artwork"
	"testing"
	"time"
)

func TestScratchBig(t *testing.T) {
	for _, f := range []string{"21_photo_citrus.jpg", "23_exif6_honeybee.jpg", "02_flat_seascape_bold.png"} {
		p, err := artwork.Open("/work/shared/art/"+f, artwork.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range [][2]int{{20, 3}, {24, 4}, {40, 5}} {
			if os.Getenv("BIG") == "" && c[0] == 40 {
				continue
			}
			sh, paper := shelfOf(t, c[0], 1)
			p.Flatten(paper.Color)
			t0 := time.Now()
			c0 := cpu()
			r, err := Rank(context.Background(), sh, paper, p, Question{Count: c[1]})
			if err != nil {
				t.Fatal(err)
			}
			t.Log(f, c, time.Since(t0), cpu()-c0)
			for _, x := range r {
				t.Log("  ", x.Names(), x.MeanDE, x.P95DE, x.InReach, x.InksPerSpot, x.TotalCoverage, x.RegisterDE, x.OpacityDE, x.OpacityInk, x.Alike, x.RuleDE)
			}
		}
	}
}
