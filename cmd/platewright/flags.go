package main

import (
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"platewright/cmd/platewright/internal/job"
	"platewright/composite/ink"
	"platewright/separate/artwork"
)

// settingFlag is a setting of a job as a flag. It keeps what was typed, to lay
// it over a job file that is read later.
type settingFlag struct {
	job.Setting
	typed []string
}

func (f *settingFlag) Set(s string) error {
	if err := f.Setting.Set(s, len(f.typed) > 0); err != nil {
		return err
	}
	f.typed = append(f.typed, s)
	return nil
}

// String is the value, which help shows as the default.
func (f *settingFlag) String() string {
	if f.Value == nil { // pflag asks a zero value what it says
		return ""
	}
	return f.Text()
}

// Type is the word for the value in help.
func (f *settingFlag) Type() string {
	if f.Arg == "" {
		return "bool"
	}
	return f.Arg
}

// addSettings makes a flag of each setting, with the same name.
func addSettings(fs *pflag.FlagSet, settings ...job.Setting) {
	for _, s := range settings {
		f := fs.VarPF(&settingFlag{Setting: s}, s.Key, "", s.Help)
		if s.Arg == "" {
			f.NoOptDefVal = "true"
		}
	}
}

// addSome makes flags of the settings with the given names.
func addSome(fs *pflag.FlagSet, settings []job.Setting, names ...string) {
	for _, s := range settings {
		if slices.Contains(names, s.Key) {
			addSettings(fs, s)
		}
	}
}

// carried are those of the named flags that were given, as they were typed, to
// stand in the command that comes next.
func carried(fs *pflag.FlagSet, names ...string) string {
	var s strings.Builder
	for _, name := range names {
		if f := fs.Lookup(name); f != nil && f.Changed {
			for _, typed := range f.Value.(*settingFlag).typed {
				s.WriteString(" --" + name + " " + quoted(typed))
			}
		}
	}
	return s.String()
}

// overlay replaces *j by the job in a file and lays the flags that were given
// over it. The flags must be settings of *j.
func overlay(fs *pflag.FlagSet, j *job.Job, path string) error {
	read, err := job.Read(path)
	if err != nil {
		return err
	}
	*j = *read
	fs.Visit(func(f *pflag.Flag) {
		s, ok := f.Value.(*settingFlag)
		if !ok {
			return
		}
		for i, typed := range s.typed {
			if e := s.Setting.Set(typed, i > 0); e != nil && err == nil {
				err = e // it was taken before, so it is now
			}
		}
	})
	return err
}

// jobFlags are a job, by flags or from a file.
type jobFlags struct {
	limitFlags
	job     job.Job
	jobFile string
}

// addFile adds the file of the job, of which it takes what, and that of inks.
func (o *jobFlags) addFile(fs *pflag.FlagSet, what string) {
	addText(fs, &o.jobFile, "job", "", "FILE", "take "+what+" from a job.toml; flags given beside it win")
	addShelf(fs, &o.job.Shelf)
}

// addSettings adds all that decides a result.
func (o *jobFlags) addSettings(fs *pflag.FlagSet) {
	addSettings(fs, o.job.InkSettings()...)
	addSettings(fs, o.job.SizeSettings()...)
	addSettings(fs, o.job.SeparationSettings()...)
	addSettings(fs, o.job.RegisterSettings()...)
	addSettings(fs, o.job.UnderbaseSettings()...)
	addSettings(fs, o.job.FilmSettings()...)
	addSettings(fs, o.job.ToneSettings()...)
	addSettings(fs, o.job.DateSetting())
	addSettings(fs, o.job.OutputSettings()...)
	addSettings(fs, o.job.EditionSettings()...)
	addSettings(fs, o.job.CheckSettings()...)
}

// read takes the job from its file where one is named.
func (o *jobFlags) read(fs *pflag.FlagSet) error {
	if o.jobFile == "" {
		return nil
	}
	if err := overlay(fs, &o.job, o.jobFile); err != nil {
		return err
	}
	if fs.Changed("shelf") {
		o.job.ShelfCopy = ""
	}
	return nil
}

