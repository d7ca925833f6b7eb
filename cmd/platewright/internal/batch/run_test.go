package batch

import (
	"bufio"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode/utf8"

	"platewright/cmd/platewright/internal/job"
	"platewright/separate/artwork"
)

// TestMain stands in for the program: the tests' child processes are the test
// itself, which makes a small job folder, or breaks as the picture's name says.
func TestMain(m *testing.M) {
	if len(os.Args) == 2 && os.Args[1] == ChildCommand {
		if os.Getenv("BATCH_TRUE_CHILD") != "" {
			if err := Serve(context.Background(), os.Stdin, os.Stdout, error.Error); err != nil {
				fmt.Fprintln(os.Stderr, err)
				os.Exit(1)
			}
			return
		}
		standIn()
		return
	}
	flag.Parse()
	os.Exit(m.Run())
}

func standIn() {
	r := bufio.NewReader(os.Stdin)
	line, err := r.ReadBytes('\n')
	var o order
	if err != nil || json.Unmarshal(line, &o) != nil {
		os.Exit(1)
	}
	answer := outcome{}
	switch name := filepath.Base(string(o.Art)); {
	case strings.HasPrefix(name, "panic"):
		done := make(chan int)
		go func() { panic("a decoder met what it did not foresee") }()
		<-done
	case strings.HasPrefix(name, "kill"):
		if p, err := os.FindProcess(os.Getpid()); err == nil {
			_ = p.Kill()
		}
		select {}
	case strings.HasPrefix(name, "hang"):
		_, _ = io.Copy(io.Discard, r) // until told
		os.Exit(1)
	case strings.HasPrefix(name, "garbage"):
		fmt.Println("not JSON")
		return
	case strings.HasPrefix(name, "full"):
		answer.Error, answer.Stuck = "no space left on device", true
	case strings.HasPrefix(name, "wrong"):
		answer.Error = name + ": wrong: mend it"
	default:
		f, err := job.NewFolder(string(o.Out), false, nil)
		if err == nil {
			answer.Report = &job.Report{Name: name, Held: strings.HasPrefix(name, "held")}
			err = f.Create("job.toml", func(w *os.File) error { _, err := w.Write(o.Job); return err })
		}
		if err == nil {
			err = f.Commit(answer.Report)
		}
		if err != nil {
			answer = outcome{Error: err.Error()}
		}
	}
	_ = json.NewEncoder(os.Stdout).Encode(answer)
}

func settings(t testing.TB) *Settings {
	t.Helper()
	j := job.New()
	j.Inks, j.Shelf, j.Width, j.FilmDPI = job.Names{"deep kelp"}, job.BuiltIn, "30mm", 300
	stock, err := j.OpenStock()
	if err != nil {
		t.Fatal(err)
	}
	return &Settings{Job: j, Stock: stock, Program: "test", Hold: "fault", Word: error.Error}
}

func options(results string) Options {
	return Options{Results: results, Workers: 3, Memory: 2 << 30, Longest: time.Minute}
}

