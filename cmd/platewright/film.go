package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"platewright/cmd/platewright/internal/job"
)

// filmOptions are the flags of film.
type filmOptions struct {
	outFlags
	jobFlags
	inked   bool // whether a shelf was named
	angles  bool // whether they were typed, and not those of a job
	rulings bool // the same of rulings
	strip   int  // steps of an exposure test strip; 0 makes films of plates
}

func newFilm(p *program) *cobra.Command {
	o := &filmOptions{jobFlags: jobFlags{job: *job.New()}}
	cmd := &cobra.Command{
		Use:   "film PLATE… [flags]",
		Short: "make film positives of grayscale plates",
		Long: `film makes a one-bit film of each grayscale plate, at true size, black where ink
prints, with marks, label, tone wedge and a bar to check the size. The plates
are those of one print, in print order, first printed first.

With --shelf the plates are taken as made by hand, a tint as dark as it shall
print: films of inks whose tints were measured get what prints so. Plates of
separate hold film percents already; give their job.toml in its place.`,
		Example: `  platewright film key.png -o key.tif --ruling 55 --film-size A3
  platewright film poster-plates/plates/*.png --job poster-plates/job.toml -o films
  platewright film base.png key.png --shelf shelf.toml --inks "egg yolk,harbor blue" --trap auto
  platewright film --test-strip 7 --ruling 45 --mesh 77/cm -o strip.pdf`,
		Args: func(cmd *cobra.Command, args []string) error {
			switch {
			case o.strip == 0:
				return needFiles("plates in print order")(cmd, args)
			case len(args) > 0:
				return usage("--test-strip makes a film of its own and %q is a plate: give one of them", args[0])
			}
			return nil
		},
	}
	fs := cmd.Flags()
	o.addFlags(fs)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if err := o.read(fs); err != nil {
			return err
		}
		if o.jobFile != "" && !fs.Changed("width") && !fs.Changed("height") {
			o.job.Width, o.job.Height = "", ""
		}
		if o.Out != "" && len(args) <= 1 && !fs.Changed("films") {
			switch strings.ToLower(filepath.Ext(o.Out)) {
			case ".tif", ".tiff":
				o.job.Films = job.Formats{"tiff"}
			case ".png":
				o.job.Films = job.Formats{"png"}
			case ".pdf":
				o.job.Films = job.Formats{"pdf"}
			}
		}
		o.angles, o.rulings, o.inked = fs.Changed("angle"), fs.Changed("ruling"), fs.Changed("shelf")
		if err := o.checkShelf(fs); err != nil {
			return err
		}
		if o.strip != 0 {
			return o.runStrip(cmd.Context(), p)
		}
		return o.run(cmd.Context(), p, args)
	}
	return cmd
}

func (o *filmOptions) addFlags(fs *pflag.FlagSet) {
	o.outFlags.addFlags(fs, "the film, or with several plates the folder that holds theirs; without it PLATE-film where you stand")
	addText(fs, &o.jobFile, "job", "", "FILE", "take inks and film settings from a job.toml; flags given beside it win")
	addText(fs, &o.job.Shelf, "shelf", "", "FILE", "the inks and papers, with what was measured of them, for plates made by hand")
	addSettings(fs, job.Setting{Key: "inks", Arg: "NAMES", Help: "the plates' inks in print order, with commas between, or a @set of the shelf; without it the files' names", Value: &o.job.Inks},
		job.Setting{Key: "paper", Arg: "NAME", Help: "the paper; without it the shelf's first", Value: &o.job.Paper})
	addSettings(fs, o.job.SizeSettings()...)
	addSettings(fs, o.job.FilmSettings()...)
	addSettings(fs, o.job.ToneSettings()...)
	addSome(fs, o.job.RegisterSettings(), "register", "trap")
	addSettings(fs, job.Setting{Key: "test-strip", Arg: "STEPS", Help: "in place of plates a film to find an exposure with, 3 to 12 steps; it gives no times, take them from the emulsion maker's data sheet", Value: &o.strip})
	addSettings(fs, o.job.DateSetting())
	o.limitFlags.addFlags(fs)
}

func (o *filmOptions) run(ctx context.Context, p *program, paths []string) error {
	if err := o.check(); err != nil {
		return err
	}
	stock, choice, err := o.choose(len(paths))
	if err != nil {
		return err
	}
	names, err := o.names(paths)
	if err != nil {
		return err
	}
	for _, name := range o.job.Angle.Names() {
		if o.angles && !slices.ContainsFunc(names, func(n string) bool { return strings.EqualFold(n, name) }) {
			return usage("--angle: no plate of ink %q: there are %s", name, strings.Join(names, ", "))
		}
	}
	for _, name := range o.job.Ruling.Names() {
		if o.rulings && !slices.ContainsFunc(names, func(n string) bool { return strings.EqualFold(n, name) }) {
			return usage("--ruling: no plate of ink %q: there are %s", name, strings.Join(names, ", "))
		}
	}
	formats := o.job.FilmFormats()
	if len(formats) == 0 {
		return usage("--films none leaves nothing to make: give tiff, png or pdf")
	}
	if o.job.Name == "" {
		o.job.Name = job.ArtName(paths[0])
	}
	if o.job.Date == "" {
		o.job.Date = job.Date(time.Now().Format(time.DateOnly))
	}
	targets, err := o.targets(paths, formats)
	if err != nil {
		return err
	}
	for _, t := range targets {
		if err := job.CheckFile(t.Path, o.Force, paths); err != nil {
			return err
		}
	}
	p.step("reading the plates")
	plates, err := job.ReadPlates(paths, o.limitFlags.limits(), o.job.Width, o.job.Height)
	if err != nil {
		return err
	}
	p.say("%s", plates[0].Note)
	found := job.PlateFindings(plates)
	p.sayFindings(found)
	set, known, err := o.films(p, plates, names, stock, choice)
	if err != nil {
		return err
	}
	p.sayFindings(set.Findings)
	for _, t := range targets {
		p.step("writing " + t.Path)
		err := job.WriteFile(t.Path, o.Force, paths, func(f *os.File) error { return set.Write(ctx, f, t.Format, t.Plate, nil) })
		if err != nil {
			return err
		}
		p.say("made: %s", t.Path)
	}
	p.say("print order: %s", printOrder(names))
	if o.JSON {
		return p.writeJSON(struct {
			Films []filmTarget   `json:"films"`
			Inks  []job.PlateInk `json:"inks,omitempty"`
			job.Print
			Findings []job.Finding `json:"findings"`
		}{targets, known, set.Print, append(found, set.Findings...)})
	}
	return nil
}

