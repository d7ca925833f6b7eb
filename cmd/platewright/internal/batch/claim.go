package batch

import (
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"platewright/cmd/platewright/internal/job"
)

// A session is one process at work, as others see it: a file with a number that
// it raises while it lives. Whether it lives is told from the process table on
// the same machine, and elsewhere from whether the number moves while one
// watches; clocks of two machines are never compared.
type session struct {
	store
	id   string
	self life

	mu   sync.Mutex
	seen map[string]watched
	stop context.CancelFunc
	done chan struct{}
}

// life is what a session's file says.
type life struct {
	Machine string `json:"machine"` // name, start of the system, space of process numbers
	Process int    `json:"process"`
	Started string `json:"started"` // tells processes of one number apart
	Beat    int    `json:"beat"`
}

type watched struct {
	beat  int
	since time.Time // by this process' own clock, which only runs forward
}

const (
	beatEvery = 5 * time.Second
	deadAfter = 45 * time.Second // without a beat
)

func (s store) newSession() (*session, error) {
	n := &session{store: s, id: strconv.FormatUint(rand.Uint64(), 36), seen: make(map[string]watched), done: make(chan struct{})}
	n.self = life{Machine: machine(), Process: os.Getpid(), Started: processStart(os.Getpid())}
	if err := n.beat(); err != nil {
		return nil, err
	}
	ctx, stop := context.WithCancel(context.Background())
	n.stop = stop
	go func() {
		defer close(n.done)
		tick := time.NewTicker(beatEvery)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
				n.self.Beat++
				_ = n.beat() // on a full disk the next one may do
			}
		}
	}()
	return n, nil
}

func (n *session) beat() error {
	data, err := json.Marshal(n.self)
	if err != nil {
		return err
	}
	return job.WriteFile(n.state(runsDir, n.id), true, nil, func(f *os.File) error {
		_, err := f.Write(data)
		return err
	})
}

// end says that the process is through.
func (n *session) end() {
	n.stop()
	<-n.done
	os.Remove(n.state(runsDir, n.id))
}

// others are the sessions at work beside this one. Dead ones are removed.
func (n *session) others() []string {
	entries, err := os.ReadDir(n.state(runsDir))
	if err != nil {
		return nil
	}
	var out []string
	for _, e := range entries {
		if id := e.Name(); id != n.id && !strings.HasPrefix(id, ".") {
			if n.alive(id) {
				out = append(out, id)
			} else {
				os.Remove(n.state(runsDir, id))
			}
		}
	}
	return out
}

func (n *session) alive(id string) bool {
	if id == n.id {
		return true
	}
	data, err := os.ReadFile(n.state(runsDir, id))
	if errors.Is(err, fs.ErrNotExist) {
		return false
	}
	var l life
	if err != nil || json.Unmarshal(data, &l) != nil {
		l.Beat = -1 // watched as one that does not move
	} else if l.Machine == n.self.Machine && l.Machine != "" {
		return processStart(l.Process) == l.Started
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	w, ok := n.seen[id]
	if !ok || w.beat != l.Beat {
		n.seen[id] = watched{l.Beat, time.Now()}
		return true
	}
	return time.Since(w.since) < deadAfter
}

// machine names this machine so that two processes with the same name see each
// other's numbers; "" where that is not known.
func machine() string {
	boot, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	if err != nil {
		return ""
	}
	space, err := os.Readlink("/proc/self/ns/pid")
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(boot)) + " " + space
}

// processStart is when a process was started, in ticks of the system, "" when
// there is none.
func processStart(pid int) string {
	data, err := os.ReadFile(filepath.Join("/proc", strconv.Itoa(pid), "stat"))
	if err != nil {
		return ""
	}
	// The second field is a name in brackets, which may hold anything.
	at := strings.LastIndexByte(string(data), ')')
	fields := strings.Fields(string(data[at+1:]))
	if len(fields) < 20 || fields[0] == "Z" || fields[0] == "X" {
		return ""
	}
	return fields[19]
}

// A claim is the right to work on one picture: the file NAME.N that this
// process created, which of several only one can, N being one more than the claims of processes that died.
type claim struct {
	n    *session
	name string
	gen  int
}

func (n *session) claimPath(name string, gen int) string {
	return n.state(claimsDir, name+"."+strconv.Itoa(gen))
}

// claim takes a picture in hand, or returns nil when a living process has it.
func (n *session) claim(name string) (*claim, error) {
	for gen := 1; ; gen++ {
		holder, err := n.holder(name, gen)
		if err != nil {
			return nil, err
		}
		if holder != "" {
			if n.alive(holder) {
				return nil, nil
			}
			continue
		}
		err = n.create(n.claimPath(name, gen))
		if errors.Is(err, fs.ErrExist) {
			gen-- // someone was quicker: look again
			continue
		}
		if err != nil {
			return nil, err
		}
		c := &claim{n, name, gen}
		// A process that ends its claim removes older ones first, so that a number
		// below a living claim may have come free.
		if later, err := n.holder(name, gen+1); err != nil || later != "" && n.alive(later) {
			os.Remove(n.claimPath(name, gen))
			return nil, err
		}
		return c, nil
	}
}

// holder is the session that holds a claim, "" for none.
func (n *session) holder(name string, gen int) (string, error) {
	path := n.claimPath(name, gen)
	id, err := os.Readlink(path)
	if err == nil {
		return id, nil
	}
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	return string(data), err
}

// create makes a file that names this session, in one step: a link that leads
// nowhere, or where the file system has none a file.
func (n *session) create(path string) error {
	err := os.Symlink(n.id, path)
	if err == nil || errors.Is(err, fs.ErrExist) {
		return err
	}
	return job.WriteNew(path, []byte(n.id))
}

// end gives the claim back, with those of dead processes below it.
func (c *claim) end() {
	for gen := 1; gen <= c.gen; gen++ {
		os.Remove(c.n.claimPath(c.name, gen))
	}
}