// TestRunBrokenChildren wants every other picture done, and each that breaks its
// process named with the reason.
func TestRunBrokenChildren(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "in")
	for i, name := range []string{"a", "panic", "kill", "hang", "garbage", "wrong", "held", "z"} {
		picture(t, filepath.Join(dir, name+".png"), i)
	}
	reasons := make(map[string]string)
	opt := options(dir + "-jobs")
	opt.Longest = 2 * time.Second
	opt.Tell = func(e Event) { reasons[e.File] = e.Reason }
	totals, err := Run(context.Background(), scan(t, dir, opt.Results), settings(t), opt)
	if err != nil || totals.Done != 2 || totals.Held != 1 || totals.Failed != 5 {
		t.Errorf("%+v %v", totals, err)
	}
	for name, want := range map[string]string{
		"panic.png": "panic.png: the work on it broke off (a decoder met what it did not foresee)", "kill.png": "signal: killed",
		"hang.png": "took longer than 2s: raise --max-minutes", "garbage.png": "broke off", "wrong.png": "wrong.png: wrong: mend it", "a.png": "",
	} {
		if got := reasons[name]; !strings.Contains(got, want) || want == "" && got != "" {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	left(t, opt.Results)
}

// left wants no file under way and no claim.
func left(t *testing.T, results string) {
	t.Helper()
	err := filepath.WalkDir(results, func(path string, d os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		dir := filepath.Base(filepath.Dir(path))
		if strings.HasSuffix(path, ".part") || dir == claimsDir || dir == runsDir {
			t.Errorf("%s was left", path)
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
}

// TestRunStuck wants the run to end at once when results cannot be written.
func TestRunStuck(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "in")
	for i := range 40 {
		picture(t, filepath.Join(dir, fmt.Sprintf("full%02d.png", i)), i)
	}
	opt := options(dir + "-jobs")
	totals, err := Run(context.Background(), scan(t, dir, opt.Results), settings(t), opt)
	if err == nil || !strings.Contains(err.Error(), "no space left") || totals.Through > 3 {
		t.Errorf("%+v %v, want the disk's error", totals, err)
	}
	left(t, opt.Results)
}

// TestRunInterrupted wants a run that is told to stop to leave no trace of what
// was in hand, and the next to go on.
func TestRunInterrupted(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "in")
	for i := range 6 {
		picture(t, filepath.Join(dir, fmt.Sprintf("p%d.png", i)), i)
	}
	picture(t, filepath.Join(dir, "hang.png"), 50)
	opt := options(dir + "-jobs")
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	opt.Tell = func(e Event) {
		if e.Through == 3 {
			stop()
		}
	}
	if totals, err := Run(ctx, scan(t, dir, opt.Results), settings(t), opt); err != context.Canceled || totals.Through < 3 || totals.Through > 6 {
		t.Errorf("%+v %v", totals, err)
	}
	left(t, opt.Results)
	if err := os.Remove(filepath.Join(dir, "hang.png")); err != nil {
		t.Fatal(err)
	}
	opt.Tell = nil
	totals, err := Run(context.Background(), scan(t, dir, opt.Results), settings(t), opt)
	if err != nil || totals.Done != 6 || totals.Again < 3 {
		t.Errorf("%+v %v, want the three of before and three more", totals, err)
	}
}

// TestRunChangedPicture wants a picture that changes between the look at the
// folder and the work on it named as that; times of files mean nothing.
func TestRunChangedPicture(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "in")
	picture(t, filepath.Join(dir, "wrong.png"), 1)
	picture(t, filepath.Join(dir, "a.png"), 2)
	opt := options(dir + "-jobs")
	reasons := make(map[string]string)
	opt.Tell = func(e Event) { reasons[e.File] = e.Reason }
	f := scan(t, dir, opt.Results)
	picture(t, filepath.Join(dir, "wrong.png"), 3)
	totals, err := Run(context.Background(), f, settings(t), opt)
	if err != nil || totals.Done != 1 || reasons["wrong.png"] != "wrong.png: changed while it was read: run again when it is whole" {
		t.Errorf("%+v %v %q", totals, err, reasons)
	}
	for _, at := range []time.Time{time.Unix(0, 0), time.Now().AddDate(30, 0, 0)} { // a clock set back, or ahead
		err := filepath.WalkDir(filepath.Dir(dir), func(path string, _ os.DirEntry, err error) error {
			if err != nil {
				return err
			}
			return os.Chtimes(path, at, at)
		})
		if err != nil {
			t.Fatal(err)
		}
		if totals, err := Run(context.Background(), scan(t, dir, opt.Results), settings(t), opt); err != nil || totals.Again != 1 {
			t.Errorf("with files of %v: %+v %v, want one that is made already", at, totals, err)
		}
	}
}

// TestRunTwoAtOnce wants two processes on one folder to make each picture once,
// and both to end with all of them.
func TestRunTwoAtOnce(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "in")
	const n = 16
	for i := range n {
		picture(t, filepath.Join(dir, fmt.Sprintf("p%d.png", i)), i)
	}
	opt := options(dir + "-jobs")
	var totals [2]Totals
	var errs [2]error
	var wg sync.WaitGroup
	for i := range totals {
		wg.Go(func() { totals[i], errs[i] = Run(context.Background(), scan(t, dir, opt.Results), settings(t), opt) })
	}
	wg.Wait()
	if errs[0] != nil || errs[1] != nil || totals[0].Made+totals[1].Made != n || totals[0].Done != n || totals[1].Done != n {
		t.Errorf("%+v %v", totals, errs)
	}
	left(t, opt.Results)
}

