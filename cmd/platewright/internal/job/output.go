package job

import (
	"fmt"
	"os"
	"strconv"

	"platewright/composite"
	"platewright/halftone"
	"platewright/halftone/film"
	"platewright/separate"
)

// makes reports whether a part of the result is made.
func (r *run) makes(part Only) bool { return r.Only == "" || r.Only == part }

// fileName is the name of an ink's plate and film without its ending.
func (r *run) fileName(i int) string {
	return r.fileStart() + "-" + strconv.Itoa(i+1) + "-" + FileName(r.Inks[i])
}

func (r *run) fileStart() string { return FileName(r.Name) }

// write makes the files and puts the folder in its place.
func (r *run) write() error {
	look := r.look() // takes from the picture what the sheet shows of it
	r.pic = nil
	sec := &r.report.Seconds
	if r.makes("proof") {
		r.opt.Step("predicting the print")
		if err := r.writeProof(); err != nil {
			return err
		}
	}
	if r.makes("plates") {
		r.opt.Step("writing the plates")
		for i := range r.Inks {
			if err := r.writePlate(i); err != nil {
				return err
			}
		}
	}
	r.lap(&sec.Write)
	if r.makes("films") && len(r.Films) > 0 {
		if err := r.writeFilms(); err != nil {
			return err
		}
	}
	r.lap(&sec.Film)
	if r.Only == "" {
		if err := r.writeSheet(look); err != nil {
			return err
		}
	}
	err := r.create("job.toml", func(f *guarded) error {
		_, err := f.Write(r.In(r.folder.Path()).Format())
		return err
	})
	if err != nil {
		return err
	}
	r.lap(&sec.Write)
	if err := r.ctx.Err(); err != nil {
		return err
	}
	return r.folder.Commit(r.report)
}

func (r *run) create(name string, fill func(*guarded) error) error {
	return r.folder.Create(name, func(f *os.File) error { return fill(&guarded{f, r.ctx}) })
}

func (r *run) info(title string, dpi float64) film.Info {
	return film.Info{DPI: dpi, Title: title, Date: r.Date.Time()}
}

func (r *run) writeProof() error {
	print, err := r.choice.Model.Render(r.res.Ink, r.res.Width, r.res.Height, r.Bits, 0)
	if err != nil {
		return err
	}
	r.lap(&r.report.Seconds.Proof)
	return r.create("proof.png", func(f *guarded) error {
		return film.WriteProof(f, print.Width, print.Height, print.Pix, print.Pix16, r.info(r.Name+", predicted print", r.report.Artwork.PPI))
	})
}

func (r *run) writePlate(i int) error {
	name := "plates/" + r.fileName(i) + ".png"
	r.report.Inks[i].Plate = name
	return r.create(name, func(f *guarded) error {
		return film.WritePlate(f, r.plate(i), r.Bits, r.info(r.filmTitle(i), r.report.Artwork.PPI))
	})
}

func (r *run) plate(i int) *halftone.Plate {
	return &halftone.Plate{Width: r.res.Width, Height: r.res.Height, Cov: r.res.Ink[i]}
}

func (r *run) filmTitle(i int) string {
	return fmt.Sprintf("%s, %d of %d: %s", r.Name, i+1, len(r.Inks), r.Inks[i])
}

// page lays an ink's plate on the film's sheet.
func (r *run) page(i int) (*film.Page, error) {
	label := film.Label{Ink: r.Inks[i], Pull: i + 1, Of: len(r.Inks), Job: r.Name, Paper: r.Paper, Date: r.Date.Time(), Dot: "none"}
	w, h := r.layout.Area()
	if r.res.Tints == separate.TintsNone {
		return r.layout.Page(r.res.Labels.Bits(i, w, h), label, nil)
	}
	var tone halftone.Tone = r.plate(i)
	if r.res.Labels != nil {
		tone = r.res.Labels.Tone(i, w, h)
	}
	return screenedPage(r.layout, tone, r.screens[i], label)
}

