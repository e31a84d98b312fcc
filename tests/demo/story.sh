#!/bin/bash
# The story of Harrow & Vane Preparation, an invented two-bench lab: everything here, people, firms,
# places and numbers, is made up. Rocks and their ages are published ones.
#
# MARKERBED names the program, DRAW the drawer of photographs, DEMO_DIR an empty folder. In it are
# left a ledger, sheets and certificates for each audience, and a trust file.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
cd "$DEMO_DIR"
unset MARKERBED_KEY
mkdir -p passphrases photos
# A real passphrase lies in no file. These make the demo run without a person at the keyboard.
echo "chalk, shale and patience" > passphrases/ottoline
echo "a bench under the north light" > passphrases/teodor
echo "rain on the quarry road" > passphrases/wren
export MARKERBED_LEDGER=ledger MARKERBED_PASSPHRASE_FILE=passphrases/ottoline

say() { printf '\n== %s\n' "$*"; }
as() { # as PERSON COMMAND...
    local who=$1
    shift
    MARKERBED_KEY=$who MARKERBED_PASSPHRASE_FILE=passphrases/$who "$MARKERBED" "$@"
}
number_of() { sed -n 's/.*entry #\([0-9]*\).*/\1/p' | head -1; }

say "A ledger is founded"
"$MARKERBED" found --origin ledger.harrowvane.example --name "Harrow & Vane Preparation" \
    --label ottoline --holder P001 | tee founding.txt

say "People, places, layers and permissions"
as ottoline record --from "$here/1-world.json"
as ottoline key add teodor --holder P002 --checkpoints \
    --may preparation,condition,identification,measurement,note,correction \
    --new-passphrase-file passphrases/teodor
as ottoline key add wren --holder P003 --may field-day,collecting,note \
    --new-passphrase-file passphrases/wren

say "A season: finds, a guest's find, a find on the day after a lease ran out, a claim and its end"
as ottoline record --from "$here/2-season.json"

say "A spreadsheet of a quarry's teeth, looked at first, then taken in"
as ottoline intake "$here/5-teeth.csv" --dry-run
as ottoline intake "$here/5-teeth.csv"

say "At the bench"
as teodor record --from "$here/3-bench.json"
"$DRAW" photos/slab.png 26-0115
as ottoline record --from "$here/4-sale.json"
as ottoline record note specimen/26-0115 text="Photographed for the sheet." \
    --attach photos/slab.png

say "A lot is drawn from, and on paper gives out more than it held"
as ottoline record division specimen/26-0140 purpose="drawn from lot" remains="yes, smaller" \
    into="specimen:specimen/26-0141; form:lot; quantity:80; what:show tray" remainder=175 \
    consumed=0 sameIndividual="does not apply" doneBy=party/P001 date=2026-07-10

say "A mistake is corrected, another struck out; both stay to be seen"
wrong=$(as ottoline record measurement specimen/26-0115 what=length value=421 unit=mm how="steel rule" | number_of)
as ottoline record correction specimen/26-0115 target="#$wrong" action="change fields" \
    why=typing changesFacts=no value=412
wrong=$(as teodor record preparation specimen/26-0117 steps="method:airscribe" lostInWork=none \
    preparationDate=2026-08-03 | number_of)
as teodor record correction specimen/26-0117 target="#$wrong" \
    action="void (wrong specimen)" why="wrong piece" changesFacts=yes \
    movedTo=specimen/26-0115

say "Wren leaves; her key is retired"
as ottoline key retire wren --why left

say "To a museum, and a casual find that stays at home"
as ottoline record --from "$here/6-institution.json"

say "A sheet for a sale, and later a newer one in its place"
first=$(as ottoline sheet 26-0115 --to P005 --out first --json \
    | sed -n 's/.*"id": "\([^"]*\)".*/\1/p' | head -1)
as ottoline record custody specimen/26-0115 from=party/P001 to=party/P005 fromLabel=us \
    toLabel="private person" handedOver=2026-10-04 reason=sale capacity=owner \
    acknowledged="one side only" receipt=none fromCountry=US toCountry=US
as ottoline withdraw "$first" --why "replaced by a newer one"
as ottoline sheet 26-0115 --to P005 --audience buyer --out .
mv 26-0115.certificate.json buyer.certificate.json
mv 26-0115.pdf buyer.pdf

say "For the museum, a land audit and the public"
for audience in institution auditor public; do
    case $audience in
    institution) piece=26-0130 to=P006 ;;
    auditor) piece=26-0150 to=P009 ;;
    public) piece=26-0115 to=bearer ;;
    esac
    as ottoline sheet $piece --to $to --audience $audience --out made
    mv made/$piece.certificate.json $audience.certificate.json
    mv made/$piece.pdf $audience.pdf
    rm -r made
done
as ottoline sheet 26-0141 --to bearer --audience buyer --out made
mv made/26-0141.certificate.json lot.certificate.json
mv made/26-0141.pdf lot.pdf
rm -r made

say "What a stranger does: knowing the fingerprint, and not knowing it"
# the fingerprint as the founding printed it: in the lab it stands on the firm's paper
print=$(sed -n '/fingerprint/{n;s/ //g;p}' founding.txt | head -1)
echo "ledger ledger.harrowvane.example $print" > trust
for file in *.certificate.json *.pdf ledger; do
    "$MARKERBED" verify --trust trust "$file" > checked.txt || {
        echo "$file does not hold:"
        cat checked.txt
        exit 1
    }
    code=0
    "$MARKERBED" verify "$file" > unknown.txt || code=$?
    [ "$code" -eq 3 ] || {
        echo "$file: without the trust file the answer must be 3, and was $code"
        exit 1
    }
    printf '  %-32s holds; unknown ledger without the trust file\n' "$file"
done

say "What was made, in $DEMO_DIR"
cat <<MADE
  ledger/                          the lab's ledger
  buyer.pdf, buyer.certificate.json           the sheet that goes with a sale
  lot.pdf, lot.certificate.json               the same for a lot
  institution.pdf, institution.certificate.json   for the museum, with place and permissions
  auditor.pdf, auditor.certificate.json       for a land audit
  public.pdf, public.certificate.json         what anyone may see
  trust                            the fingerprint: markerbed verify --trust trust buyer.pdf
  checked.txt                      what the last check said
Look at the story of one piece: markerbed -L ledger show 26-0115
Look at buyer.pdf first: it is what Priya Lindqvist gets.
MADE
