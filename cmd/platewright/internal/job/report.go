package job

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"

	"platewright/cmd/platewright/internal/preflight"
)

// Report is the outcome of a separation, report.json. Its names are stable.
type Report struct {
	Name     string    `json:"name"`
	Program  string    `json:"program"` // and its version
	Date     string    `json:"date"`    // as on the films
	Artwork  Artwork   `json:"artwork"`
	Print    Print     `json:"print"`
	Paper    string    `json:"paper"`
	Shelf    string    `json:"shelf"`
	Inks     []Ink     `json:"inks"` // in print order
	Tints    string    `json:"tints"`
	TrapMM   float64   `json:"trap_mm"`
	ChokeMM  float64   `json:"choke_mm,omitempty"` // of the underbase
	Fit      *Fit      `json:"fit,omitempty"`
	Coverage *Coverage `json:"coverage,omitempty"`

	// Edition is what all copies take; nil where no sheet was made, and for a
	// stencil duplicator.
	Edition *Edition `json:"edition,omitempty"`

	Mesh *MeshReport `json:"mesh,omitempty"`

	Held     bool      `json:"held,omitempty"` // findings kept the films back
	Findings []Finding `json:"findings"`
	Files    []File    `json:"files"` // all that the run made, report.json aside
	Seconds  Seconds   `json:"seconds"`
}

// Artwork is the picture that was separated.
type Artwork struct {
	File           string  `json:"file"` // its name, without the folder
	SHA256         string  `json:"sha256"`
	Width          int     `json:"width"` // pixels, upright
	Height         int     `json:"height"`
	DistinctColors int     `json:"distinct_colors"`
	Profile        string  `json:"profile"`
	Format         string  `json:"format"`
	PPI            float64 `json:"ppi"` // at print size

	Facts *preflight.Facts `json:"facts,omitempty"`
}

// Print is the print and its place on the films, in pixels of the film from its
// top left corner.
type Print struct {
	WidthMM  float64 `json:"width_mm"`
	HeightMM float64 `json:"height_mm"`
	FilmDPI  float64 `json:"film_dpi"`
	OriginPx [2]int  `json:"origin_px"` // where the artwork begins
	SizePx   [2]int  `json:"size_px"`   // of the artwork
	FilmPx   [2]int  `json:"film_px"`   // of the whole film
}

// Ink is one plate and its film.
type Ink struct {
	Name         string  `json:"name"`
	Order        int     `json:"order"`        // 1 is printed first
	BasePercent  float64 `json:"base_percent"` // transparent base printed with
	Plate        string  `json:"plate"`        // file in the job folder, "" when none was made
	Film         string  `json:"film"`
	MeanCoverage float64 `json:"mean_coverage"` // 0 … 1
	RulingLPI    float64 `json:"ruling_lpi"`    // as it came out; 0 where nothing is screened
	AngleDeg     float64 `json:"angle_deg"`
	Dot          string  `json:"dot"`
	Color        string  `json:"color"` // the solid on this paper, sRGB
	KnownBy      string  `json:"known_by"`

	Tones []ToneStep `json:"tones,omitempty"` // what the film holds for a printed percent
}

// Fit says how near the print comes to the artwork, in CIEDE2000.
type Fit struct {
	MeanDE00       float64 `json:"mean_de00"`
	P95DE00        float64 `json:"p95_de00"`
	MaxDE00        float64 `json:"max_de00"`
	InReachPercent float64 `json:"in_reach_percent"`
	LatticeError   float64 `json:"lattice_error_percent"`
	// PlusMinus is by how much the proof itself may be off, on the mean, where
	// the opacity of an ink is only a guess.
	PlusMinus float64 `json:"plus_minus_de00"`
}

// Levels of a Finding.
const (
	Note    = "note"
	Warning = "warning"
	Fault   = "fault"
)

// Finding is what the printer should know, and the mend.
type Finding struct {
	Code    string  `json:"code"` // stable, in kebab case
	Level   string  `json:"level"`
	Message string  `json:"message"`
	Mend    string  `json:"mend"`
	Client  string  `json:"client,omitempty"` // what to ask the client for
	Where   *Where  `json:"where,omitempty"`  // the worst place
	Places  []Where `json:"places,omitempty"` // it and more
}

// Coverage is how much ink lies on the print.
type Coverage struct {
	Plates []preflight.PlateFacts `json:"plates"`
	Total  preflight.TotalFacts   `json:"total"`
}

// Where is a place on the artwork from its top left corner.
type Where struct {
	XMM float64 `json:"x_mm"`
	YMM float64 `json:"y_mm"`
	WMM float64 `json:"w_mm"`
	HMM float64 `json:"h_mm"`
}

// File is one file of a result, by its path in the job folder with slashes.
type File struct {
	Path   string `json:"path"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// Seconds is how long each part took.
type Seconds struct {
	Read     float64 `json:"read"`
	Separate float64 `json:"separate"`
	Proof    float64 `json:"proof"`
	Film     float64 `json:"film"`
	Write    float64 `json:"write"`
}

// Format writes the report as JSON.
func (r *Report) Format() ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(r); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// ReadReport reads the report.json of an earlier run.
func ReadReport(path string) (*Report, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var r Report
	if err := json.NewDecoder(io.LimitReader(f, maxFile)).Decode(&r); err != nil {
		return nil, fmt.Errorf("%s: not a report of an earlier run", path)
	}
	return &r, nil
}

// Same reports whether the file at path has the bytes that are listed.
func (f File) Same(path string) (bool, error) {
	file, err := os.Open(path)
	if err != nil {
		return false, err
	}
	defer file.Close()
	if info, err := file.Stat(); err != nil || info.Size() != f.Bytes {
		return false, err
	}
	sum, _, err := checksum(file)
	return err == nil && sum == f.SHA256, err
}
