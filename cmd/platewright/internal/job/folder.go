package job

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"sort"
	"strings"
	"sync"
)

// ReportFile is the name of the report in a job folder.
const ReportFile = "report.json"

// Folder is a job folder under way. Its files are made in a hidden folder, so
// that no final name ever holds half a file; Commit puts them in place and
// Abandon removes them. Create may be called from several goroutines at once.
type Folder struct {
	path    string
	work    string   // the hidden folder
	earlier []string // what the earlier run made;
	there   bool     // whether the folder was there

	mu    sync.Mutex
	files []File
}

// NewFolder begins the job folder at path. A folder that holds anything is
// refused, but with force one with the report of an earlier run is taken again:
// Commit then removes what that report lists, and nothing else. Inputs are
// files that must stay as they are; one among what would be removed is refused.
func NewFolder(folder string, force bool, inputs []string) (*Folder, error) {
	f := &Folder{path: filepath.Clean(folder)}
	parent := filepath.Dir(f.path)
	entries, err := os.ReadDir(f.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		if info, e := os.Stat(f.path); e == nil && !info.IsDir() {
			return nil, fmt.Errorf("%s is a file: name a folder with -o", folder)
		}
		return nil, err
	default:
		if len(entries) > 0 && !force {
			return nil, fmt.Errorf("%s is %w: name another folder with -o, or replace what the earlier run made with --force", folder, ErrExists)
		}
		if len(entries) > 0 {
			if err := f.readEarlier(inputs); err != nil {
				return nil, err
			}
		}
		f.there = true
		parent = f.path
	}
	if err := os.MkdirAll(parent, 0o777); err != nil {
		return nil, err
	}
	f.work = filepath.Join(parent, hidden(filepath.Base(f.path)))
	if err := os.Mkdir(f.work, 0o777); err != nil {
		return nil, err
	}
	return f, nil
}

// readEarlier takes the list of files from the report of the earlier run.
func (f *Folder) readEarlier(inputs []string) error {
	data, err := os.ReadFile(filepath.Join(f.path, ReportFile))
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s holds files but no %s of an earlier run: name another folder with -o", f.path, ReportFile)
	}
	if err != nil {
		return err
	}
	var r struct{ Files []File }
	if err := json.Unmarshal(data, &r); err != nil {
		return fmt.Errorf("%s: not a report of an earlier run: name another folder with -o", filepath.Join(f.path, ReportFile))
	}
	for _, file := range r.Files {
		if !ours(file.Path) {
			return fmt.Errorf("%s lists %q, which no run makes: it was changed; remove the folder yourself or name another with -o",
				filepath.Join(f.path, ReportFile), file.Path)
		}
		if file.Path == "job.toml" { // replaced even when it is the job that is run again
			f.earlier = append(f.earlier, file.Path)
			continue
		}
		if there, err := os.Stat(filepath.Join(f.path, filepath.FromSlash(file.Path))); err == nil {
			for _, in := range inputs {
				if i, err := os.Stat(in); err == nil && os.SameFile(i, there) {
					return fmt.Errorf("%s is an input and would be replaced: name another folder with -o", in)
				}
			}
		}
		f.earlier = append(f.earlier, file.Path)
	}
	return nil
}

