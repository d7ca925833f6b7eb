package choose

import (
	"context"
	"path/filepath"
	"platewright/composite/ink"
	"platewright/separate/artwork"
	"testing"
	"time"
)

func TestScratchFree(t *testing.T) {
	sh := ink.BuiltIn()
	paper, _ := sh.Paper("")
	fs, _ := filepath.Glob("/work/shared/art/*")
	for _, f := range fs {
		p, err := artwork.Open(f, artwork.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		p.Flatten(paper.Color)
		t0 := time.Now()
		c0 := cpu()
		fr, c, err := FreeInks(context.Background(), sh, paper, p, Question{Count: 3}, Mixing{})
		if err != nil {
			t.Fatal(err)
		}
		t.Log(filepath.Base(f), time.Since(t0), cpu()-c0, c.MeanDE, c.P95DE, c.InReach)
		for _, x := range fr {
			t.Log("   ", x.Color.Lab(), x.Recipe.DE, x.Recipe.Words())
		}
	}
}
