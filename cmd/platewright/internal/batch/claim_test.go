package batch

import (
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"
)

func sessions(t *testing.T, n int) []*session {
	t.Helper()
	st, err := openStore(filepath.Join(t.TempDir(), "out"))
	if err != nil {
		t.Fatal(err)
	}
	var out []*session
	for range n {
		s, err := st.newSession()
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(s.end)
		out = append(out, s)
	}
	return out
}

// TestClaimIsOnes lets sessions race for names: no two hold one at once.
func TestClaimIsOnes(t *testing.T) {
	all := sessions(t, 4)
	names := []string{"a", "b", "a.1"}
	var mu sync.Mutex
	holders := make(map[string]int)
	taken := 0
	var wg sync.WaitGroup
	for _, s := range all {
		wg.Go(func() {
			for i := range 150 {
				name := names[i%len(names)]
				c, err := s.claim(name)
				if err != nil {
					t.Error(err)
					return
				}
				if c == nil {
					continue
				}
				mu.Lock()
				taken++
				if holders[name]++; holders[name] > 1 {
					t.Errorf("%s is held twice", name)
				}
				mu.Unlock()
				mu.Lock()
				holders[name]--
				mu.Unlock()
				c.end()
			}
		})
	}
	wg.Wait()
	if taken < 150 {
		t.Errorf("only %d claims were had", taken)
	}
	if entries, err := os.ReadDir(all[0].state(claimsDir)); err != nil || len(entries) > 0 {
		t.Errorf("%v %v were left", entries, err)
	}
}

// TestClaimOfTheDead wants the claim of a process that is gone to be free, and
// that of one that lives not.
func TestClaimOfTheDead(t *testing.T) {
	s := sessions(t, 2)
	if machine() == "" {
		t.Skip("this system does not tell its processes")
	}
	gone := exec.Command("true")
	if err := gone.Run(); err != nil {
		t.Skip(err)
	}
	dead := &session{store: s[0].store, id: "dead", seen: make(map[string]watched)}
	dead.self = life{Machine: machine(), Process: gone.Process.Pid, Started: "1"}
	if err := dead.beat(); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"x", "y"} {
		if c, err := dead.claim(name); c == nil || err != nil {
			t.Fatal(err)
		}
	}
	c, err := s[0].claim("x")
	if err != nil || c == nil || c.gen != 2 {
		t.Fatalf("%+v %v, want the second claim", c, err)
	}
	if other, err := s[1].claim("x"); other != nil || err != nil {
		t.Errorf("%+v %v, want none beside a living one", other, err)
	}
	c.end()
	s[0].tidy()
	for _, dir := range []string{claimsDir, runsDir} {
		entries, err := os.ReadDir(s[0].state(dir))
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			if e.Name() != s[0].id && e.Name() != s[1].id {
				t.Errorf("%s was left in %s", e.Name(), dir)
			}
		}
	}
}

// TestSessionElsewhere wants a session of another machine to count as alive
// until it has been watched without a beat for long, by this clock alone.
func TestSessionElsewhere(t *testing.T) {
	s := sessions(t, 1)[0]
	far := &session{store: s.store, id: "far", self: life{Machine: "another", Process: 1}}
	if err := far.beat(); err != nil {
		t.Fatal(err)
	}
	if !s.alive("far") {
		t.Error("dead at first sight")
	}
	s.seen["far"] = watched{0, time.Now().Add(-deadAfter - time.Second)}
	if s.alive("far") {
		t.Error("alive without a beat")
	}
	far.self.Beat++
	if err := far.beat(); err != nil {
		t.Fatal(err)
	}
	if !s.alive("far") {
		t.Error("dead in spite of a beat")
	}
}
