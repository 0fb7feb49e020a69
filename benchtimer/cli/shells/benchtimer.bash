# Completion of benchtimer for bash. In ~/.bashrc: eval "$(benchtimer completion bash)"
# The program itself says what may stand at the cursor; see benchtimer completion --help.

_benchtimer_complete() {
    local program=${COMP_WORDS[0]/#\~\//$HOME/} word=$2 offer
    COMPREPLY=()
    while IFS= read -r offer; do
        case $offer in
            :file) compopt -o filenames
                   while IFS= read -r offer; do COMPREPLY+=("$offer"); done < <(compgen -f -- "$word") ;;
            :folder) compopt -o filenames
                     while IFS= read -r offer; do COMPREPLY+=("$offer"); done < <(compgen -d -- "$word") ;;
            *) COMPREPLY+=("$offer") ;;
        esac
    done < <("$program" --complete bash "${COMP_LINE:0:COMP_POINT}" "$COMP_WORDBREAKS" 2>/dev/null)
    # Behind these the word goes on.
    if [[ ${#COMPREPLY[@]} -eq 1 && ${COMPREPLY[0]} == *[=:.] ]]; then
        compopt -o nospace
    fi
}

complete -F _benchtimer_complete benchtimer
