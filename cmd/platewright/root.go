package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
)

// program is where a command's input comes from and its words go to.
type program struct {
	in  io.Reader
	out io.Writer // results that machines read
	err io.Writer // words for people

	terminal bool // whether err is one, where progress may be shown
	stepping bool // whether a line of progress stands there
}

// commands are all commands, in the order of the help. A further one is a file
// of its own and a line here.
func (p *program) commands() []*cobra.Command {
	return []*cobra.Command{
		newSeparate(p),
		newProof(p),
		newFilm(p),
		newPreflight(p),
		newBatch(p),
		newBatchOne(p),
		newCompare(p),
		newSuggest(p),
		newMix(p),
		newChart(p),
		newMeasure(p),
		newInks(p),
		newVersion(p),
		newCompletion(p),
	}
}

// run runs one command line and returns its exit code.
func (p *program) run(ctx context.Context, args []string) int {
	root := p.root()
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return exitDone
	}
	if ctx.Err() != nil {
		p.endStep()
		p.say("platewright: interrupted: nothing half-written was left")
		return exitInterrupted
	}
	p.say("platewright: %s", oneLine(reword(err).Error()))
	return exitCode(err)
}

func (p *program) root() *cobra.Command {
	cobra.EnableCommandSorting = false // the help keeps the order of commands
	root := &cobra.Command{
		Use:                   "platewright COMMAND [flags] FILES",
		DisableFlagsInUseLine: true,
		Short:                 "separate pictures into plates and films for printing by hand with premixed inks",
		Long: `platewright splits a flattened picture into one plate per ink, predicts the
printed result from how the inks lie over each other, and writes labeled,
registered film positives.

  platewright separate poster.png --inks "harbor blue,egg yolk"
  platewright inks --new shelf.toml

Exit codes: 0 done, 1 failed, 2 wrong usage, 3 some files of several failed,
130 interrupted.`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return unknownCommand(cmd, args[0])
			}
			return nil
		},
		RunE:          func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	root.SetOut(p.out)
	root.SetErr(p.err)
	root.SetIn(p.in)
	root.SetFlagErrorFunc(flagError)
	root.SetUsageTemplate(usageTemplate)
	root.AddCommand(p.commands()...)
	root.SetHelpCommand(newHelp(root))
	root.CompletionOptions.DisableDefaultCmd = true
	help := func(cmd *cobra.Command) {
		cmd.Flags().SortFlags = false
		addBool(cmd.Flags(), new(bool), "help", "h", "say what this does")
	}
	help(root)
	for _, cmd := range root.Commands() {
		help(cmd)
	}
	return root
}

// usageTemplate is what help shows below a command's own words.
const usageTemplate = `Usage:
  {{.UseLine}}{{if .HasExample}}

Examples:
{{.Example}}{{end}}{{if .HasAvailableSubCommands}}

Commands:{{range .Commands}}{{if .IsAvailableCommand}}
  {{rpad .Name .NamePadding}} {{.Short}}{{end}}{{end}}{{end}}

Flags:
{{.LocalFlags.FlagUsagesWrapped 100 | trimTrailingWhitespaces}}{{if .HasAvailableSubCommands}}

platewright COMMAND --help says more of a command.{{end}}
`

// newHelp is cobra's help command with an error for a command that is not
// there.
func newHelp(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND]",
		Short: "say what a command does",
		RunE: func(_ *cobra.Command, args []string) error {
			cmd, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return unknownCommand(root, strings.Join(args, " "))
			}
			return cmd.Help()
		},
	}
}

// say writes one line for people.
func (p *program) say(format string, args ...any) {
	p.endStep()
	fmt.Fprintln(p.err, visible(fmt.Sprintf(format, args...)))
}

// step shows on a terminal what is being done now, until the next word.
func (p *program) step(what string) {
	if p.terminal {
		fmt.Fprintf(p.err, "\r\x1b[K%s …", visible(what))
		p.stepping = true
	}
}

func (p *program) endStep() {
	if p.stepping {
		fmt.Fprint(p.err, "\r\x1b[K")
		p.stepping = false
	}
}

// writeJSON writes one machine-readable result.
func (p *program) writeJSON(v any) error {
	enc := json.NewEncoder(p.out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
