package main

import (
	"strings"

	"github.com/spf13/cobra"

	"platewright/cmd/platewright/internal/job"
)

func newCompletion(p *program) *cobra.Command {
	shells := []string{"bash", "zsh", "fish", "powershell"}
	return &cobra.Command{
		Use:       "completion SHELL",
		Short:     "print the completion script of a shell: " + strings.Join(shells, ", "),
		Example:   `  source <(platewright completion bash)`,
		ValidArgs: shells,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usage("name one shell: %s", strings.Join(shells, ", "))
			}
			root := cmd.Root()
			switch args[0] {
			case "bash":
				return root.GenBashCompletionV2(p.out, true)
			case "zsh":
				return root.GenZshCompletion(p.out)
			case "fish":
				return root.GenFishCompletion(p.out, true)
			case "powershell":
				return root.GenPowerShellCompletionWithDesc(p.out)
			}
			if near := job.Nearest(args[0], shells); near != "" {
				return usage("no completion for %q: did you mean %s?", args[0], near)
			}
			return usage("no completion for %q: there is one for %s", args[0], strings.Join(shells, ", "))
		},
	}
}
