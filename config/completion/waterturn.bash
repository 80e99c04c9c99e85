# Completion of waterturn for bash: asks the program itself, so that it knows every command and option.
_waterturn() {
    local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]} command=${COMP_WORDS[1]}
    COMPREPLY=()
    if [ "$COMP_CWORD" -eq 1 ]; then
        COMPREPLY=($(compgen -W "$(waterturn --help | sed -n 's/^  \([a-z0-9]*\) .*/\1/p')" -- "$word"))
        return
    fi
    case $before in
    --units) COMPREPLY=($(compgen -W 'metric us' -- "$word")) ;;
    --language) COMPREPLY=($(compgen -W 'en es' -- "$word")) ;;
    --role) COMPREPLY=($(compgen -W 'reader operator manager' -- "$word")) ;;
    --db | --config | --credentials) COMPREPLY=($(compgen -f -- "$word")) ;;
    *)
        if [[ $word == -* ]]; then
            COMPREPLY=($(compgen -W "$(waterturn "$command" --help 2>/dev/null | sed -n 's/^  \(--[a-z-]*\).*/\1/p')" -- "$word"))
        else
            COMPREPLY=($(compgen -f -- "$word"))
        fi
        ;;
    esac
}
complete -F _waterturn waterturn
