package main

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"
	"syscall"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"platewright/cmd/platewright/internal/job"
	"platewright/halftone/film"
	"platewright/separate/artwork"
)

// Exit codes.
const (
	exitDone        = 0
	exitFailed      = 1
	exitUsage       = 2
	exitSome        = 3 // some files of several failed
	exitInterrupted = 130
)

// usageError is a command line that cannot be meant.
type usageError struct{ err error }

func (e *usageError) Error() string { return e.err.Error() }
func (e *usageError) Unwrap() error { return e.err }

func usage(format string, args ...any) error { return &usageError{fmt.Errorf(format, args...)} }

// someError says how many of several files failed.
type someError struct{ failed, all int }

func (e *someError) Error() string {
	if e.failed == e.all {
		return fmt.Sprintf("all %d files failed: see above", e.all)
	}
	return fmt.Sprintf("%d of %d files failed: see above", e.failed, e.all)
}

func exitCode(err error) int {
	var some *someError
	var typed *usageError
	var setting *job.SettingError
	var size *job.SizeError
	var fit *film.FitError
	var screen *job.ScreenError
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &some):
		return exitSome
	case errors.As(err, &typed), errors.As(err, &setting), errors.As(err, &size), errors.As(err, &fit), errors.As(err, &screen):
		return exitUsage
	}
	return exitFailed
}

// reword puts errors of libraries into the words of this program.
func reword(err error) error {
	var setting *job.SettingError
	var path *fs.PathError
	switch {
	case errors.As(err, &setting) && err == error(setting):
		return fmt.Errorf("--%w", err)
	case errors.Is(err, artwork.ErrTooLarge):
		return fmt.Errorf("%w, or raise --max-pixels or --max-memory", err)
	case errors.As(err, &path):
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return fmt.Errorf("%s: there is no such file: check the name and the folder", path.Path)
		case errors.Is(err, fs.ErrPermission):
			return fmt.Errorf("%s: not allowed: check who may read and write there", path.Path)
		case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
			return fmt.Errorf("%s: the disk is full: make room and run it again", place(path.Path))
		case errors.Is(err, syscall.EROFS):
			return fmt.Errorf("%s: the disk cannot be written to: name another folder with -o", place(path.Path))
		}
		return fmt.Errorf("%s: %w", path.Path, path.Err)
	}
	if text := err.Error(); unsigned(text) != text {
		return errors.New(unsigned(text))
	}
	return err
}

// unsigned is an error without the name of the package that signs it, as
// people need not know of packages.
func unsigned(text string) string {
	if head, rest, ok := strings.Cut(text, ": "); ok && signs(head) {
		return rest
	}
	return text
}

// place is a path without the hidden folders and files that results are made
// in, which are gone by the time one looks.
func place(path string) string {
	parts := strings.Split(path, string(filepath.Separator))
	for i, p := range parts {
		if i > 0 && strings.HasPrefix(p, ".") && (strings.HasSuffix(p, ".part") || p == ".batch") {
			return strings.Join(parts[:i], string(filepath.Separator))
		}
	}
	return path
}

func signs(s string) bool {
	switch s {
	case "artwork", "chart", "choose", "composite", "film", "halftone", "ink", "separate", "sheet", "spread":
		return true
	}
	return false
}

func unknownCommand(cmd *cobra.Command, name string) error {
	var names []string
	for _, c := range cmd.Root().Commands() {
		if c.IsAvailableCommand() {
			names = append(names, c.Name())
		}
	}
	if near := job.Nearest(name, names); near != "" {
		return usage("there is no command %q: did you mean %s?", name, near)
	}
	return usage("there is no command %q: there are %s", name, strings.Join(names, ", "))
}

// flagError rewords what the flag parser found.
func flagError(cmd *cobra.Command, err error) error {
	var unknown *pflag.NotExistError
	var missing *pflag.ValueRequiredError
	var invalid *pflag.InvalidValueError
	var syntax *pflag.InvalidSyntaxError
	switch {
	case errors.Is(err, pflag.ErrHelp):
		return err
	case errors.As(err, &unknown):
		if short := unknown.GetSpecifiedShortnames(); short != "" {
			return usage("there is no flag -%s: platewright %s --help lists them", unknown.GetSpecifiedName(), cmd.Name())
		}
		var names []string
		cmd.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
		if near := job.Nearest(unknown.GetSpecifiedName(), names); near != "" {
			return usage("there is no flag --%s: did you mean --%s?", unknown.GetSpecifiedName(), near)
		}
		return usage("there is no flag --%s: platewright %s --help lists them", unknown.GetSpecifiedName(), cmd.Name())
	case errors.As(err, &missing):
		f := missing.GetFlag()
		return usage("--%s needs its value: give --%s %s", f.Name, f.Name, f.Value.Type())
	case errors.As(err, &invalid):
		return usage("--%s %s: %s", invalid.GetFlag().Name, invalid.GetValue(), unsigned(invalid.Unwrap().Error()))
	case errors.As(err, &syntax):
		return usage("%s is no flag: platewright %s --help lists them", syntax.GetSpecifiedFlag(), cmd.Name())
	}
	return &usageError{err}
}

// needFiles wants one or more file names.
func needFiles(what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 {
			return usage("name %s: platewright %s", what, cmd.Use)
		}
		for _, a := range args {
			if a == "" {
				return usage("a file name is empty: name %s", what)
			}
		}
		return nil
	}
}

func noFiles(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usage("%s takes no file, but %q was given: leave it out", cmd.Name(), args[0])
	}
	return nil
}
