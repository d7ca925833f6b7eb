package batch

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// Share is a fixed part of a folder: the pictures whose checksum falls to it.
// The zero Share is all of them.
type Share struct{ Part, Of int } // Part counts from 1

// ParseShare reads 3/16.
func ParseShare(s string) (Share, error) {
	a, b, ok := strings.Cut(s, "/")
	part, err1 := strconv.Atoi(strings.TrimSpace(a))
	of, err2 := strconv.Atoi(strings.TrimSpace(b))
	if !ok || err1 != nil || err2 != nil || part < 1 || part > of || of > 1e6 {
		return Share{}, fmt.Errorf("%q is no part: give the part and how many there are, as 3/16", s)
	}
	return Share{part, of}, nil
}

// SlurmShare is the part that falls to a task of a Slurm array, by its
// environment; the zero Share outside of one. Indexes must be evenly spaced.
func SlurmShare(env func(string) string) (Share, error) {
	if env("SLURM_ARRAY_TASK_ID") == "" {
		return Share{}, nil
	}
	var v [4]int
	for i, name := range []string{"ID", "MIN", "MAX", "COUNT"} {
		n, err := strconv.Atoi(env("SLURM_ARRAY_TASK_" + name))
		if err != nil {
			return Share{}, fmt.Errorf("SLURM_ARRAY_TASK_%s is %q, not a number: name the part with --part 1/8", name, env("SLURM_ARRAY_TASK_"+name))
		}
		v[i] = n
	}
	id, least, most, count := v[0], v[1], v[2], v[3]
	step := 1
	if count > 1 {
		step = (most - least) / (count - 1)
	}
	if count < 1 || step < 1 || least+step*(count-1) != most || (id-least)%step != 0 || id < least || id > most {
		return Share{}, errors.New("the indexes of this Slurm array are not evenly spaced: give --array=1-8, or name the part with --part 1/8")
	}
	return Share{(id-least)/step + 1, count}, nil
}

// Whole reports whether the share is everything.
func (s Share) Whole() bool { return s.Of <= 1 }

// String is the share as it is typed.
func (s Share) String() string { return fmt.Sprintf("%d/%d", s.Part, s.Of) }

// has reports whether a picture falls to the share: by its checksum, or by its
// path where it could not be read.
func (s Share) has(in *Input) bool {
	if s.Whole() {
		return true
	}
	sum, err := hex.DecodeString(in.Size.SHA256)
	if err != nil || len(sum) < 8 {
		h := sha256.Sum256([]byte(in.Rel))
		sum = h[:]
	}
	return int(binary.BigEndian.Uint64(sum)%uint64(s.Of)) == s.Part-1
}