// screenedPage lays a plate of coverage on a sheet through a screen.
func screenedPage(layout *film.Layout, tone halftone.Tone, screen *halftone.Screen, label film.Label) (*film.Page, error) {
	w, h := layout.Area()
	raster, err := halftone.NewRaster(tone, w, h, screen, halftone.Options{})
	if err != nil {
		return nil, err
	}
	label.RulingLPI, label.AngleDeg, label.Dot = screen.Ruling(), screen.Angle(), screen.Spec().Dot.String()
	steps := wedge(screen)
	if screen.Spec().Dot == halftone.None {
		steps = nil
	}
	return layout.Page(raster, label, steps)
}

// writeFilms writes the films in each format. A writer uses all cores by
// itself, so they are written one after the other.
func (r *run) writeFilms() error {
	var pages []*film.Page
	for i := range r.Inks {
		p, err := r.page(i)
		if err != nil {
			return err
		}
		pages = append(pages, p)
	}
	for i, p := range pages {
		r.opt.Step("writing film " + strconv.Itoa(i+1) + " of " + strconv.Itoa(len(pages)))
		info := r.info(r.filmTitle(i), 0)
		info.Compression = r.compression()
		for _, format := range r.Films {
			if format == "pdf" {
				continue
			}
			name := "films/" + r.fileName(i) + filmEnding(format)
			if r.report.Inks[i].Film == "" {
				r.report.Inks[i].Film = name
			}
			err := r.create(name, func(f *guarded) error {
				if format == "png" {
					return film.WritePNG(f, p, info)
				}
				return film.WriteTIFF(f, p, info)
			})
			if err != nil {
				return err
			}
		}
	}
	if !r.Films.Has("pdf") {
		return nil
	}
	name := "films/" + r.fileStart() + "-films.pdf"
	for i := range pages {
		if r.report.Inks[i].Film == "" {
			r.report.Inks[i].Film = name
		}
	}
	info := r.info(r.Name+", films", 0)
	info.Compression = r.compression()
	return r.create(name, func(f *guarded) error { return film.WritePDF(f, pages, info) })
}

// compression is what packs the films best.
func (r *run) compression() film.Compression {
	if r.screened() && r.Dot != "none" {
		return film.Deflate
	}
	return film.Group4
}

func filmEnding(format string) string {
	if format == "png" {
		return ".png"
	}
	return ".tif"
}

// reduced are plates small enough for the job sheet.
type reduced struct {
	w, h   int
	plates [][]uint16
}

// reduce averages plates over an area so that no side is longer than longest.
func reduce(plates [][]uint16, w, h, longest int) *reduced {
	out := &reduced{w: w, h: h, plates: plates}
	m := max(w, h)
	if m <= longest {
		return out
	}
	out.w, out.h = max(1, (w*longest+m/2)/m), max(1, (h*longest+m/2)/m)
	out.plates = make([][]uint16, len(plates))
	for i, plate := range plates {
		small := make([]uint16, out.w*out.h)
		for y := range out.h {
			y0, y1 := y*h/out.h, (y+1)*h/out.h
			for x := range out.w {
				x0, x1 := x*w/out.w, (x+1)*w/out.w
				var sum uint64
				for yy := y0; yy < y1; yy++ {
					for _, v := range plate[yy*w+x0 : yy*w+x1] {
						sum += uint64(v)
					}
				}
				n := uint64((x1 - x0) * (y1 - y0))
				small[y*out.w+x] = uint16((sum + n/2) / n)
			}
		}
		out.plates[i] = small
	}
	return out
}

// render predicts the print after the first n pulls.
func (d *reduced) render(m *composite.Model, n int) (*composite.Print, error) {
	plates := make([][]uint16, len(d.plates))
	bare := make([]uint16, d.w*d.h)
	for i := range plates {
		plates[i] = bare
		if i < n {
			plates[i] = d.plates[i]
		}
	}
	return m.Render(plates, d.w, d.h, 8, 0)
}
