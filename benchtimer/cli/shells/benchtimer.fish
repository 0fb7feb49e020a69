# Completion of benchtimer for fish:
#     benchtimer completion fish > ~/.config/fish/completions/benchtimer.fish
# The program itself says what may stand at the cursor; see benchtimer completion --help.

function __benchtimer_complete
    set -l before (commandline -opc)
    set -l piece (commandline -ct)
    set -l program (string replace -r '^~/' "$HOME/" -- $before[1])
    for offer in ($program --complete fish $before "$piece" 2>/dev/null)
        switch $offer
            case ':file*'
                __fish_complete_path (string replace -r '^:file\t?' '' -- $offer)
            case ':folder*'
                __fish_complete_directories (string replace -r '^:folder\t?' '' -- $offer)
            case '*'
                printf '%s\n' $offer
        end
    end
end

complete -c benchtimer -f -a '(__benchtimer_complete)'
