#!/usr/bin/env bash
# Help, wrong use, and what becomes of output that cannot be written.
. "$(dirname "$0")/_cli.sh"

# ---- help: every command, with an example ----

told --help
claim "the overview is there" exited 0
claim "no colour where no terminal is watching" says_not $'\033'
claim "lines fit into 80 columns" test "$(wc -L < "$work/out")" -le 80
mapfile -t names < <(sed -n 's/^  \([a-z][a-z ]*[a-z]\)   *[a-z].*/\1/p' "$work/out" \
    | sed 's/  .*//')
claim "the overview lists commands" test "${#names[@]}" -ge 15
for name in "${names[@]}"; do
    read -ra words <<< "$name"
    told "${words[@]}" --help
    claim "$name --help succeeds" exited 0
    claim "$name --help says how it is used" says "markerbed"
    claim "$name --help has an example" says "Examples"
    claim "$name --help has an example of itself" grep -qE "^    markerbed .*$name" "$work/out"
    told help "${words[@]}"
    claim "help $name is the same" says "markerbed $name: "
done
told
claim "without a command it is wrong use" exited 2
claim "and the overview goes to standard error" complains "Exit codes"
told --version
claim "--version" says "markerbed "

# Each example is typed as it stands, where there is no ledger: whatever becomes of it, it is no
# wrong use.
markerbed() { setsid -w "$MARKERBED" "$@"; } # no terminal to ask on
mkdir "$work/empty"
for name in "${names[@]}"; do
    read -ra words <<< "$name"
    told "${words[@]}" --help
    sed -n '/^Examples/,$s/^    //p' "$work/out" > "$work/example"
    (cd "$work/empty" && . "$work/example") > "$work/out" 2> "$work/err" < /dev/null
    claim "the examples of $name are right use" test -z "$(grep -E \
        'no option|too much|too little|behind it|takes no|given twice|no command' "$work/err")"
done

told record collecting --help
claim "record KIND --help shows its fields" says verbatimIdentification
claim "and the words that a field takes" says counterpart
told help prep-method
claim "help LIST shows the words of a list" says airscribe
for kind in $(sed -n 's/^ *"kind": "\(.*\)",$/\1/p' schema/kinds/*.json); do
    [ "$kind" = common ] && continue
    told record "$kind" --help
    claim "record $kind --help shows it" says "markerbed record $kind: "
done

# ---- wrong use: exit 2 and one sentence ----

told recrod note
claim "an unknown command is refused" refused
claim "and the nearest is named" complains 'did you mean "record"?'
told frobnicate
claim "a command like no other is refused" refused
claim "and the way to the list is named" complains -- --help
told key
claim "key alone is refused" refused
claim "and its parts are named" complains "add, retire, list, checkpoint"
told key lst
claim "key lst is refused" refused
claim "and the nearest is named" complains "did you mean list?"
told verify --trsut known x.json
claim "an unknown option is refused" refused
claim "and the nearest is named" complains "did you mean --trust?"
told verify -x
claim "an unknown letter is refused" refused
told find
claim "missing words are refused" refused
told show one two
claim "words too many are refused" refused
told sheet --audience byuer 26-0115
claim "a value that is none of the choices is refused" refused
claim "and the choices and the nearest are named" complains "did you mean buyer?"
told verify --trust a --trust b x.json
claim "an option given twice is refused" refused
claim "and says which" complains "--trust is given twice"
told verify --trust
claim "an option without its value is refused" refused
told verify --no-views=yes x.json
claim "a switch with a value is refused" refused
told help --json
claim "an option that the command does not take is refused" refused
told show 26-0115
claim "no ledger named is refused" refused
claim "and says how to name one" complains "-L"
told -L "$work/none" show 26-0115
claim "a ledger that is not there is no success" test "$code" -ge 2
claim "and is one sentence" test "$(wc -l < "$work/err")" -eq 1
told -L "$work/none" record note specimen/1 --why x
claim "options that do not go together are refused" test "$code" -ge 2
told verify "$work/none.json"
claim "a file that is not there is refused" refused

# ---- output that cannot be written ----

"$MARKERBED" --help >&- 2> "$work/err"
claim "closed standard output: exit 3" same $? 3
claim "and it is said" grep -q '^markerbed: .*could not be written' "$work/err"
"$MARKERBED" help record > /dev/full 2> "$work/err"
claim "full disk: exit 3" same $? 3
claim "and it is said" grep -q '^markerbed: .*could not be written' "$work/err"
"$MARKERBED" --help <&- > "$work/out" 2>&-
claim "closed standard input and error do no harm" same $? 0

# ---- man page and completion ----

told docs "$work/docs"
claim "the documents are written" exited 0
for name in kinds findings; do
    if [ -e "docs/$name.md" ]; then
        claim "docs/$name.md is what the program makes (markerbed docs FOLDER)" \
            cmp "docs/$name.md" "$work/docs/$name.md"
    fi
done
if command -v mandoc > /dev/null; then
    claim "mandoc finds no fault in the man page" \
        same "$(mandoc -T lint "$work/docs/markerbed.1")" ""
    mandoc -T ascii "$work/docs/markerbed.1" | sed 's/.\x08//g' > "$work/manual"
else
    echo "mandoc is not here: the man page was not checked"
    cp "$work/docs/markerbed.1" "$work/manual"
fi
for name in "${names[@]}"; do
    claim "the man page has $name" grep -q "^ *$name\$\|^\.Ss $name\$" "$work/manual"
done

# complete WORD ...: what bash would offer for the last word, one a line.
complete_words() {
    bash --norc -c '. "$1"; shift; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1))
        _markerbed; printf "%s\n" "${COMPREPLY[@]}"' - "$work/docs/markerbed.bash" "$@" 2>&1
}
claim "completion knows the commands" \
    same "$(complete_words markerbed sh)" "$(printf 'show\nsheet')"
claim "completion knows the parts of key" same "$(complete_words markerbed key re)" retire
claim "completion knows options" same "$(complete_words markerbed sheet --prev)" --preview
claim "completion knows choices" \
    same "$(complete_words markerbed sheet --audience inst)" institution
claim "completion skips options before the command" \
    same "$(complete_words markerbed -L lab sh)" "$(printf 'show\nsheet')"
claim "completion knows kinds" same "$(complete_words markerbed record colle)" collecting
claim "completion knows subjects" \
    same "$(complete_words markerbed record collecting sp)" specimen/
claim "completion knows fields" \
    same "$(complete_words markerbed record collecting specimen/1 recordN)" recordNumber=
claim "completion knows lists" same "$(complete_words markerbed list perm)" permissions
touch "$work/one.certificate.json"
claim "completion knows files" same "$(complete_words markerbed verify "$work/one")" \
    "$work/one.certificate.json"

end
