#!/bin/bash
# The walk of docs/keys.md, command by command: a new person, one who leaves, a stolen key, a lost
# founding key brought back from the envelope, a changed and a lost checkpoint key. After each the
# ledger verifies, and work goes on.
set -eu
here=$(mktemp -d)
trap 'rm -rf "$here"' EXIT
MARKERBED=$(realpath "$MARKERBED")
cd "$here"
for who in ottoline teodor rescue second; do echo "a passphrase of $who" > "$who.pass"; done
export MARKERBED_LEDGER=lab
passed=0
failed=0
ok() {
    local what=$1
    shift
    if "$@" > out.txt 2>&1; then passed=$((passed + 1)); else
        failed=$((failed + 1))
        echo "FAILED: $what"
        cat out.txt
    fi
}
not() {
    local what=$1
    shift
    if "$@" > out.txt 2>&1; then
        failed=$((failed + 1))
        echo "FAILED: $what went through"
    else passed=$((passed + 1)); fi
}
as() {
    local who=$1 key=$2
    shift 2
    "$MARKERBED" --passphrase-file "$who.pass" --key "$key" "$@"
}
whole() { ok "the ledger verifies: $1" "$MARKERBED" verify --trust trust lab; }

"$MARKERBED" found --passphrase-file ottoline.pass --origin keys.example --name Keys \
    --label ottoline --holder P001 > founding.txt
print=$(sed -n '/fingerprint/{n;s/ //g;p}' founding.txt | head -1)
echo "ledger keys.example $print" > trust
sed -n '/envelope/{n;p}' founding.txt | head -1 > envelope
for p in P001 P002; do
    ok "party $p" as ottoline ottoline record party party/$p partyType=person name="Somebody $p" \
        namedTo=nobody
done

ok "a new person" as ottoline ottoline key add teodor --holder P002 --may party,note --checkpoints \
    --new-passphrase-file teodor.pass
ok "the new person records" as teodor teodor record party party/P003 partyType=person \
    name="Another" namedTo=nobody
not "what the new person may not" as teodor teodor record site site/S001 siteName=X countryCode=US \
    stateProvince=Kansas county=Gove decimalLatitude=38 decimalLongitude=-100 \
    geodeticDatum=EPSG:4326 coordinateSource=map coordinateUncertaintyInMeters=100 \
    placeHeldBackBy=us
whole "with a second person"

before=$("$MARKERBED" verify lab --json | sed -n 's/.*"entries": \([0-9]*\).*/\1/p' | head -1)
ok "an entry of the thief's" as teodor teodor record party party/P004 partyType=person \
    name="Nobody" namedTo=nobody
ok "the stolen key is retired" as ottoline ottoline key retire teodor --why "suspected copied" \
    --suspect-from "$before"
not "the retired key records" as teodor teodor record party party/P005 partyType=person \
    name="Nobody" namedTo=nobody
code=0
"$MARKERBED" verify --trust trust lab --json > doubt.json || code=$?
if [ "$code" -eq 1 ] && grep -q key-suspect doubt.json \
    && [ "$(grep -c '"name": "key-' doubt.json)" = 1 ]; then
    passed=$((passed + 1))
else
    failed=$((failed + 1))
    echo "FAILED: the thief's entry, and only it, is in doubt"
    cat doubt.json
fi

ok "the checkpoint key is changed" as ottoline ottoline key checkpoint --why rotation
ok "work goes on" as ottoline ottoline record party party/P006 partyType=person name="Six" \
    namedTo=nobody
ok "the checkpoint key is lost" as ottoline ottoline key checkpoint --why lost
ok "work goes on" as ottoline ottoline record party party/P007 partyType=person name="Seven" \
    namedTo=nobody

ok "the envelope is opened" "$MARKERBED" key add rescue --envelope envelope \
    --new-passphrase-file rescue.pass
not "the envelope's key records what it may not" as rescue rescue record party party/P008 \
    partyType=person name="Eight" namedTo=nobody
ok "a new key for the founder" as rescue rescue key add second --holder P001 \
    --may everything,enrol --checkpoints --new-passphrase-file second.pass
ok "the lost founding key is retired" as second second key retire ottoline --why lost
not "the lost key records" as ottoline ottoline record party party/P009 partyType=person \
    name="Nine" namedTo=nobody
ok "the new key records" as second second record party party/P010 partyType=person name="Ten" \
    namedTo=nobody
ok "the envelope's key is retired" as second second key retire rescue --why "no longer used"
not "the last key that enrols is retired" as second second key retire second --why left
"$MARKERBED" verify --trust trust lab --json > end.json || true
faults=$(grep -c '"severity": "fault"' end.json || true)
if [ "$faults" = 1 ]; then passed=$((passed + 1)); else
    failed=$((failed + 1))
    echo "FAILED: at the end there is the thief's entry to be found and nothing else: $faults"
    cat end.json
fi
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
