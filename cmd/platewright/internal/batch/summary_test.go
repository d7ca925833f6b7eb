package batch

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platewright/cmd/platewright/internal/job"
	"platewright/separate/artwork"
)

func TestShown(t *testing.T) {
	for in, want := range map[string]string{
		"poster.png": "poster.png", "ünï ç.png": "ünï ç.png", "a\x1b[31m": `a\x1b[31m`, "a\nb": `a\x0ab`, "a\xffb": `a\xffb`,
		"\u202egnp.exe": `\xe2\x80\xaegnp.exe`, "\u0085": `\xc2\x85`, "�": "�",
	} {
		if got := shown(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

func TestNoFormula(t *testing.T) {
	for in, want := range map[string]string{"": "", "a=1": "a=1", "=1+1": "'=1+1", "+1": "'+1", "-1": "'-1", "@x": "'@x"} {
		if got := noFormula(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

// TestSummaryCounts wants a picture that no process has worked on to be
// missing, and one that has changed since too.
func TestSummaryCounts(t *testing.T) {
	st, err := openStore(filepath.Join(t.TempDir(), "out"))
	if err != nil {
		t.Fatal(err)
	}
	f := &Folder{Path: "in"}
	for _, r := range []Record{
		{File: "a.png", SHA256: "1", Name: "a", State: Done, Report: &job.Report{Paper: "cold white", Findings: []job.Finding{{Level: "warning"}, {Level: "note"}}}},
		{File: "b.png", SHA256: "2", Name: "b", State: Held, Report: &job.Report{}},
		{File: "c.png", SHA256: "3", Name: "c", State: Failed, Reason: "b\x07ad"},
		{File: "d.png", SHA256: "old", Name: "d", State: Done, Report: &job.Report{}},
	} {
		if err := st.keep(&r); err != nil {
			t.Fatal(err)
		}
	}
	for i, name := range []string{"a", "b", "c", "d", "e"} {
		f.Inputs = append(f.Inputs, Input{Rel: name + ".png", Name: name, Size: artwork.Size{SHA256: string(rune('1' + i))}})
	}
	sum := st.summarize(f, &Settings{Program: "test"})
	if want := (Counts{Pictures: 5, Done: 1, Held: 1, Failed: 1, Missing: 2}); sum.Counts != want {
		t.Errorf("%+v, want %+v", sum.Counts, want)
	}
	if e := sum.Jobs[0]; e.Level != "warning" || e.Folder != "a" || e.Paper != "cold white" {
		t.Errorf("%+v", e)
	}
	if e := sum.Jobs[2]; e.Reason != `b\x07ad` || e.Folder != "" {
		t.Errorf("%+v", e)
	}
}

// TestVerify wants a result whole, with nothing changed and nothing added.
func TestVerify(t *testing.T) {
	st, err := openStore(filepath.Join(t.TempDir(), "out"))
	if err != nil {
		t.Fatal(err)
	}
	report := &job.Report{}
	f, err := job.NewFolder(st.folder("a"), false, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"proof.png", "plates/a-1.png"} {
		if err := f.Create(name, func(w *os.File) error { _, err := w.WriteString(name); return err }); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.Commit(report); err != nil {
		t.Fatal(err)
	}
	at := filepath.Join(st.folder("a"), "plates", "a-1.png")
	write := func(path, text string) {
		if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		name, want string
		change     func()
	}{
		{"as made", "", func() {}},
		{"changed", "a/plates/a-1.png was changed", func() { write(at, "another") }},
		{"changed at the same length", "a/plates/a-1.png was changed", func() { write(at, "plates/a-2.png") }},
		{"lost", errMissing.Error(), func() { os.Remove(at) }},
		{"as made again", "", func() { write(at, "plates/a-1.png") }},
		{"added", "a/notes.txt was put there by someone", func() { write(filepath.Join(st.folder("a"), "notes.txt"), "x") }},
		{"without the report", "a/notes.txt was put there by someone", func() { os.Remove(filepath.Join(st.folder("a"), job.ReportFile)) }},
		{"only the report lost", errMissing.Error(), func() { os.Remove(filepath.Join(st.folder("a"), "notes.txt")) }},
		{"all lost", errMissing.Error(), func() { os.RemoveAll(st.folder("a")) }},
	} {
		c.change()
		err := st.verify("a", report)
		if got := errText(err); !strings.HasPrefix(got, c.want) || c.want == "" && got != "" {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func errText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

// TestResults names the folder of results.
func TestResults(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	for in, want := range map[string]string{"orders": "orders-jobs", "a/orders/": "a/orders-jobs", ".": filepath.Join(filepath.Dir(dir), filepath.Base(dir)+"-jobs")} {
		if got, err := Results(in); err != nil || got != want {
			t.Errorf("%s: %s %v, want %s", in, got, err, want)
		}
	}
}

// BenchmarkKey is what looking at a picture that is made already costs beside
// its checksum.
func BenchmarkKey(b *testing.B) {
	s := settings(b)
	in := &Input{Rel: "a.png", Path: "in/a.png", Name: "a", Size: artwork.Size{SHA256: "12"}}
	for b.Loop() {
		if _, err := s.plan(in, "in-jobs"); err != nil {
			b.Fatal(err)
		}
	}
}
