# bash completion for brant and its programs. It reads their --help, so that it knows what
# the installed programs take, and nothing else.

# Lines of --help as "option argument": the argument is empty for a flag.
_brant_options()
{
    "$1" --help 2>/dev/null | sed -n 's/^  \(-[-a-z]*\) *$/\1/p;
        s/^  \(-[-a-z]*\)  .*/\1/p; s/^  \(-[-a-z]*\) \([^ ][^ ]*\).*/\1 \2/p'
}

# The names that `brant` runs.
_brant_programs()
{
    brant --help 2>/dev/null | sed -n 's/^  \([a-z][a-z]*\)  .*/\1/p'
}

# What compgen finds, a line each; without /dev/fd, which a bare root folder lacks.
_brant_offer()
{
    local found
    found=$(compgen "$@")
    COMPREPLY=()
    [[ -z $found ]] || mapfile -t COMPREPLY <<< "$found"
}

_brant_files()
{
    compopt -o filenames 2>/dev/null
    _brant_offer -f -- "$1"
}

# _brant_complete PROGRAM WORD PREVIOUS: an option, its value, or a file.
_brant_complete()
{
    local program=$1 word=$2 previous=$3 argument
    if [[ $previous == -?* ]]; then
        argument=$(_brant_options "$program" | sed -n "s/^$previous //p" | head -n 1)
        case $argument in
        '') ;;
        *FILE* | DIR | ZONES | GPX)
            _brant_files "$word"
            return ;;
        *[a-z]'|'[a-z]*)
            _brant_offer -W "${argument//|/ }" -- "$word"
            return ;;
        *) # a number or a time
            COMPREPLY=()
            return ;;
        esac
    fi
    if [[ $word == -* ]]; then
        _brant_offer -W "$(_brant_options "$program" | cut -d ' ' -f 1)" -- "$word"
    else
        _brant_files "$word"
    fi
}

_brant()
{
    local program=${COMP_WORDS[0]##*/} word=${COMP_WORDS[COMP_CWORD]}
    if [[ $program == brant ]]; then
        if ((COMP_CWORD == 1)); then
            _brant_offer -W "$(_brant_programs) --help --version" -- "$word"
            return
        fi
        program=brant-${COMP_WORDS[1]}
    fi
    _brant_complete "$program" "$word" "${COMP_WORDS[COMP_CWORD - 1]}"
}

complete -F _brant brant brant-{check,slope,zones,runout,route,plan,screen,sheet}
