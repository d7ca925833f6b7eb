package batch

import (
	"fmt"
	"testing"
)

func TestParseShare(t *testing.T) {
	for s, want := range map[string]Share{"1/1": {1, 1}, "3/16": {3, 16}, " 2 / 4 ": {2, 4}} {
		if got, err := ParseShare(s); err != nil || got != want {
			t.Errorf("%q: %v %v, want %v", s, got, err, want)
		}
	}
	for _, s := range []string{"", "3", "0/3", "4/3", "-1/3", "a/b", "1/0", "1/2/3", "1/99999999999999999999"} {
		if got, err := ParseShare(s); err == nil {
			t.Errorf("%q: %v, want an error", s, got)
		}
	}
}

// TestSlurmShare: the environment of job arrays as Slurm's sbatch manual page
// describes it, "OUTPUT ENVIRONMENT VARIABLES".
func TestSlurmShare(t *testing.T) {
	for _, c := range []struct {
		id, least, most, count string
		want                   Share
		bad                    bool
	}{
		{"", "", "", "", Share{}, false},
		{"1", "1", "8", "8", Share{1, 8}, false},
		{"8", "1", "8", "8", Share{8, 8}, false},
		{"0", "0", "15", "16", Share{1, 16}, false},
		{"7", "5", "9", "3", Share{2, 3}, false},
		{"4", "4", "4", "1", Share{1, 1}, false},
		{"6", "5", "9", "3", Share{}, true},
		{"3", "1", "7", "3", Share{}, true}, // of 1, 3, 7
		{"3", "x", "7", "3", Share{}, true},
		{"3", "1", "7", "0", Share{}, true},
		{"9", "1", "8", "8", Share{}, true},
	} {
		env := map[string]string{"SLURM_ARRAY_TASK_ID": c.id, "SLURM_ARRAY_TASK_MIN": c.least, "SLURM_ARRAY_TASK_MAX": c.most, "SLURM_ARRAY_TASK_COUNT": c.count}
		got, err := SlurmShare(func(k string) string { return env[k] })
		if (err != nil) != c.bad || got != c.want {
			t.Errorf("%+v: %v %v", c, got, err)
		}
	}
}

// TestShareParts wants every picture in exactly one part.
func TestShareParts(t *testing.T) {
	for _, of := range []int{2, 3, 16} {
		most := 0
		count := make([]int, of)
		for i := range 400 {
			in := Input{Rel: fmt.Sprint("picture ", i)}
			n := 0
			for part := 1; part <= of; part++ {
				if (Share{part, of}).has(&in) {
					n++
					count[part-1]++
					most = max(most, count[part-1])
				}
			}
			if n != 1 {
				t.Fatalf("picture %d is in %d of %d parts", i, n, of)
			}
		}
		if most > 2*400/of {
			t.Errorf("%d of 400 pictures fall to one of %d parts", most, of)
		}
	}
}
