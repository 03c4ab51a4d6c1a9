"""``completion``: the script with which bash, zsh or fish completes command lines of burnerlab."""

from __future__ import annotations

import click

from burnerlab.cli.options import takes
from burnerlab.cli.output import document_option
from burnerlab.cli.text_file import OUTPUT_FILE, OutputFile, give_text
from burnerlab.quantity.inputs import Input

PROGRAM = "burnerlab"
VARIABLE = "_BURNERLAB_COMPLETE"  # by which click knows that a shell asks
SHELLS = ("bash", "zsh", "fish")
# Values with blanks are quoted by bash itself where it takes them for file names. A word such as --burner=NAME comes in
# three parts; without the "=" it is an option and its value (manual of bash, "Programmable Completion").
BASH = """\
_burnerlab_completion() {
    local IFS=$'\\n' kind value index place=$COMP_CWORD
    local -a words=()
    for index in "${!COMP_WORDS[@]}"; do
        if [[ ${COMP_WORDS[index]} != "=" ]]; then
            words+=("${COMP_WORDS[index]}")
        elif ((index == COMP_CWORD)); then
            words+=("")
        elif ((index < COMP_CWORD)); then
            ((place--))
        fi
    done
    COMPREPLY=()
    while IFS=, read -r kind value; do
        case $kind in
            dir) compopt -o dirnames 2>/dev/null ;;
            file) compopt -o default -o filenames 2>/dev/null ;;
            plain)
                [[ $value == *[!a-zA-Z0-9_-]* ]] && compopt -o filenames 2>/dev/null
                COMPREPLY+=("$value")
                ;;
        esac
    done < <(env COMP_WORDS="${words[*]}" COMP_CWORD="$place" _BURNERLAB_COMPLETE=bash_complete "$1" 2>/dev/null)
}
complete -o nosort -F _burnerlab_completion burnerlab
"""
AGAIN = "$zsh_eval_context[-1] == loadautofunc", "$zsh_eval_context[-1] == (loadautofunc|shfunc)"
"""Of zsh: click's script completes when it is loaded from $fpath; called again, for the second tabulator of a session,
it only registered itself."""
SHELL = Input(name="shell", choices=SHELLS, metavar="[bash|zsh|fish]", is_argument=True, is_needed=True)


def completion_script(shell: str) -> str:
    """The script of a shell.

    >>> completion_script("bash").splitlines()[-1]
    'complete -o nosort -F _burnerlab_completion burnerlab'
    """
    if shell == "bash":
        return BASH
    from click.shell_completion import get_completion_class

    from burnerlab.cli import main

    made = get_completion_class(shell)
    assert made is not None
    return made(main, {}, PROGRAM, VARIABLE).source().strip("\n").replace(*AGAIN) + "\n"


@click.command(short_help="Script of bash, zsh or fish to complete command lines.")
@takes(shell=SHELL, to=OUTPUT_FILE)
@document_option
def completion_command(shell: str, to: OutputFile, as_json: bool) -> None:
    """A script that completes commands, options, words, files, gases, drills, countries, burners and markets of FILE.

    Where the shell looks for it:

    \b
      bash  ~/.local/share/bash-completion/completions/burnerlab
      zsh   a folder of $fpath, as _burnerlab
      fish  ~/.config/fish/completions/burnerlab.fish

    For one session: eval "$(burnerlab completion bash)", the same for zsh; burnerlab completion fish | source.

    \b
    Examples:
      burnerlab completion bash
      burnerlab completion fish --out burnerlab.fish
    """
    script = completion_script(shell)
    # zsh takes a file of $fpath for a completion by its first line alone
    give_text(script, to, as_json, comment="#", opening="#compdef", shell=shell, script=script)
