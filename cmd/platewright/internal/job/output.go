package job

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"os"
	"strconv"
	"sync"

	"platewright/composite"
	"platewright/composite/spectrum"
	"platewright/halftone"
	"platewright/halftone/film"
)

// makes reports whether a part of the result is made.
func (r *run) makes(part Only) bool {
	return (r.Only == "" || r.Only == part) && !(r.report.Held && part == "films")
}

// fileName is the name of an ink's plate and film without its ending.
func (r *run) fileName(i int) string {
	return r.fileStart() + "-" + strconv.Itoa(i+1) + "-" + FileName(r.Inks[i])
}

func (r *run) fileStart() string { return FileName(r.Name) }

// write makes the files and puts the folder in its place.
func (r *run) write() error {
	look := r.look() // takes from the picture what the sheet shows of it
	r.pic = nil
	r.rows = r.res.Plates()
	for i := range r.Inks {
		if r.makes("plates") {
			r.report.Inks[i].Plate = "plates/" + r.fileName(i) + ".png"
		}
	}
	sec := &r.report.Seconds
	r.lap(&sec.Write)
	if r.makes("films") {
		if err := r.writeFilms(); err != nil {
			return err
		}
	}
	r.lap(&sec.Film)
	// Films, plates and proof are packed on all cores, the sheet on one.
	sheet := make(chan error, 1)
	go func() {
		if r.Only != "" {
			sheet <- nil
			return
		}
		sheet <- r.writeSheet(look)
	}()
	err := r.writePictures()
	if e := <-sheet; err == nil {
		err = e
	}
	if err != nil {
		return err
	}
	err = r.create("job.toml", func(f *Guarded) error {
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

// writePictures makes the proof and the plates.
func (r *run) writePictures() error {
	if r.makes("proof") {
		r.opt.Step("predicting the print")
		if err := r.writeProof(); err != nil {
			return err
		}
	}
	if !r.makes("plates") {
		return nil
	}
	r.opt.Step("writing the plates")
	if err := together(len(r.Inks), r.writePlate); err != nil {
		return err
	}
	return r.writePlateSets()
}

func (r *run) create(name string, fill func(*Guarded) error) error {
	return r.folder.Create(name, func(f *os.File) error { return fill(Guard(r.ctx, f)) })
}

func (r *run) info(title string, dpi float64) film.Info {
	return film.Info{DPI: dpi, Title: title, Date: r.Date.Time()}
}

func (r *run) writeProof() error {
	defer r.lap(&r.report.Seconds.Proof)
	return r.create("proof.png", func(f *Guarded) error {
		return film.WriteProofRows(f, r.res.Width, r.res.Height, r.Bits, r.proofRows(), r.info(r.Name+", predicted print", r.dpi))
	})
}

// proofRows predicts rows of the print, in the bytes of a PNG.
func (r *run) proofRows() func(dst []byte, y0, y1 int) {
	w, inks := r.res.Width, len(r.Inks)
	type scratch struct {
		*composite.Renderer
		planes [][]uint16
		deep   []uint16
	}
	pool := sync.Pool{New: func() any {
		s := &scratch{r.choice.Model.NewRenderer(), make([][]uint16, inks), make([]uint16, 3*w)}
		for i := range s.planes {
			s.planes[i] = make([]uint16, w)
		}
		return s
	}}
	return func(dst []byte, y0, y1 int) {
		s := pool.Get().(*scratch)
		defer pool.Put(s)
		for y := y0; y < y1; y++ {
			r.res.Row(s.planes, y)
			if r.Bits == 8 {
				s.Row8(s.planes, dst)
				dst = dst[3*w:]
				continue
			}
			s.Row16(s.planes, s.deep)
			for _, v := range s.deep {
				binary.BigEndian.PutUint16(dst, v)
				dst = dst[2:]
			}
		}
	}
}

func (r *run) writePlate(i int, pace *film.Pace) error {
	return r.create(r.report.Inks[i].Plate, func(f *Guarded) error {
		return film.WritePlate(f, r.rows[i], r.Bits, pace.Info(r.info(r.filmTitle(i), r.dpi), i))
	})
}

// plate is a plate that is held.
func (r *run) plate(i int) *halftone.Plate {
	return &halftone.Plate{Width: r.res.Width, Height: r.res.Height, Cov: r.res.Ink[i]}
}

func (r *run) filmTitle(i int) string {
	return fmt.Sprintf("%s, %d of %d: %s", r.Name, i+1, len(r.Inks), r.Inks[i])
}

// writeFilms writes the films in each format, those of one format together: they look at the same rows of the picture at about the same time,
// and while one is brought to disk the cores work for another.
func (r *run) writeFilms() error {
	if len(r.FilmFormats()) == 0 {
		return nil
	}
	for i := range r.Inks {
		if err := r.addFilm(i); err != nil {
			return err
		}
	}
	for _, format := range r.FilmFormats() {
		names := make([]string, len(r.Inks))
		for i := range names {
			names[i] = "films/" + r.fileName(i) + FilmEnding(format)
			if format == "pdf" {
				names[i] = "films/" + r.fileStart() + "-films.pdf"
			}
			if r.report.Inks[i].Film == "" {
				r.report.Inks[i].Film = names[i]
			}
		}
		if format == "pdf" {
			names = names[:1]
			r.opt.Step("writing " + names[0])
		} else {
			r.opt.Step("writing films")
		}
		err := together(len(names), func(i int, pace *film.Pace) error {
			return r.folder.Create(names[i], func(f *os.File) error { return r.films.Write(r.ctx, f, format, i, pace) })
		})
		if err != nil {
			return err
		}
		if format == "pdf" && !r.duplicator() {
			if err := r.writeColorFilms(); err != nil {
				return err
			}
		}
	}
	return nil
}

// together writes n files at the same time, at one pace, and returns the first
// error.
func together(n int, write func(i int, pace *film.Pace) error) error {
	pace := film.NewPace(n)
	errs := make([]error, n)
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() {
			defer pace.Leave(i)
			errs[i] = write(i, pace)
		})
	}
	wg.Wait()
	return cmp.Or(errs...)
}

// writeColorFilms writes the films once more, each in its ink's color.
func (r *run) writeColorFilms() (err error) {
	if r.films.inks, err = r.shownInks(); err != nil {
		return err
	}
	name := "films/" + r.fileStart() + "-films-color.pdf"
	r.opt.Step("writing " + name)
	return r.folder.Create(name, func(f *os.File) error { return r.films.Write(r.ctx, f, colorPDF, 0, nil) })
}

// addFilm adds an ink's film to the set.
func (r *run) addFilm(i int) error {
	w, h := r.films.Print.SizePx[0], r.films.Print.SizePx[1]
	var tone halftone.Tone = r.rows[i]
	switch {
	case r.base != nil && i == 0:
		tone = solids{r.base}
	case r.flats != nil:
		tone = r.flats.Tone(i)
	case r.res.Labels != nil:
		tone = r.res.Labels.Tone(i, w, h)
	}
	switch {
	case r.duplicator():
		return r.films.addPage(i, tone)
	case r.screened():
		return r.films.addScreened(i, tone)
	}
	switch {
	case r.base != nil && i == 0:
		return r.films.addLines(i, r.base)
	case r.flats != nil:
		return r.films.addLines(i, r.flats.Bits(i))
	case r.res.Labels != nil:
		return r.films.addLines(i, r.res.Labels.Bits(i, w, h))
	}
	lines, err := halftone.NewScreen(halftone.Spec{Dot: halftone.None, DPI: r.Resolution()})
	if err != nil {
		return err
	}
	raster, err := halftone.NewRaster(tone, w, h, lines, halftone.Options{})
	if err != nil {
		return err
	}
	return r.films.addLines(i, raster)
}

// writePlateSets writes all plates into one file of each kind.
func (r *run) writePlateSets() error {
	if len(r.PlateSet) == 0 {
		return nil
	}
	model := r.choice.Model
	set := film.Set{
		BleedMM: r.Bleed.MM(),
		Color:   func(cov []float64) [3]float64 { return model.Lab(cov) },
		Shown:   func(cov []float64) [3]float64 { return model.XYZ(cov).RGB() },
	}
	set.PaperLab, set.PaperRGB = shown(model.Overprint(0))
	var err error
	if set.Inks, err = r.shownInks(); err != nil {
		return err
	}
	for i := range r.Inks {
		set.Plates = append(set.Plates, r.rows[i])
	}
	for _, format := range r.PlateSet {
		ending := map[string]string{"pdf": ".pdf", "tiff": ".tif", "ora": ".ora"}[format]
		name := r.fileStart() + "-plates" + ending
		r.opt.Step("writing " + name)
		err := r.create(name, func(f *Guarded) error {
			info := r.info(r.Name+", all plates", r.dpi)
			switch format {
			case "pdf":
				return film.WriteSetPDF(f, set, info)
			case "tiff":
				return film.WriteSetTIFF(f, set, info)
			}
			return film.WriteOpenRaster(f, set, info)
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// shownInks are the inks as files state them.
func (r *run) shownInks() (inks []film.Ink, err error) {
	for i, name := range r.Inks {
		solid := film.Ink{Name: name}
		solid.Lab, solid.RGB = shown(r.choice.Solid(i))
		f, err := r.stock.Film(r.choice.Uses[i].Ink)
		if err != nil {
			return nil, err
		}
		solid.Solidity = min(1, max(0, f.WithBase(r.choice.Uses[i].Base).Opacity))
		inks = append(inks, solid)
	}
	return inks, nil
}

// shown is a color as files state it.
func shown(c spectrum.XYZ) (lab [3]float64, rgb [3]uint8) {
	d := displayed(c)
	return c.Lab(), [3]uint8{d.R, d.G, d.B}
}
