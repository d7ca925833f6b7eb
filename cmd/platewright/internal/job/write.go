package job

import (
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
)

// ErrExists is wrapped by the errors about a result that is there already.
var ErrExists = errors.New("already there")

// WriteFile makes the file at path by fill, whole or not at all: it is filled
// under a hidden name beside it, brought to disk and renamed. A file that is
// there is replaced only with force, and never when it is one of the inputs.
func WriteFile(path string, force bool, inputs []string, fill func(*os.File) error) (err error) {
	if err := CheckFile(path, force, inputs); err != nil {
		return err
	}
	dir, base := filepath.Split(path)
	f, err := os.OpenFile(filepath.Join(dir, hidden(base)), os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if err := fill(f); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return err
	}
	syncFolder(filepath.Dir(path))
	return nil
}

// CheckFile returns the error that WriteFile would, so that it comes before the
// work.
func CheckFile(path string, force bool, inputs []string) error {
	info, err := os.Stat(path)
	if errors.Is(err, os.ErrNotExist) {
		dir := filepath.Dir(path)
		if d, err := os.Stat(dir); err != nil || !d.IsDir() {
			return fmt.Errorf("%s: there is no folder %s: make it first", path, dir)
		}
		return nil
	}
	if err != nil {
		return err
	}
	for _, in := range inputs {
		if i, err := os.Stat(in); err == nil && os.SameFile(i, info) {
			return fmt.Errorf("%s is an input: name another file with -o", path)
		}
	}
	switch {
	case info.IsDir():
		return fmt.Errorf("%s is a folder: name a file with -o", path)
	case !force:
		return fmt.Errorf("%s is %w: name another file with -o, or replace it with --force", path, ErrExists)
	}
	return nil
}

// hidden is a name for a file or folder under way that nobody else has.
func hidden(base string) string {
	const most = 220 // leaves room for what is added, of the 255 bytes that file systems take
	if len(base) > most {
		base = FileName(base)
	}
	return "." + base + "." + strconv.FormatUint(rand.Uint64(), 36) + ".part"
}

// syncFolder brings renames in a folder to disk, where the system can.
func syncFolder(path string) {
	if d, err := os.Open(path); err == nil {
		_ = d.Sync() // some systems cannot; the rename holds all the same
		d.Close()
	}
}

var _ io.WriteSeeker = (*os.File)(nil)

// WriteNew makes a small file that must not be there yet: of several processes
// one succeeds, and none sees half of it. The others get an error that is
// fs.ErrExist.
func WriteNew(path string, data []byte) error {
	dir, base := filepath.Split(path)
	f, err := os.OpenFile(filepath.Join(dir, hidden(base)), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	hiddenName := f.Name()
	defer os.Remove(hiddenName)
	if _, err = f.Write(data); err == nil {
		err = f.Sync()
	}
	if e := f.Close(); err == nil {
		err = e
	}
	if err != nil {
		return err
	}
	err = os.Link(hiddenName, path)
	if err == nil || errors.Is(err, os.ErrExist) {
		return err
	}
	// Some file systems know no second name for a file.
	f, err = os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	defer f.Close()
	_, err = f.Write(data)
	return err
}
