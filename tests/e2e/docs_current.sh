#!/bin/sh
# docs/kinds.md and docs/findings.md are printed by the program: they must be what it prints today,
# and the man page must be one that mandoc takes.
set -eu
here=$(mktemp -d)
trap 'rm -rf "$here"' EXIT
"$MARKERBED" docs "$here" > "$here/list"
passed=0
failed=0
judge() {
    if [ "$2" -eq 0 ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "FAILED: $1"
    fi
}
for page in kinds.md findings.md; do
    if cmp "$here/$page" "docs/$page"; then judge "docs/$page" 0; else
        judge "docs/$page is not what 'markerbed docs' prints: copy it from there" 1
    fi
done
if command -v mandoc > /dev/null; then
    if mandoc -T lint -W warning "$here/markerbed.1"; then judge manual 0; else judge manual 1; fi
fi
if bash -n "$here/markerbed.bash"; then judge completion 0; else judge completion 1; fi
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
