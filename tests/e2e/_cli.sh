# For the scripts beside it that try the command line: "claim NAME COMMAND ..." counts whether the
# command succeeds, "told" runs the program and keeps what it said, "end" prints the count.
# shellcheck shell=bash
set -u
passed=0 failed=0
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
unset MARKERBED_LEDGER MARKERBED_KEY NO_COLOR
unset MARKERBED_PASSPHRASE_FILE MARKERBED_NEW_PASSPHRASE_FILE

claim() {
    local name=$1
    shift
    if "$@"; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "not so: $name"
        echo "    last: ${last[*]:-} -> $code"
        sed 's/^/    out: /' <<< "${out:-}" | head -n 12
        sed 's/^/    err: /' <<< "${err:-}" | head -n 4
    fi
}

# told ARGUMENT ...: the program's words in $out, its complaints in $err, its exit code in $code.
code=0 last=()
told() {
    last=("$@")
    "$MARKERBED" "$@" > "$work/out" 2> "$work/err" < /dev/null
    code=$?
    out=$(cat "$work/out") err=$(cat "$work/err")
}

exited() { [ "$code" -eq "$1" ]; }
says() { grep -qF -- "$1" <<< "$out"; }
says_not() { ! grep -qF -- "$1" <<< "$out"; }
complains() { grep -qF -- "$1" <<< "$err"; }
# Refused: exit 2, nothing on standard output, and one sentence.
refused() {
    [ "$code" -eq 2 ] && [ -z "$out" ] && [ "$(wc -l < "$work/err")" -eq 1 ] \
        && grep -q '^markerbed: ' "$work/err"
}
same() { [ "$1" = "$2" ] || { echo "    '$1' is not '$2'"; return 1; }; }

end() {
    echo "$passed passed, $failed failed"
    [ "$failed" -eq 0 ]
}
