package choose

import (
	"context"
	"fmt"
	"testing"

	"platewright/composite/spectrum"
	"platewright/separate"
)

func BenchmarkBest(b *testing.B) {
	for _, c := range [][2]int{{20, 3}, {24, 4}, {40, 5}} {
		b.Run(fmt.Sprintf("%d of %d", c[1], c[0]), func(b *testing.B) {
			shelf, paper := shelfOf(b, c[0], 1)
			p := soft(1200, 800, 1)
			for b.Loop() {
				if _, err := Best(context.Background(), shelf, paper, p, c[1], separate.Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkMix(b *testing.B) {
	shelf, paper := shelfOf(b, 22, 1)
	for b.Loop() {
		if _, err := Mix(context.Background(), shelf, paper, spectrum.Lab{60, -12, 24}.XYZ(), Mixing{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFreeInks(b *testing.B) {
	shelf, paper := shelfOf(b, 20, 1)
	p := soft(1200, 800, 1)
	for b.Loop() {
		if _, _, err := FreeInks(context.Background(), shelf, paper, p, Question{Count: 3}, Mixing{}); err != nil {
			b.Fatal(err)
		}
	}
}