// TestRunHostileNames wants every result inside the folder of results, under
// names that do no harm, and a summary that escapes them.
func TestRunHostileNames(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("other systems refuse such names themselves")
	}
	top := t.TempDir()
	dir := filepath.Join(top, "in")
	for i, name := range hostile {
		picture(t, filepath.Join(dir, "p"+name), i) // so that none means something to the stand-in
	}
	opt := options(dir + "-jobs")
	totals, err := Run(context.Background(), scan(t, dir, opt.Results), settings(t), opt)
	if err != nil || totals.Done != len(hostile) {
		t.Errorf("%+v %v, want %d done", totals, err, len(hostile))
	}
	entries, err := os.ReadDir(top)
	if err != nil || len(entries) != 2 {
		t.Errorf("%v %v, want the pictures and the results", entries, err)
	}
	for _, name := range []string{summaryHTML, summaryJSON, summaryCSV} {
		data, err := os.ReadFile(filepath.Join(opt.Results, name))
		if err != nil {
			t.Fatal(err)
		}
		text := string(data)
		if !utf8.ValidString(text) || strings.ContainsAny(text, "\x1b\a\u202e") || strings.Contains(text, "<script>alert") && name == summaryHTML {
			t.Errorf("%s holds a name as it is", name)
		}
		if name == summaryJSON {
			var sum Summary
			if err := json.Unmarshal(data, &sum); err != nil || len(sum.Jobs) != len(hostile) {
				t.Errorf("%v, %d jobs", err, len(sum.Jobs))
			}
		}
	}
	left(t, opt.Results)
}

var many = flag.Int("many", 60, "pictures of TestRunMany")

// TestRunMany wants neither goroutines nor open files to grow with the number
// of pictures. -many 1000 takes a thousand.
func TestRunMany(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "in")
	for i := range *many {
		picture(t, filepath.Join(dir, fmt.Sprintf("p%04d.png", i)), i)
	}
	opt := options(dir + "-jobs")
	opt.Workers = 4
	var early, late [2]int
	opt.Tell = func(e Event) {
		now := [2]int{runtime.NumGoroutine(), openFiles()}
		for i, n := range now {
			if e.Through <= *many/3 {
				early[i] = max(early[i], n)
			} else {
				late[i] = max(late[i], n)
			}
		}
	}
	totals, err := Run(context.Background(), scan(t, dir, opt.Results), settings(t), opt)
	if err != nil || totals.Done != *many {
		t.Errorf("%+v %v", totals, err)
	}
	t.Logf("goroutines at most %d in the first third and %d later, open files %d and %d", early[0], late[0], early[1], late[1])
	const slack = 8 // of four workers and their pipes
	if late[0] > early[0]+slack || late[1] > early[1]+slack {
		t.Errorf("they grow: goroutines %d to %d, open files %d to %d", early[0], late[0], early[1], late[1])
	}
}

func openFiles() int {
	entries, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		return 0
	}
	return len(entries)
}

