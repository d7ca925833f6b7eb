package batch

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"platewright/cmd/platewright/internal/job"
	"platewright/separate/artwork"
)

// Input is one picture of a folder.
type Input struct {
	Rel      string // path in the folder
	Path     string // path from where the program stands
	Override string // path of its own settings, "" without
	Name     string // of its job folder, which nothing else in the folder has
	Size     artwork.Size
	Err      error // why it cannot be read
}

// Skipped is a file that is no picture, and the mend.
type Skipped struct {
	File   string `json:"file"`
	Reason string `json:"reason"`
	Mend   string `json:"mend"`
}

// Folder is what a folder holds, by path.
type Folder struct {
	Path    string
	Inputs  []Input
	Skipped []Skipped
}

// mostDepth is how deep folders are followed.
const mostDepth = 64

// Scan looks through a folder and the folders in it and measures its pictures.
// What is hidden, results of earlier runs and the folder results are left
// out. Links to files are followed, links to folders are not: they may loop.
// each is called for every picture before it is measured, and may stop the scan
// with an error.
func Scan(folder, results string, lim artwork.Limits, each func(rel string) error) (*Folder, error) {
	info, err := os.Stat(folder)
	if err != nil {
		return nil, err
	}
	if !info.IsDir() {
		return nil, fmt.Errorf("%s is a file: name the folder that holds the pictures, or take platewright separate", folder)
	}
	s := &scanner{out: &Folder{Path: folder}, overrides: make(map[string]string), lim: lim, each: each}
	s.results, _ = os.Stat(results) // it may not be there yet
	if err := s.folder(folder, "", 0); err != nil {
		return nil, err
	}
	s.match()
	nameAll(s.out.Inputs)
	return s.out, nil
}

type scanner struct {
	out       *Folder
	results   fs.FileInfo
	overrides map[string]string // path without ending to path
	lim       artwork.Limits
	each      func(string) error
}

func (s *scanner) skip(rel, reason, mend string) {
	s.out.Skipped = append(s.out.Skipped, Skipped{rel, reason, mend})
}

func (s *scanner) folder(dir, rel string, depth int) error {
	if depth > mostDepth {
		s.skip(rel, "folders in folders deeper than this are not followed", "move its pictures up")
		return nil
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		if depth == 0 {
			return err
		}
		s.skip(rel, "the folder cannot be read", "check who may read it")
		return nil
	}
	if depth > 0 && isResult(entries) {
		return nil
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".") {
			continue
		}
		if err := s.entry(filepath.Join(dir, e.Name()), filepath.Join(rel, e.Name()), depth); err != nil {
			return err
		}
	}
	return nil
}

// isResult reports whether a folder is one that this program made.
func isResult(entries []fs.DirEntry) bool {
	has := func(name string) bool {
		return slices.ContainsFunc(entries, func(e fs.DirEntry) bool { return e.Name() == name })
	}
	return has(stateName) || has(job.ReportFile) && has("job.toml")
}

func (s *scanner) entry(path, rel string, depth int) error {
	link := false
	info, err := os.Lstat(path)
	if err == nil && info.Mode()&fs.ModeSymlink != 0 {
		link = true
		info, err = os.Stat(path)
	}
	switch {
	case err != nil && link:
		s.skip(rel, "a link that leads nowhere", "put the picture itself there")
		return nil
	case errors.Is(err, fs.ErrNotExist):
		return nil // gone while the folder was read
	case err != nil:
		s.out.Inputs = append(s.out.Inputs, Input{Rel: rel, Path: path, Err: err})
		return nil
	case info.IsDir() && s.results != nil && os.SameFile(info, s.results):
		return nil
	case info.IsDir() && link:
		s.skip(rel, "a link to a folder", "name that folder to batch as well, or put its pictures here")
		return nil
	case info.IsDir():
		return s.folder(path, rel, depth+1)
	case !info.Mode().IsRegular():
		s.skip(rel, "not a file", "leave only pictures in the folder")
		return nil
	case strings.HasSuffix(strings.ToLower(rel), OverrideEnding):
		s.overrides[strings.ToLower(rel[:len(rel)-len(OverrideEnding)])] = path
		return nil
	}
	if err := s.each(rel); err != nil {
		return err
	}
	in := Input{Rel: rel, Path: path}
	in.Size, in.Err = measure(path, info.Size(), s.lim)
	if errors.Is(in.Err, artwork.ErrUnsupported) && !artwork.IsPictureName(rel) {
		var e *artwork.Error
		errors.As(in.Err, &e)
		s.skip(rel, e.Problem, e.Mend)
		return nil
	}
	s.out.Inputs = append(s.out.Inputs, in)
	return nil
}

func measure(path string, size int64, lim artwork.Limits) (artwork.Size, error) {
	f, err := os.Open(path)
	if err != nil {
		return artwork.Size{}, err
	}
	defer f.Close()
	return artwork.Measure(f, filepath.Base(path), size, lim)
}

// match gives pictures their own settings.
func (s *scanner) match() {
	used := make(map[string]bool)
	for i := range s.out.Inputs {
		in := &s.out.Inputs[i]
		stem := strings.ToLower(strings.TrimSuffix(in.Rel, filepath.Ext(in.Rel)))
		for _, key := range []string{strings.ToLower(in.Rel), stem} { // poster.png.job.toml before poster.job.toml
			if path, ok := s.overrides[key]; ok {
				in.Override, used[key] = path, true
				break
			}
		}
	}
	var alone []string
	for key, path := range s.overrides {
		if !used[key] {
			alone = append(alone, path)
		}
	}
	slices.Sort(alone)
	for _, path := range alone {
		rel, err := filepath.Rel(s.out.Path, path)
		if err != nil {
			rel = path
		}
		s.skip(rel, "settings without a picture", "name it as the picture, with "+OverrideEnding+" in place of its ending")
	}
	slices.SortFunc(s.out.Skipped, func(a, b Skipped) int { return strings.Compare(a.File, b.File) })
}
