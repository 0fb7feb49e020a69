#compdef benchtimer
# Completion of benchtimer for zsh. In ~/.zshrc, behind compinit:
#     eval "$(benchtimer completion zsh)"
# or as a file _benchtimer in a folder of $fpath. The program itself says what may stand at
# the cursor; see benchtimer completion --help.

_benchtimer() {
    local program=${~words[1]} line tab=$'\t' files=
    local -a whole shown open open_shown
    while IFS= read -r line; do
        case $line in
            :file) files=file ;;
            :folder) files=folder ;;
            *)
                local word=${line%%$tab*} told=$line
                if [[ $line == *$tab* ]]; then
                    told="$word  -- ${line#*$tab}"
                fi
                if [[ $word == *[=:.] ]]; then
                    open+=("$word") open_shown+=("$told")
                else
                    whole+=("$word") shown+=("$told")
                fi ;;
        esac
    done < <("$program" --complete zsh "${(@Q)words[1,CURRENT-1]}" "${(Q)PREFIX}" 2>/dev/null)
    (( $#whole )) && compadd -l -d shown -a whole
    # Behind these the word goes on.
    (( $#open )) && compadd -l -S '' -d open_shown -a open
    case $files in
        file) _files ;;
        folder) _files -/ ;;
    esac
    return 0
}

if [[ $funcstack[1] == _benchtimer ]]; then
    _benchtimer "$@"
else
    compdef _benchtimer benchtimer
fi
