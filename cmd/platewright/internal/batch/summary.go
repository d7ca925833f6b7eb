package batch

import (
	"bytes"
	_ "embed"
	"encoding/base64"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"net/url"
	"os"
	"path"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"platewright/cmd/platewright/internal/job"
	"platewright/cmd/platewright/internal/preflight"
)

// The files of a summary, in the folder of results.
const (
	summaryHTML = "summary.html"
	summaryJSON = "summary.json"
	summaryCSV  = "summary.csv"
)

// Summary is what became of a folder. It holds no time and no machine: the same
// folder gives the same summary.
type Summary struct {
	Program string    `json:"program"`
	Folder  string    `json:"folder"`
	Counts  Counts    `json:"counts"`
	Jobs    []Entry   `json:"jobs"`
	Skipped []Skipped `json:"skipped"`
}

// Counts are the numbers of pictures by what became of them.
type Counts struct {
	Pictures int `json:"pictures"`
	Done     int `json:"done"`
	Held     int `json:"held"`
	Failed   int `json:"failed"`
	Missing  int `json:"missing"` // not worked on yet
	Skipped  int `json:"skipped"` // files that are no pictures
}

// Missing is the state of a picture that no process has worked on.
const Missing = "missing"

// Entry is one picture of a summary.
type Entry struct {
	File     string        `json:"file"`
	SHA256   string        `json:"sha256"`
	State    string        `json:"state"`
	Reason   string        `json:"reason,omitempty"`
	Folder   string        `json:"folder"` // of its job, "" when there is none
	Level    string        `json:"level"`  // the gravest finding
	WidthMM  float64       `json:"width_mm"`
	HeightMM float64       `json:"height_mm"`
	Paper    string        `json:"paper"`
	Inks     []job.Ink     `json:"inks"`
	Fit      *job.Fit      `json:"fit"`
	Findings []job.Finding `json:"findings"`
	Films    []job.File    `json:"films"`

	Thumb  template.URL `json:"-"`
	Sheet  string       `json:"-"` // link
	Letter string       `json:"-"` // to the client
}

// Collect gathers what processes made of the pictures of a folder into a
// summary, and writes it.
func Collect(folder *Folder, s *Settings, results string) (*Summary, error) {
	if _, err := os.Stat(filepath.Join(results, stateName)); err != nil {
		return nil, fmt.Errorf("%s: nothing was made here: run platewright batch %s first", results, folder.Path)
	}
	st, err := openStore(results)
	if err != nil {
		return nil, err
	}
	n, err := st.newSession()
	if err != nil {
		return nil, err
	}
	defer n.end()
	r := &running{session: n, settings: s}
	return n.summarize(folder, s), r.finish(folder, s)
}

func (s store) summarize(folder *Folder, set *Settings) *Summary {
	abs, err := filepath.Abs(folder.Path)
	if err != nil {
		abs = folder.Path
	}
	sum := &Summary{Program: set.Program, Folder: shown(filepath.Base(abs)), Jobs: []Entry{}, Skipped: []Skipped{}}
	for i := range folder.Inputs {
		e := s.entry(&folder.Inputs[i])
		switch e.State {
		case Done:
			sum.Counts.Done++
		case Held:
			sum.Counts.Held++
		case Failed:
			sum.Counts.Failed++
		case Missing:
			sum.Counts.Missing++
		}
		sum.Jobs = append(sum.Jobs, e)
	}
	for _, k := range folder.Skipped {
		sum.Skipped = append(sum.Skipped, Skipped{shown(k.File), k.Reason, k.Mend})
	}
	sum.Counts.Pictures, sum.Counts.Skipped = len(folder.Inputs), len(folder.Skipped)
	return sum
}

