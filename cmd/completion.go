package cmd

import (
	"cmp"
	"io"
	"maps"
	"slices"

	"github.com/spf13/cobra"

	"handback/cmd/session"
)

// newCompletion prints what a shell needs to complete what is typed.
func newCompletion(env *session.Env, root *cobra.Command) *cobra.Command {
	shells := map[string]func(io.Writer) error{
		"bash": func(w io.Writer) error {
			return cmp.Or(root.GenBashCompletionV2(w, true), inPlainBash(w))
		},
		"fish":       func(w io.Writer) error { return root.GenFishCompletion(w, true) },
		"powershell": root.GenPowerShellCompletionWithDesc,
		"zsh":        root.GenZshCompletion,
	}
	names := slices.Sorted(maps.Keys(shells))
	return &cobra.Command{
		Use: "completion SHELL", Short: "print what a shell needs to complete commands, flags, jobs and checks", Args: exactly("SHELL"), ValidArgs: names,
		Long: `Print what a shell needs to complete commands, flags, jobs and checks on the key Tab.
SHELL is bash, fish, powershell or zsh. For the shell that is open now:

  bash        source <(handback completion bash)
  fish        handback completion fish | source
  powershell  handback completion powershell | Out-String | Invoke-Expression
  zsh         source <(handback completion zsh)

For every shell from now on, put that line into the file your shell reads when it starts:
~/.bashrc, ~/.config/fish/config.fish, $PROFILE or ~/.zshrc. zsh needs the line
"autoload -U compinit; compinit" above it; bash needs nothing beside. The packages of a
release bring it along.`,
		Example: "  handback completion bash",
		RunE: func(_ *cobra.Command, args []string) error {
			write := shells[args[0]]
			if write == nil {
				return session.NoSuch("SHELL", args[0], names, "no shell %q", args[0])
			}
			return write(env.Out)
		},
	}
}

// plainBash stands in for the one function of the package bash-completion that the script
// calls: it puts together again the words that bash parted at = and :, and finds the one
// that is being typed.
const plainBash = `
if ! declare -F _get_comp_words_by_ref >/dev/null 2>&1; then
    _get_comp_words_by_ref()
    {
        local i word rest=$COMP_LINE
        words=() cword=0
        for ((i = 0; i <= COMP_CWORD; i++)); do
            word=${COMP_WORDS[i]}
            if ((i > 0)) && [[ $rest != [[:space:]]* && ($word == [=:]* || ${words[cword]} == *[=:]) ]]; then
                words[cword]+=$word
            else
                ((i > 0)) && cword=$((cword + 1))
                words[cword]=$word
            fi
            rest=${rest#"${rest%%[![:space:]]*}"}
            rest=${rest#"$word"}
        done
        cur=${words[cword]} prev=
        ((cword > 0)) && prev=${words[cword-1]}
        return 0
    }
fi
`

func inPlainBash(w io.Writer) error {
	_, err := io.WriteString(w, plainBash)
	return err
}