// checkShelf refuses what a shelf does not go with, or is needed for.
func (o *filmOptions) checkShelf(fs *pflag.FlagSet) error {
	switch {
	case o.inked && o.strip != 0:
		return usage("--test-strip needs no inks: leave --shelf out")
	case o.inked && o.jobFile != "":
		return usage("plates of a job hold film percents already and --shelf is for plates made by hand: leave --job or --shelf out")
	case o.inked && len(o.job.Inks) == 0:
		return usage("name the inks in print order, one for each plate: --inks NAMES")
	case o.inked:
		return nil
	}
	for _, name := range []string{"register", "trap"} {
		if fs.Changed(name) {
			return usage("--%s needs to know how the inks cover: name their shelf with --shelf", name)
		}
	}
	return nil
}

// choose finds inks and paper on the shelf, nil where none was named.
func (o *filmOptions) choose(plates int) (*job.Stock, *job.Choice, error) {
	if !o.inked {
		return nil, nil, nil
	}
	stock, err := o.job.OpenStock()
	if err != nil {
		return nil, nil, err
	}
	paper, inks, err := stock.Named(&o.job)
	if err != nil {
		return nil, nil, err
	}
	if len(inks) != plates {
		return nil, nil, usage("%d plates and %d inks: name one ink for each plate, in print order", plates, len(inks))
	}
	c, err := stock.Choose(&o.job, paper, inks)
	if err != nil {
		return nil, nil, err
	}
	o.job.Inks, o.job.Paper = c.Names(), paper.Name
	return stock, c, c.CheckPlates(&o.job)
}

// films makes the films and says what the shelf did to them.
func (o *filmOptions) films(p *program, plates []*job.Plate, names []string, stock *job.Stock, c *job.Choice) (*job.FilmSet, []job.PlateInk, error) {
	if c == nil {
		set, err := o.job.PlateFilms(plates, names)
		return set, nil, err
	}
	set, known, err := o.job.InkedFilms(plates, stock, c, p.say)
	if err != nil {
		return nil, nil, err
	}
	for _, k := range known {
		if len(k.Tones) == 0 {
			p.say("%s: tints on film as in the plate; the shelf has no printed tints of it", k.Name)
			continue
		}
		var steps []string
		for _, s := range k.Tones {
			steps = append(steps, fmt.Sprintf("%g → %g", s.Print, s.Film))
		}
		p.say("%s: print → film %%: %s", k.Name, strings.Join(steps, ", "))
	}
	return set, known, nil
}

// names are the ink names of the plates.
func (o *filmOptions) names(paths []string) ([]string, error) {
	if len(o.job.Inks) == 0 {
		var names []string
		for _, path := range paths {
			names = append(names, strings.TrimSuffix(filepath.Base(path), filepath.Ext(path)))
		}
		return names, nil
	}
	if len(o.job.Inks) != len(paths) {
		return nil, usage("%d plates and %d inks: name one ink for each plate, in print order", len(paths), len(o.job.Inks))
	}
	return o.job.Inks, nil
}

// filmTarget is one file to make: a plate's film in a format, or all in a PDF.
type filmTarget struct {
	Path   string `json:"path"`
	Format string `json:"format"`
	Plate  int    `json:"-"`
}

// targets says which files are made, and makes the folder that holds them.
func (o *filmOptions) targets(paths, formats []string) ([]filmTarget, error) {
	one := len(paths) == 1 && len(formats) == 1
	if info, err := os.Stat(o.Out); o.Out != "" && one && !(err == nil && info.IsDir()) {
		return []filmTarget{{o.Out, formats[0], 0}}, nil
	}
	if o.Out != "" {
		if err := os.MkdirAll(o.Out, 0o777); err != nil {
			return nil, err
		}
	}
	var out []filmTarget
	taken := make(map[string]string)
	for i, path := range paths {
		name := job.ArtName(path) + "-film"
		if other, ok := taken[strings.ToLower(name)]; ok {
			return nil, usage("%s and %s would give the same film: rename one of them", other, path)
		}
		taken[strings.ToLower(name)] = path
		for _, format := range formats {
			if format != "pdf" {
				out = append(out, filmTarget{filepath.Join(o.Out, name+job.FilmEnding(format)), format, i})
			}
		}
	}
	if slices.Contains(formats, "pdf") {
		out = append(out, filmTarget{filepath.Join(o.Out, job.FileName(o.job.Name)+"-films.pdf"), "pdf", 0})
	}
	return out, nil
}

func printOrder(names []string) string {
	parts := make([]string, len(names))
	for i, n := range names {
		parts[i] = fmt.Sprintf("%d %s", i+1, n)
	}
	return strings.Join(parts, ", ")
}
