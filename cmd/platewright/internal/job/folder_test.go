package job

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

func write(text string) func(*os.File) error {
	return func(f *os.File) error {
		_, err := f.WriteString(text)
		return err
	}
}

// tree lists all files below a folder with their content.
func tree(t *testing.T, dir string) []string {
	t.Helper()
	var out []string
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		if d.Name() == ReportFile {
			data = nil
		}
		out = append(out, filepath.ToSlash(rel)+"="+string(data))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func wantTree(t *testing.T, dir string, want ...string) {
	t.Helper()
	if got := tree(t, dir); !slices.Equal(got, want) {
		t.Errorf("%s holds %q, want %q", filepath.Base(dir), got, want)
	}
}

func fill(t *testing.T, f *Folder, files ...string) {
	t.Helper()
	for i := 0; i < len(files); i += 2 {
		if err := f.Create(files[i], write(files[i+1])); err != nil {
			t.Fatal(err)
		}
	}
}

func TestFolder(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "job")
	f, err := NewFolder(path, false, nil)
	if err != nil {
		t.Fatal(err)
	}
	fill(t, f, "plates/a.png", "1", "films/a.tif", "2", "job.toml", "3")
	if _, err := os.Stat(path); err == nil {
		t.Error("the folder is there before it is whole")
	}
	if err := f.Commit(&Report{}); err != nil {
		t.Fatal(err)
	}
	f.Abandon()
	wantTree(t, dir, "job/films/a.tif=2", "job/job.toml=3", "job/plates/a.png=1", "job/report.json=")

	if _, err := NewFolder(path, false, nil); !errors.Is(err, ErrExists) {
		t.Errorf("a result was overwritten: %v", err)
	}

	// What was added by hand stays; what the earlier run made goes.
	for name, text := range map[string]string{"plates/mine.png": "m", "notes.txt": "n"} {
		if err := os.WriteFile(filepath.Join(path, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if f, err = NewFolder(path, true, nil); err != nil {
		t.Fatal(err)
	}
	fill(t, f, "plates/b.png", "4")
	if err := f.Commit(&Report{}); err != nil {
		t.Fatal(err)
	}
	wantTree(t, path, "notes.txt=n", "plates/b.png=4", "plates/mine.png=m", "report.json=")

	// A file of the same name that no run made is not replaced.
	if f, err = NewFolder(path, true, nil); err != nil {
		t.Fatal(err)
	}
	fill(t, f, "plates/mine.png", "new")
	if err := f.Commit(&Report{}); err == nil {
		t.Error("a file made by hand was replaced")
	}
	f.Abandon()
	wantTree(t, path, "notes.txt=n", "plates/b.png=4", "plates/mine.png=m", "report.json=")

	// A run that is given up leaves all as it was.
	if f, err = NewFolder(path, true, nil); err != nil {
		t.Fatal(err)
	}
	fill(t, f, "plates/c.png", "5")
	f.Abandon()
	wantTree(t, path, "notes.txt=n", "plates/b.png=4", "plates/mine.png=m", "report.json=")
}

func TestFolderFailure(t *testing.T) {
	dir := t.TempDir()
	f, err := NewFolder(filepath.Join(dir, "job"), false, nil)
	if err != nil {
		t.Fatal(err)
	}
	broken := errors.New("broken")
	if err := f.Create("proof.png", func(f *os.File) error { f.WriteString("half"); return broken }); !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
	f.Abandon()
	wantTree(t, dir)
}

// TestFolderLinks wants a link in the job folder to lead nowhere.
func TestFolderLinks(t *testing.T) {
	dir := t.TempDir()
	path, other := filepath.Join(dir, "job"), filepath.Join(dir, "other")
	for _, d := range []string{path, other} {
		if err := os.Mkdir(d, 0o777); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(other, "a.png"), []byte("precious"), 0o666); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("../other", filepath.Join(path, "plates")); err != nil {
		t.Skip("no links here")
	}
	report := `{"files": [{"path": "plates/a.png"}]}`
	if err := os.WriteFile(filepath.Join(path, ReportFile), []byte(report), 0o666); err != nil {
		t.Fatal(err)
	}
	f, err := NewFolder(path, true, nil)
	if err != nil {
		t.Fatal(err)
	}
	fill(t, f, "plates/a.png", "new")
	if err := f.Commit(&Report{}); err == nil {
		t.Error("a link out of the folder was followed")
	}
	f.Abandon()
	wantTree(t, other, "a.png=precious")
}

func TestOurs(t *testing.T) {
	for path, want := range map[string]bool{
		"job.toml": true, "proof.png": true, "sheet.html": true, "plates/a-1-b.png": true, "films/a.tif": true, "films/a-films.pdf": true,
		"a-plates.pdf": true, "-plates.pdf": false, "a.pdf": false, "notes.txt": false, "../proof.png": false, "/proof.png": false,
		"plates/../proof.png": false, "plates/x/a.png": false, "plates/.png": false, "": false, ".": false, `plates\a.png`: false, "report.json": false,
	} {
		if got := ours(path); got != want {
			t.Errorf("%q: %v", path, got)
		}
	}
}

func TestWriteFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.png")
	if err := WriteFile(path, false, nil, write("1")); err != nil {
		t.Fatal(err)
	}
	if err := WriteFile(path, false, nil, write("2")); !errors.Is(err, ErrExists) {
		t.Errorf("overwritten: %v", err)
	}
	if err := WriteFile(path, true, []string{path}, write("2")); err == nil {
		t.Error("the input was overwritten")
	}
	if err := WriteFile(filepath.Join(dir, "none", "a.png"), true, nil, write("2")); err == nil {
		t.Error("a file was made in no folder")
	}
	if err := WriteFile(path, true, nil, func(f *os.File) error { f.WriteString("half"); return errors.New("broken") }); err == nil {
		t.Error("no error")
	}
	wantTree(t, dir, "a.png=1")
	if err := WriteFile(path, true, nil, write("2")); err != nil {
		t.Fatal(err)
	}
	wantTree(t, dir, "a.png=2")
}