// check refuses settings that cannot be meant.
func (o *jobFlags) check() error {
	if err := o.limitFlags.check(); err != nil {
		return err
	}
	return o.job.Check()
}

// stock opens the shelf and refuses wrong names before any picture is read.
func (o *jobFlags) stock() (*job.Stock, error) {
	stock, err := o.job.OpenStock()
	if err != nil {
		return nil, err
	}
	paper, inks, err := stock.Named(&o.job)
	if err != nil || len(inks) == 0 {
		return stock, err
	}
	choice, err := stock.Choose(&o.job, paper, inks)
	if err != nil {
		return nil, err
	}
	return stock, choice.Check(&o.job)
}

// outFlags are where results go.
type outFlags struct {
	Out   string
	Force bool
	JSON  bool
}

func (o *outFlags) addFlags(fs *pflag.FlagSet, out string) {
	addText(fs, &o.Out, "out", "o", "PATH", out)
	addBool(fs, &o.Force, "force", "", "replace what an earlier run made")
	addBool(fs, &o.JSON, "json", "", "write the result to stdout as JSON")
}

// answer writes a result to stdout, as JSON or in words.
func (o *outFlags) answer(p *program, result interface{ print(*program) error }) error {
	if o.JSON {
		return p.writeJSON(result)
	}
	return result.print(p)
}

// shelfAndPaper opens the shelf of a job and finds its paper there.
func shelfAndPaper(j *job.Job) (*job.Stock, *ink.Paper, error) {
	stock, err := j.OpenStock()
	if err != nil {
		return nil, nil, err
	}
	paper, _, err := stock.Named(j)
	return stock, paper, err
}

// addShelf adds the file of inks and papers.
func addShelf(fs *pflag.FlagSet, shelf *string) {
	addText(fs, shelf, "shelf", "", "FILE", "the inks and papers; without it ./shelf.toml, or else the built-in example inks")
}

// limitFlags bound what a picture may take.
type limitFlags struct {
	MaxPixels float64 // millions
	MaxMemory float64 // MB
}

func (l *limitFlags) addFlags(fs *pflag.FlagSet) {
	l.MaxPixels, l.MaxMemory = 250, 2048
	addNumber(fs, &l.MaxPixels, "max-pixels", "MILLIONS", "largest picture that is read, in millions of pixels")
	addNumber(fs, &l.MaxMemory, "max-memory", "MB", "most memory that reading a picture may take, in MB")
}

func (l *limitFlags) limits() artwork.Limits {
	return artwork.Limits{MaxPixels: int64(l.MaxPixels * 1e6), MaxBytes: int64(l.MaxMemory * 1e6)}
}

func (l *limitFlags) check() error {
	if !(l.MaxPixels > 0 && l.MaxPixels <= 1e6) {
		return usage("--max-pixels %g: give millions of pixels above zero, such as 250", l.MaxPixels)
	}
	if !(l.MaxMemory > 0 && l.MaxMemory <= 1e7) {
		return usage("--max-memory %g: give MB above zero, such as 2048", l.MaxMemory)
	}
	return nil
}

// addText, addNumber and addBool add a flag that is no setting of a job. What
// it points to is its default.
func addText(fs *pflag.FlagSet, p *string, name, short, arg, help string) {
	fs.VarP(&settingFlag{Setting: job.Setting{Key: name, Arg: arg, Help: help, Value: p}}, name, short, help)
}

func addNumber(fs *pflag.FlagSet, p *float64, name, arg, help string) {
	fs.Var(&settingFlag{Setting: job.Setting{Key: name, Arg: arg, Help: help, Value: p}}, name, help)
}

func addBool(fs *pflag.FlagSet, p *bool, name, short, help string) {
	f := fs.VarPF(&settingFlag{Setting: job.Setting{Key: name, Help: help, Value: p}}, name, short, help)
	f.NoOptDefVal = "true"
}
