package batch

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"platewright/cmd/platewright/internal/job"
)

// store is the folder of results and what it remembers.
type store struct{ root string }

func (s store) state(parts ...string) string {
	return filepath.Join(append([]string{s.root, stateName}, parts...)...)
}

// Places in the state.
const (
	doneDir   = "done"   // a record for each job
	claimsDir = "claims" // a file for each picture in hand
	runsDir   = "runs"   // a file for each process at work
	dateFile  = "date"   // the day on the films of a batch that is not finished
)

func openStore(root string) (store, error) {
	s := store{root}
	if info, err := os.Stat(root); err == nil && !info.IsDir() {
		return s, fmt.Errorf("%s is a file: name a folder with -o", root)
	}
	if entries, err := os.ReadDir(root); err == nil && len(entries) > 0 {
		if _, err := os.Stat(s.state()); errors.Is(err, fs.ErrNotExist) {
			return s, fmt.Errorf("%s holds files of something else: name another folder with -o", root)
		}
	}
	for _, dir := range []string{doneDir, claimsDir, runsDir} {
		if err := os.MkdirAll(s.state(dir), 0o777); err != nil {
			return s, err
		}
	}
	return s, nil
}

// States of a Record.
const (
	Done   = "done"
	Held   = "held" // findings kept the films back
	Failed = "failed"
)

// Record is what was made of one picture.
type Record struct {
	Key    string      `json:"key"`  // of the work, see key
	File   string      `json:"file"` // the picture's path in the folder
	SHA256 string      `json:"sha256"`
	Name   string      `json:"name"` // of the job folder
	State  string      `json:"state"`
	Reason string      `json:"reason,omitempty"` // why it failed
	Report *job.Report `json:"report,omitempty"`
	Thumb  []byte      `json:"thumb,omitempty"` // JPEG of the proof
}

func (s store) recordPath(name string) string { return s.state(doneDir, name+".json") }

// record reads what was made under a name, nil for nothing that can be read.
func (s store) record(name string) *Record {
	data, err := os.ReadFile(s.recordPath(name))
	if err != nil {
		return nil
	}
	var r Record
	if json.Unmarshal(data, &r) != nil || r.Name != name {
		return nil
	}
	return &r
}

func (s store) keep(r *Record) error {
	return job.WriteFile(s.recordPath(r.Name), true, nil, func(f *os.File) error {
		enc := json.NewEncoder(f)
		enc.SetEscapeHTML(false)
		enc.SetIndent("", " ")
		return enc.Encode(r)
	})
}

func (s store) folder(name string) string { return filepath.Join(s.root, name) }

// errMissing is a result that is not whole.
var errMissing = errors.New("not there")

// verify compares a job folder with its report: nil where every file has the
// bytes listed, errMissing where some are gone, else an error that names what
// is not of the program's making.
func (s store) verify(name string, r *job.Report) error {
	listed := make(map[string]job.File)
	for _, f := range r.Files {
		listed[f.Path] = f
	}
	missing := len(listed)
	err := filepath.WalkDir(s.folder(name), func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(s.folder(name), path)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		if d.IsDir() {
			if rel != "." && rel != "plates" && rel != "films" {
				return fmt.Errorf("%s/%s was put there by someone: move it away", name, rel)
			}
			return nil
		}
		if rel == job.ReportFile {
			return nil
		}
		f, ok := listed[rel]
		if !ok {
			return fmt.Errorf("%s/%s was put there by someone: move it away", name, rel)
		}
		same, err := f.Same(path)
		if err != nil {
			return err
		}
		if !same {
			return fmt.Errorf("%s/%s was changed since it was made: move it away to keep it, or make it anew with --force", name, rel)
		}
		missing--
		return nil
	})
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return errMissing
	case err == nil && missing > 0:
		return errMissing
	}
	if _, e := os.Stat(filepath.Join(s.folder(name), job.ReportFile)); err == nil && e != nil {
		return errMissing
	}
	return err
}

// retire takes an earlier result out of the way, so that it is gone at once.
// What is not of the program's making stays and is an error; with force files
// that were changed go too, others never.
func (s store) retire(name string, force bool) error {
	entries, err := os.ReadDir(s.folder(name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	if len(entries) > 0 {
		report, err := job.ReadReport(filepath.Join(s.folder(name), job.ReportFile))
		if err != nil {
			return fmt.Errorf("%s holds files but no report of an earlier run: move it away", name)
		}
		if err := s.verify(name, report); err != nil && !errors.Is(err, errMissing) {
			if !force || strings.HasSuffix(err.Error(), "move it away") {
				return err
			}
		}
	}
	old := s.folder("." + name + ".0old.part")
	os.RemoveAll(old)
	if err := os.Rename(s.folder(name), old); err != nil {
		return err
	}
	return os.RemoveAll(old)
}

// sweep removes what a process that was cut off left under way for a name. The
// caller holds the claim to it.
func (s store) sweep(name string) {
	sweepDir(s.root, name)
	sweepDir(s.state(doneDir), name+".json")
}

// underway is the form of names that packages job and batch fill files and
// folders under.
var underway = regexp.MustCompile(`^\.(.+)\.[0-9a-z]+\.part$`)

func sweepDir(dir, name string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range entries {
		if m := underway.FindStringSubmatch(e.Name()); m != nil && m[1] == name {
			os.RemoveAll(filepath.Join(dir, e.Name()))
		}
	}
}

// date returns the day that this batch began, by the first process that asks.
func (s store) date(today string) (string, error) {
	path := s.state(dateFile)
	err := job.WriteNew(path, []byte(today+"\n"))
	if errors.Is(err, fs.ErrNotExist) { // cleared away by one that ended just now
		err = job.WriteNew(path, []byte(today+"\n"))
	}
	if err != nil && !errors.Is(err, fs.ErrExist) {
		return "", err
	}
	data, err := os.ReadFile(path)
	return strings.TrimSpace(string(data)), err
}

func (s store) forgetDate() { os.Remove(s.state(dateFile)) }
