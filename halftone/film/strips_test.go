package film

import (
	"bytes"
	"errors"
	"hash/adler32"
	"io"
	"runtime"
	"sync/atomic"
	"testing"

	"compress/zlib"

	"pgregory.net/rapid"
)

func TestInOrder(t *testing.T) {
	for _, n := range []int{0, 1, 2, 3, 100} {
		var got []int
		var alive, most atomic.Int32
		err := inOrder(n, func() int { return 7 }, func(s, i int) (int, error) {
			if v := alive.Add(1); v > most.Load() {
				most.Store(v)
			}
			return s + i, nil
		}, func(v int) error {
			alive.Add(-1)
			got = append(got, v-7)
			return nil
		})
		if err != nil || len(got) != n {
			t.Fatalf("%d parts: got %d, %v", n, len(got), err)
		}
		for i, v := range got {
			if v != i {
				t.Fatalf("part %d came at place %d", v, i)
			}
		}
		if limit := int32(2*runtime.GOMAXPROCS(0) + 2); most.Load() > limit {
			t.Errorf("%d parts existed at a time, at most %d may", most.Load(), limit)
		}
	}
}

func TestInOrderStopsAtAnError(t *testing.T) {
	bad := errors.New("bad")
	made := atomic.Int32{}
	none := func() int { return 0 }
	err := inOrder(10000, none, func(_, i int) (int, error) {
		made.Add(1)
		if i == 5 {
			return 0, bad
		}
		return i, nil
	}, func(int) error { return nil })
	if err != bad || made.Load() > 1000 {
		t.Errorf("an error while making: %v after %d parts", err, made.Load())
	}
	made.Store(0)
	err = inOrder(10000, none, func(_, i int) (int, error) { made.Add(1); return i, nil }, func(i int) error {
		if i == 3 {
			return bad
		}
		return nil
	})
	if err != bad || made.Load() > 1000 {
		t.Errorf("an error while writing: %v after %d parts", err, made.Load())
	}
}

// TestJoinedPieces holds joined zlib streams and sums against the standard library.
func TestJoinedPieces(t *testing.T) {
	p := newPacker()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "n")
		var raw, z []byte
		sum := uint32(1)
		for i := range n {
			piece := bytes.Repeat(rapid.SliceOfN(rapid.Byte(), 0, 40).Draw(t, "piece"), rapid.IntRange(1, 3000).Draw(t, "times"))
			part, err := p.pack(piece, i == 0, i == n-1)
			if err != nil {
				t.Fatal(err)
			}
			sum = joinAdler(sum, part.adler, part.raw)
			raw, z = append(raw, piece...), append(z, part.data...)
		}
		if want := adler32.Checksum(raw); sum != want {
			t.Fatalf("joined sum %08x, want %08x", sum, want)
		}
		r, err := zlib.NewReader(bytes.NewReader(append(z, byte(sum>>24), byte(sum>>16), byte(sum>>8), byte(sum))))
		if err != nil {
			t.Fatal(err)
		}
		if got, err := io.ReadAll(r); err != nil || !bytes.Equal(got, raw) {
			t.Fatalf("read back %d of %d bytes, %v", len(got), len(raw), err)
		}
	})
}