// ours reports whether a path is one that a run makes: a plain name in the job
// folder, plates or films, with an ending that a run writes.
func ours(p string) bool {
	if p != path.Clean(p) || !filepath.IsLocal(filepath.FromSlash(p)) || strings.Contains(p, `\`) {
		return false
	}
	dir, base := path.Split(p)
	if strings.HasPrefix(base, ".") {
		return false
	}
	ending := path.Ext(base)
	switch dir {
	case "":
		switch base {
		case "job.toml", "sheet.html", "proof.png":
			return true
		}
		name, ok := strings.CutSuffix(base, "-plates"+ending)
		return ok && name != "" && (ending == ".pdf" || ending == ".tif" || ending == ".ora")
	case "plates/":
		return ending == ".png"
	case "films/":
		return ending == ".tif" || ending == ".png" || ending == ".pdf"
	}
	return false
}

// Path is the folder's final place.
func (f *Folder) Path() string { return f.path }

// Create makes one file of the folder by fill. The path is relative, with
// slashes.
func (f *Folder) Create(rel string, fill func(*os.File) error) error {
	full := filepath.Join(f.work, filepath.FromSlash(rel))
	if err := os.MkdirAll(filepath.Dir(full), 0o777); err != nil {
		return err
	}
	file, err := os.OpenFile(full, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	defer file.Close()
	if err := fill(file); err != nil {
		return err
	}
	if err := file.Sync(); err != nil {
		return err
	}
	sum, size, err := checksum(file)
	if err != nil {
		return err
	}
	if err := file.Close(); err != nil {
		return err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.files = append(f.files, File{rel, size, sum})
	return nil
}

func checksum(file *os.File) (sum string, size int64, err error) {
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return "", 0, err
	}
	h := sha256.New()
	size, err = io.Copy(h, file)
	return hex.EncodeToString(h.Sum(nil)), size, err
}

// Files are the files made so far, by path.
func (f *Folder) Files() []File {
	f.mu.Lock()
	defer f.mu.Unlock()
	out := append([]File(nil), f.files...)
	sort.Slice(out, func(a, b int) bool { return out[a].Path < out[b].Path })
	return out
}

// Commit writes the report and puts the folder in its place. What it does is
// quick and not interrupted.
func (f *Folder) Commit(r *Report) error {
	r.Files = f.Files()
	data, err := r.Format()
	if err != nil {
		return err
	}
	err = f.Create(ReportFile, func(w *os.File) error {
		_, err := w.Write(data)
		return err
	})
	if err != nil {
		return err
	}
	if f.there {
		return f.replace()
	}
	if err := os.Rename(f.work, f.path); err != nil {
		return err
	}
	syncFolder(filepath.Dir(f.path))
	return nil
}

// replace moves the files of this run over those of the earlier one. A link in
// the folder leads nowhere outside it.
func (f *Folder) replace() error {
	root, err := os.OpenRoot(f.path)
	if err != nil {
		return err
	}
	defer root.Close()
	earlier := map[string]bool{ReportFile: true}
	for _, p := range f.earlier {
		earlier[p] = true
	}
	for _, file := range f.files {
		if info, err := root.Lstat(file.Path); err == nil && !earlier[file.Path] && !f.same(root, info, file) {
			return fmt.Errorf("%s is not of the earlier run: move it away, or name another folder with -o", filepath.Join(f.path, file.Path))
		}
	}
	for _, p := range f.earlier {
		if info, err := root.Lstat(p); err != nil || info.IsDir() {
			continue
		}
		if err := root.Remove(p); err != nil {
			return err
		}
	}
	work := filepath.Base(f.work)
	for _, file := range f.files { // the report, made last, comes last
		if dir := path.Dir(file.Path); dir != "." {
			if err := root.Mkdir(dir, 0o777); err != nil && !errors.Is(err, fs.ErrExist) {
				return err
			}
		}
		if err := root.Rename(work+"/"+file.Path, file.Path); err != nil {
			return err
		}
	}
	for _, dir := range []string{"plates", "films"} {
		_ = root.Remove(dir) // stays when it holds something
	}
	syncFolder(f.path)
	return os.RemoveAll(f.work)
}

// same reports whether a file that is there has the bytes of a new one: it was
// left by a run that was cut off between its moves.
func (f *Folder) same(root *os.Root, info fs.FileInfo, file File) bool {
	if !info.Mode().IsRegular() || info.Size() != file.Bytes {
		return false
	}
	there, err := root.Open(file.Path)
	if err != nil {
		return false
	}
	defer there.Close()
	sum, _, err := checksum(there)
	return err == nil && sum == file.SHA256
}

// Abandon removes what is under way. After Commit it does nothing.
func (f *Folder) Abandon() { os.RemoveAll(f.work) }
