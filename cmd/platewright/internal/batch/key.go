package batch

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"platewright/cmd/platewright/internal/job"
	"platewright/composite"
)

// Settings are the same for all pictures of a batch.
type Settings struct {
	Job     *job.Job
	Stock   *job.Stock
	Program string // name and version, for reports
	Build   string // tells two builds of a version apart
	Hold    string // level of findings from which films are held back; "": never

	Word func(error) string // puts an error into a line for people
}

// work is one picture with its own settings.
type work struct {
	*Input
	job   *job.Job
	stock *job.Stock
	key   string
	inks  int
	rows  bool // whether plates are made row by row, not held
}

// plan gives a picture its settings and the key of its work.
func (s *Settings) plan(in *Input, folder string) (*work, error) {
	w := &work{Input: in, job: s.Job, stock: s.Stock, inks: s.Job.InkCount}
	if in.Override != "" {
		if err := w.override(); err != nil {
			return nil, err
		}
	}
	j := *w.job
	j.Art, j.SHA256, j.ShelfCopy = "", in.Size.SHA256, ""
	if j.Name == "" {
		j.Name = job.ArtName(in.Rel)
	}
	w.job = &j
	h := sha256.New()
	// The picture's place is in job.toml.
	place, err := filepath.Rel(folder, in.Path)
	if err != nil {
		place = in.Path
	}
	fmt.Fprintf(h, "%s\n%s\n%s\n%s\n%q\n%s\n", s.Program, s.Build, s.Hold, in.Name, place, j.Format())
	if err := w.fingerprint(h); err != nil {
		return nil, err
	}
	w.key = hex.EncodeToString(h.Sum(nil))
	return w, nil
}

// override lays the picture's own settings over those of the batch.
func (w *work) override() error {
	data, err := readSmall(w.Override)
	if err != nil {
		return err
	}
	name := filepath.Base(w.Override)
	j, err := w.job.With(data, name)
	if err != nil {
		return err
	}
	if j.Art != w.job.Art || j.SHA256 != w.job.SHA256 {
		return fmt.Errorf("%s: the picture is the one beside it: leave art and art-sha256 out", name)
	}
	if j.Shelf != w.job.Shelf || j.ShelfCopy != w.job.ShelfCopy {
		if j.Shelf != "" && j.Shelf != job.BuiltIn && !filepath.IsAbs(j.Shelf) {
			j.Shelf = filepath.Join(filepath.Dir(w.Override), filepath.FromSlash(j.Shelf))
		}
		if w.stock, err = j.OpenStock(); err != nil {
			return err
		}
	}
	w.job, w.inks = j, j.InkCount
	return nil
}

const maxOverride = 16 << 20

func readSmall(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxOverride+1))
	if err == nil && len(data) > maxOverride {
		err = fmt.Errorf("%s: larger than 16 MB: write only what differs for this picture", path)
	}
	return data, err
}

// fingerprint writes what the shelf decides of the work: where the inks are
// named, what these and their overprints print, which other inks of the shelf
// may change without this print being made anew; else the whole shelf.
func (w *work) fingerprint(to io.Writer) error {
	paper, inks, err := w.stock.Named(w.job)
	if err != nil {
		return err
	}
	from := w.stock.From
	if from != job.BuiltIn {
		from = filepath.Base(from)
	}
	fmt.Fprintf(to, "%s\n", from)
	if len(inks) == 0 {
		w.inks = max(w.inks, w.job.InkCount)
		io.WriteString(to, w.stock.Copy)
		return nil
	}
	w.inks = len(inks)
	c, err := w.stock.Choose(w.job, paper, inks)
	if err != nil {
		return err
	}
	if err := c.Check(w.job); err != nil {
		return err
	}
	w.rows = w.job.ByRows(c, w.Size.Width*w.Size.Height)
	fmt.Fprintf(to, "%q %q %x %x %x %q\n", paper.Name, paper.Finish, paper.Color, paper.Surface, paper.N, paper.Record)
	for _, u := range c.Uses {
		f, err := w.stock.Film(u.Ink)
		if err != nil {
			return err
		}
		fmt.Fprintf(to, "%q %q %x %x %x %q\n", u.Ink.Name, u.Ink.KnownBy(), u.Base, f.Base, f.Opacity, u.Ink.Record)
	}
	return colors(to, c.Model)
}

// colors writes what a model prints: all solids and overprints, each ink's
// tints, and tints of each two.
func colors(to io.Writer, m *composite.Model) error {
	k := m.Inks()
	for mask := range uint(1) << k {
		fmt.Fprintf(to, "%x\n", m.Overprint(mask))
	}
	e := m.NewEvaluator()
	cov := make([]float64, k)
	for i := range k {
		for _, a := range []float64{.05, .1, .25, .5, .75, .9, .95} {
			clear(cov)
			cov[i] = a
			fmt.Fprintf(to, "%x\n", e.XYZ(cov))
			for j := range i {
				cov[j] = a
				fmt.Fprintf(to, "%x\n", e.XYZ(cov))
				cov[j] = 0
			}
		}
	}
	return nil
}

// Choosable reports whether a job says what to print with: inks or a shelf.
func Choosable(j *job.Job) bool {
	return len(slices.DeleteFunc(slices.Clone([]string(j.Inks)), func(s string) bool { return strings.TrimSpace(s) == "" })) > 0 || j.Shelf != "" || j.ShelfCopy != ""
}