// TestRunTrueChild makes one true job through the child's own end.
func TestRunTrueChild(t *testing.T) {
	t.Setenv("BATCH_TRUE_CHILD", "1")
	dir := filepath.Join(t.TempDir(), "in")
	picture(t, filepath.Join(dir, "it's <b>.png"), 1)
	opt := options(dir + "-jobs")
	totals, err := Run(context.Background(), scan(t, dir, opt.Results), settings(t), opt)
	if err != nil || totals.Done != 1 || totals.Peak == 0 && runtime.GOOS == "linux" {
		t.Fatalf("%+v %v", totals, err)
	}
	st := store{opt.Results}
	rec := st.record("it-s-b")
	if rec == nil || len(rec.Thumb) == 0 || st.verify("it-s-b", rec.Report) != nil {
		t.Fatalf("%+v, want a record with a picture of the proof", rec)
	}
	page, err := os.ReadFile(filepath.Join(opt.Results, summaryHTML))
	if err != nil || strings.Contains(string(page), "<b>") || !strings.Contains(string(page), "it&#39;s &lt;b&gt;.png") {
		t.Errorf("the page does not escape the name (%v)", err)
	}
	j, err := job.Read(filepath.Join(opt.Results, "it-s-b", "job.toml"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := artwork.Open(j.Art, artwork.Limits{}); err != nil {
		t.Errorf("the job does not find its picture: %v", err)
	}
}

// TestOverrideThatWouldCrash wants settings beside a picture that would take a
// reader's whole stack or memory to fail that picture alone: they are read in
// the process that all others hang on.
func TestOverrideThatWouldCrash(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "in")
	for i, text := range []string{"", "inks = " + strings.Repeat("[", 1<<20), strings.Repeat("a.", 1<<16) + "a = 1", "x = " + strings.Repeat("{a=", 1<<16)} {
		name := filepath.Join(dir, fmt.Sprintf("p%d", i))
		picture(t, name+".png", i)
		if err := os.WriteFile(name+OverrideEnding, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	opt := options(dir + "-jobs")
	totals, err := Run(context.Background(), scan(t, dir, opt.Results), settings(t), opt)
	if err != nil || totals.Done != 1 || totals.Failed != 3 {
		t.Errorf("%+v %v, want one done and three failed", totals, err)
	}
}

// TestKeyDependsOn wants another key for what changes a result, and the same
// for what does not.
func TestKeyDependsOn(t *testing.T) {
	key := func(change func(*Settings, *Input)) string {
		s := settings(t)
		in := &Input{Rel: "a.png", Path: "in/a.png", Name: "a", Size: artwork.Size{SHA256: "12"}}
		change(s, in)
		w, err := s.plan(in, "in-jobs")
		if err != nil {
			t.Fatal(err)
		}
		return w.key
	}
	base := key(func(*Settings, *Input) {})
	ink := func(s *Settings, name string) {
		i, err := s.Stock.Ink(name)
		if err != nil {
			t.Fatal(err)
		}
		i.Color[1]++
		if err := s.Stock.Prepare(); err != nil {
			t.Fatal(err)
		}
	}
	for name, c := range map[string]struct {
		change func(*Settings, *Input)
		same   bool
	}{
		"nothing":     {func(*Settings, *Input) {}, true},
		"picture":     {func(_ *Settings, in *Input) { in.Size.SHA256 = "13" }, false},
		"place":       {func(_ *Settings, in *Input) { in.Path = "elsewhere/a.png" }, false},
		"width":       {func(s *Settings, _ *Input) { s.Job.Width = "31mm" }, false},
		"hold":        {func(s *Settings, _ *Input) { s.Hold = "warning" }, false},
		"program":     {func(s *Settings, _ *Input) { s.Program = "later" }, false},
		"build":       {func(s *Settings, _ *Input) { s.Build = "later" }, false},
		"ink":         {func(s *Settings, _ *Input) { ink(s, "deep kelp") }, false},
		"another ink": {func(s *Settings, _ *Input) { ink(s, "egg yolk") }, true},
	} {
		if got := key(c.change); (got == base) != c.same {
			t.Errorf("%s: same key %v, want %v", name, got == base, c.same)
		}
	}
}
