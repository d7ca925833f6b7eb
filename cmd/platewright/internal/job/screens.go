package job

import (
	"runtime"
	"slices"
	"sync"

	"platewright/halftone"
)

// screenMaker makes a screen, once.
type screenMaker func() (*halftone.Screen, error)

// newScreenMaker begins to make a screen.
func newScreenMaker(spec halftone.Spec) screenMaker {
	do := sync.OnceValues(func() (*halftone.Screen, error) { return halftone.NewScreen(spec) })
	go func() { _, _ = do() }()
	return do
}

// screenSpecs are the screens of the inks.
func (j *Job) screenSpecs(names []string, angles []float64) ([]halftone.Spec, error) {
	dot, err := halftone.ParseDot(string(j.Dot))
	if err != nil {
		return nil, err
	}
	specs := make([]halftone.Spec, len(angles))
	for i, a := range angles {
		specs[i] = halftone.Spec{Ruling: j.Ruling.Of(names[i]), Angle: a, Dot: dot, DPI: j.Resolution(),
			MinDot: j.MinDot.MM(), MinHole: j.MinDot.MM()}
	}
	return specs, nil
}

// makeScreens makes the screen of each ink and says what is unwise about them.
func (s *FilmSet) makeScreens(angles []float64) error {
	specs, err := s.job.screenSpecs(s.names, angles)
	if err != nil {
		return err
	}
	makers := make([]screenMaker, len(specs))
	for i, spec := range specs {
		if first := slices.Index(specs, spec); first < i {
			makers[i] = makers[first]
		} else if makers[i] = s.ahead[spec]; makers[i] == nil {
			makers[i] = newScreenMaker(spec)
		}
	}
	for i, spec := range specs {
		if s.screens[i], err = makers[i](); err != nil {
			return &ScreenError{err}
		}
		if slices.Index(specs, spec) == i {
			s.add(s.screens[i].Findings())
		}
	}
	if !s.job.Dot.Screened() {
		return nil
	}
	s.add(halftone.EqualAngles(s.names, angles))
	s.adviseMesh(angles)
	return nil
}

// lookAhead begins to make the screens while the picture is read, which takes one
// core, where the job says which inks print. What is wrong with the job is said
// later, in its place.
func (r *run) lookAhead() error {
	if runtime.GOMAXPROCS(0) == 1 || len(r.Job.Inks) == 0 || r.Tints == "none" || r.duplicator() || r.opt.Quick {
		return nil
	}
	paper, inks, err := r.stock.Named(r.Job)
	if err != nil {
		return nil
	}
	choice, err := r.stock.Choose(r.Job, paper, inks)
	if err != nil {
		return nil
	}
	names := choice.Names()
	specs, err := r.screenSpecs(names, r.screenAngles(names, choice.darkness()))
	if err != nil {
		return nil
	}
	r.ahead = make(map[halftone.Spec]screenMaker)
	for _, spec := range specs {
		r.ahead[spec] = sync.OnceValues(func() (*halftone.Screen, error) { return halftone.NewScreen(spec) })
	}
	go func() { // one after the other, which holds less
		for _, spec := range specs {
			_, _ = r.ahead[spec]()
		}
	}()
	return nil
}