func (s store) entry(in *Input) Entry {
	e := Entry{File: shown(filepath.ToSlash(in.Rel)), SHA256: in.Size.SHA256, State: Missing, Inks: []job.Ink{}, Findings: []job.Finding{}, Films: []job.File{}}
	r := s.record(in.Name)
	if r == nil || r.SHA256 != in.Size.SHA256 {
		return e
	}
	e.State, e.Reason = r.State, shown(r.Reason)
	if r.Report == nil {
		return e
	}
	rep := r.Report
	e.Folder, e.WidthMM, e.HeightMM, e.Paper, e.Fit = in.Name, rep.Print.WidthMM, rep.Print.HeightMM, rep.Paper, rep.Fit
	e.Inks, e.Findings = rep.Inks, rep.Findings
	found := job.Checked(rep.Findings)
	e.Level = string(preflight.Worst(found))
	if f := rep.Artwork.Facts; f != nil && len(found) > 0 {
		preflight.Sort(found)
		e.Letter = preflight.Letter(shown(filepath.Base(in.Rel)), *f, found)
	}
	for _, f := range rep.Files {
		if strings.HasPrefix(f.Path, "films/") {
			e.Films = append(e.Films, f)
		}
		if f.Path == "sheet.html" {
			e.Sheet = link(in.Name, f.Path)
		}
	}
	if len(r.Thumb) > 0 {
		e.Thumb = template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(r.Thumb))
	}
	return e
}

func link(parts ...string) string { return (&url.URL{Path: path.Join(parts...)}).EscapedPath() }

// shown is a text that may hold any bytes as UTF-8 without control characters.
func shown(s string) string {
	var b strings.Builder
	for len(s) > 0 {
		r, n := utf8.DecodeRuneInString(s)
		if r == utf8.RuneError && n == 1 || r < ' ' || r == 0x7f || r >= 0x80 && r < 0xa0 || r >= 0x200e && r <= 0x200f || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			for _, c := range []byte(s[:n]) {
				fmt.Fprintf(&b, `\x%02x`, c)
			}
		} else {
			b.WriteString(s[:n])
		}
		s = s[n:]
	}
	return b.String()
}

func (s store) writeSummary(sum *Summary) error {
	for _, f := range []struct {
		name string
		fill func(io.Writer) error
	}{{summaryJSON, sum.writeJSON}, {summaryCSV, sum.writeCSV}, {summaryHTML, sum.writeHTML}} {
		sweepDir(s.root, f.name)
		err := job.WriteFile(filepath.Join(s.root, f.name), true, nil, func(w *os.File) error { return f.fill(w) })
		if err != nil {
			return err
		}
	}
	return nil
}

func (sum *Summary) writeJSON(w io.Writer) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(sum)
}

func (sum *Summary) writeCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	_ = c.Write([]string{"file", "state", "level", "reason", "folder", "width_mm", "height_mm", "paper", "inks", "mean_de00", "in_reach_percent", "findings", "sha256"})
	num := func(v float64) string { return fmt.Sprintf("%g", v) }
	for _, e := range sum.Jobs {
		var inks, codes []string
		for _, i := range e.Inks {
			inks = append(inks, i.Name)
		}
		for _, f := range e.Findings {
			codes = append(codes, f.Code)
		}
		row := []string{e.File, e.State, e.Level, e.Reason, e.Folder, "", "", e.Paper, strings.Join(inks, ", "), "", "", strings.Join(codes, " "), e.SHA256}
		if e.Folder != "" {
			row[5], row[6] = num(e.WidthMM), num(e.HeightMM)
		}
		if e.Fit != nil {
			row[9], row[10] = num(e.Fit.MeanDE00), num(e.Fit.InReachPercent)
		}
		for i := range row {
			row[i] = noFormula(row[i])
		}
		_ = c.Write(row)
	}
	for _, k := range sum.Skipped {
		_ = c.Write([]string{noFormula(k.File), "skipped", "", k.Reason + ": " + k.Mend, "", "", "", "", "", "", "", "", ""})
	}
	c.Flush()
	return c.Error()
}

// noFormula keeps a spreadsheet from taking a file's name for a formula.
func noFormula(s string) string {
	if s != "" && strings.ContainsRune("=+-@", rune(s[0])) {
		return "'" + s
	}
	return s
}

//go:embed summary.html
var summaryPage string

func (sum *Summary) writeHTML(w io.Writer) error {
	t, err := template.New("summary").Funcs(template.FuncMap{
		"mm": func(v float64) string { return fmt.Sprintf("%.0f", v) },
		"state": func(s string) []Entry {
			var out []Entry
			for _, e := range sum.Jobs {
				if e.State == s {
					out = append(out, e)
				}
			}
			return out
		},
		"made": func(e Entry) bool { return e.Folder != "" },
	}).Parse(summaryPage)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := t.Execute(&b, sum); err != nil {
		return err
	}
	_, err = w.Write(b.Bytes())
	return err
}
