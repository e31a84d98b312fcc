#!/usr/bin/env bash
# Proof files at the command line; what is in them is judged in tests/conformance.
. "$(dirname "$0")/_cli.sh"
cd "$work" || exit 1

echo "chalk and shale" > pass
export MARKERBED_PASSPHRASE_FILE=pass
told -L lab found --origin ledger.harrowvane.example --name "Harrow & Vane Preparation" \
    --label ottoline --holder P001
claim "founding succeeds" exited 0
export MARKERBED_LEDGER=lab
told record party P001 partyType=person "name=Ottoline Harrow" namedTo=anyone \
    "neutralLabel=the owner of the lab"
claim "a party is recorded" exited 0
unset MARKERBED_PASSPHRASE_FILE

told proof 1
claim "a proof needs no key" exited 0
claim "and says what it does not show" says "says nothing of whether that is so"
claim "no name stands in it" test -z "$(grep -i ottoline entry-1.tlog-proof)"
claim "it is the standard's form" same "$(head -n 2 entry-1.tlog-proof)" \
    "$(printf 'c2sp.org/tlog-proof@v1\nindex 1')"
told proof 1
claim "it is never written over" refused
told proof '#1' --out again
claim "the same again elsewhere" cmp entry-1.tlog-proof again
leaf=$("$MARKERBED" proof 1 --out third --json | /usr/bin/python3 -c \
    'import json, sys; print(json.load(sys.stdin)["leaf"])')
told proof "$leaf" --out by-leaf
claim "by its leaf hash" cmp again by-leaf
told proof 400
claim "what is not recorded is refused" refused
told proof specimen/26-0115
claim "a subject is no entry" refused
claim "and how to say it is told" complains "leaf hash"
told proof 1 --out no/such/folder/proof
claim "a folder that is not there is an error" test "$code" -ge 2
told verify lab
claim "nothing was changed" exited 3

end
