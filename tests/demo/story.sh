#!/bin/bash
# The story of Harrow & Vane Preparation, an invented two-bench lab: people, firms, places and
# numbers are made up. Formations, stages and the rules that are named are published ones.
#
# MARKERBED names the program, DRAW the drawer of photos (draw.c), DEMO_DIR an empty folder. In it
# are left a ledger, certificates and sheets for each audience, and a trust file.
#
# The story has honest trouble in it. What the lab did is written down as it was done: a day's
# digging after the lease had run out, a bucket that gave out more teeth than it held, a place that
# may lie across a fence. A later check of land and counts names such things; nothing hides them.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
cd "$DEMO_DIR"
unset MARKERBED_KEY MARKERBED_NEW_PASSPHRASE_FILE
mkdir -p passphrases photos told

# A real passphrase lies in no file. These let the demo run without a person at the keyboard.
echo "chalk, shale and patience" > passphrases/ottoline
echo "a bench under the north light" > passphrases/teodor
echo "rain on the quarry road" > passphrases/wren
echo "Passphrases of the demo. Real ones lie in no file, least of all beside the ledger." \
    > passphrases/ABOUT
export MARKERBED_LEDGER=ledger

say() { printf '\n== %s\n' "$*"; }

as() { # as PERSON COMMAND...: what was answered is kept in told/last
    local who=$1
    shift
    MARKERBED_KEY=$who MARKERBED_PASSPHRASE_FILE=passphrases/$who "$MARKERBED" "$@" \
        > told/last || { cat told/last; exit 1; }
}
told_by() { # told_by SUBJECT WORDS: the number of the first entry whose line has these words
    "$MARKERBED" show "$1" | sed -n "s/^ *#\([0-9]*\) .*$2.*/\1/p" | head -n 1
}
entry() { sed -n 's/.*entry #\([0-9]*\).*/\1/p' told/last | head -n 1; }
certificate() { sed -n 's/^ *known as //p' told/last; }

declare -A word
play() { # play PERSON FILE: its entries, with @words@ replaced by what the story has learned
    local who=$1 file=$2 script=''
    for name in "${!word[@]}"; do script+="s|@$name@|${word[$name]}|;"; done
    for rows in photos/*.shares.json photos/*.joins.json photos/*.individuals.json; do
        name=${rows#photos/}
        script+="s|\"@${name%.json}@\"|$(cat "$rows")|;"
    done
    sed "$script" "$here/$file" > "told/$file"
    as "$who" record --from "told/$file"
    sed -n 's/^Recorded \([0-9]* entr[a-z]*\).*/  \1 recorded/p' told/last
    grep '^Please note' told/last || true
}

say "Photos are drawn, with areas known exactly, and measured"
"$DRAW" photos

say "A ledger is founded; its name is for ever"
MARKERBED_PASSPHRASE_FILE=passphrases/ottoline "$MARKERBED" found \
    --origin ledger.harrowvane.example --name "Harrow & Vane Preparation" \
    --label ottoline --holder P001 | tee told/founding | head -n 6

say "People, and keys for those who write"
play ottoline 1-people.json
as ottoline key add teodor --holder P002 --checkpoints --new-passphrase-file passphrases/teodor \
    --may preparation,condition,identification,measurement,placement,note,correction
as ottoline key add wren --holder P003 --new-passphrase-file passphrases/wren \
    --may field-day,collecting,note

say "Land, layers, permissions and their papers"
play ottoline 2-land.json
as ottoline record document site/S002 docType=lease "title=Lease of the cut" \
    docDate=2023-03-18 issuedBy=party/P007 file=photos/lease.jpg
word[lease]="#$(entry)"
as ottoline record document site/S004 docType=permit "title=Permit GF-2024-07" \
    docDate=2024-03-04 issuedBy=party/P009 number=GF-2024-07 file=photos/permit.jpg
word[permit]="#$(entry)"
play ottoline 3-permissions.json
as ottoline record correction site/S001 "action=change fields" why=typing changesFacts=yes \
    target="#$(told_by site/S001 '')" county=Gove
echo "  a county was mistyped, and is corrected: both stay to be seen"

say "The season: a guest's find, a fence close by, a day after the lease ran out, a find of 2009"
play ottoline 4-season.json
play wren 4-wren.json
as wren record note specimen/24-0116 "text=Split it only on the bench, it is thin."
echo "  Wren wrote her own days down, with a key of her own"

say "The measured section at Sallow Draw, to scale, with the finds at their heights"
as ottoline section H-A --pdf section.pdf --svg section.svg
grep '^Drawn' told/last

say "A spreadsheet of a season's Sundays in the quarry: looked at first, then taken in, once"
as ottoline intake "$here/quarry.csv" --map "$here/quarry.map.json" --dry-run
head -n 2 told/last
as ottoline intake "$here/quarry.csv" --map "$here/quarry.map.json"
head -n 2 told/last
as ottoline intake "$here/quarry.csv" --map "$here/quarry.map.json"
head -n 2 told/last

say "The wrong spreadsheet, and how it is struck out"
as ottoline intake "$here/wrong.csv"
batch=$(sed -n 's/.*record --undo "\(.*\)" --why.*/\1/p' told/last)
as ottoline record --undo "$batch" --why "wrong file"
head -n 2 told/last

say "At the bench"
play ottoline 5-arrivals.json
play teodor 6-bench.json
as teodor record preparation specimen/24-0117 "steps=method:airscribe; where:head" \
    lostInWork=none preparationDate=2024-08-23
wrong=$(entry)
as teodor record correction specimen/24-0117 "target=#$wrong" "action=void (wrong specimen)" \
    "why=wrong piece" changesFacts=yes movedTo=specimen/24-0115
as teodor record preparation specimen/24-0115 "steps=method:airscribe; where:upper edge" \
    lostInWork=none preparationDate=2024-08-23
echo "  Teodor wrote a sitting down for the fish that was the slab's: struck out, written again"

say "One becomes several, several become one"
as ottoline record division specimen/24-0116 "purpose=part and counterpart" \
    "remains=no, used up" sameIndividual=yes doneBy=party/P002 date=2024-08-14 consumed=0 \
    "into=specimen:specimen/24-0121; form:part; quantity:1; what:with the cup
        | specimen:specimen/24-0122; form:counterpart; quantity:1; what:the mould of it"
as ottoline record relation specimen/24-0121 other=specimen/24-0122 "relation=counterpart of" \
    statedBy=party/P002 date=2024-08-14 otherHeldBy=us
as ottoline record joining specimen/24-0115 parts=specimen/24-0114 "why=placed together" \
    sameIndividual=no "association=same layer, placed together" doneBy=party/P002 \
    date=2024-08-19 removable=partly
echo "  24-0116 opened into part and counterpart; the crown of 24-0114 set beside that of 24-0115"

say "A bucket of teeth gives out more than it was said to hold"
as ottoline record division specimen/24-0140 "purpose=drawn from lot" "remains=yes, smaller" \
    "into=specimen:specimen/24-0141; form:lot; quantity:80; what:show tray" remainder=160 \
    consumed=0 "sameIndividual=does not apply" doneBy=party/P001 date=2024-08-20
as ottoline record division specimen/24-0140 purpose=sorted "remains=yes, smaller" \
    "into=specimen:specimen/24-0142; form:lot; quantity:95; what:small, under 8 mm" remainder=65 \
    consumed=0 "sameIndividual=does not apply" doneBy=party/P001 date=2024-08-27
as ottoline record division specimen/24-0140 "purpose=drawn from lot" "remains=yes, smaller" \
    "into=specimen:specimen/24-0143; form:lot; quantity:85; what:for the school" \
    "remainder=not known" consumed=0 "sameIndividual=does not apply" doneBy=party/P001 \
    date=2024-09-03
as ottoline record measurement specimen/24-0140 what=pieces value=11 unit=piece \
    "how=counted twice" recount=11 on=2024-09-04
echo "  240 was an estimate; 260 went out, 11 are left, and it stands there to be read"

say "Trouble, as it came: a claim, a loss, a museum that did not sign yet"
play ottoline 7-trouble.json
as ottoline record claim specimen/24-0117 "nature=landowner's share" status=settled \
    date=2024-08-20 by=party/P007 byLabel=landowner hold=none \
    "concerns=#$(told_by 24-0117 '[Cc]laim')"
as ottoline record title specimen/24-0117 from=party/P007 to=party/P001 fromLabel=landowner \
    toLabel=us date=2024-08-20 manner=settlement basis=permission/L002 conditions=none \
    "burdens=none stated" "acknowledged=on paper by both" receipt=photos/receipt.jpg
as ottoline record loss specimen/24-0118 nature=recovered date=2024-10-01 quantity=5 \
    "closes=#$(told_by 24-0118 '[Mm]issing')"
as ottoline record custody specimen/24-0201 from=party/P001 to=party/P004 fromLabel=us \
    toLabel=client handedOver=2024-08-30 received=2024-08-30 reason=return capacity=owner \
    "acknowledged=on paper by both" receipt=photos/receipt.jpg fromCountry=US toCountry=US
as ottoline record countersign specimen/24-0201 "whichEntry=#$(entry)" \
    "how=paper with both signatures" role=receiver by=party/P004 signedOn=2024-08-30 \
    scan=photos/receipt.jpg
echo "  the landowner's claim is settled, five pieces came back, the client signed for her slab"

say "Wren leaves: her key is retired, what she wrote stays good; the checkpoint key is changed"
as ottoline key retire wren --why left
as ottoline key checkpoint --why rotation
as ottoline key list
cat told/last

say "A slab seen from both faces, five substances beside the original: drawn, measured, recorded"
as ottoline record collecting specimen/24-0125 fieldDay=field-day/D012 recordNumber=T-124 \
    "verbatimIdentification=crinoid, crown with arms on both faces" objectForm=slab \
    objectQuantity=1 quantityHow=counted individualCount=1 materialClass=invertebrate \
    horizon=horizon/H-A "inPlace=in place"
as teodor record preparation specimen/24-0125 preparationDate=2024-09-02/2024-09-20 \
    "steps=method:airscribe; pressure:5 bar; where:both faces
        | method:join; material:acrylic copolymer resin; removableWith:acetone; where:cup
        | method:gapfill; material:acrylic gap fill with glass balloons; where:cup, back
        | method:model; material:epoxy putty; where:tip of arm 7
        | method:castpart; material:polyester resin; where:tip of arm 5
        | method:composite; where:tip of arm 2" \
    "madeParts=part:losses in cup and back; substance:filled; removable:yes
        | part:tip of arm 7; substance:restored; madeOf:epoxy putty;
          basis:mirrored from this individual; edgeVisible:yes; removable:yes
        | part:tip of arm 5; substance:replica; madeOf:polyester resin;
          basis:cast of another, same species; edgeVisible:yes; removable:yes
        | part:tip of arm 2; substance:foreign; basisSpecimen:specimen/24-0118; removable:yes" \
    lostInWork=none
as teodor record identification specimen/24-0125 "whatItIs=fossil with made parts" \
    vernacularName=crinoid "scientificName=Uintacrinus socialis" \
    "preservation=original mineral kept" identifiedBy=party/P002 identifierTie=preparator \
    dateIdentified=2024-09-20 sure=likely isAcceptedIdentification=yes typeStatus=none
as teodor measure photos/plate.outlines.json --record 24-0125 examinedOn=2024-09-21 \
    "occasion=for sale" "means=eye | lens | ultraviolet" "examinerTie=did the work" form=natural \
    "mass=2.15 kg" "rock=pieces:2; joined:yes; edges:sawn" "stability=none seen" \
    "hazards=what:pyrite decay; state:not seen" \
    "identifyingMarks=mark:corner set back; where:upper left; photo:photos/plate-corner.jpg
        | mark:saw cut that stops short; where:right edge; photo:photos/plate-cut.jpg
        | mark:three round pits in a row; where:below the cup; photo:photos/plate-pits.jpg" \
    "numberOnObject=24-0125, ink, lower right of the front" \
    "dimensions=which:width; value:213; unit:mm | which:height; value:150; unit:mm"
sed -n '/^A  *front, back/p' told/last

say "Before a sale: condition, photos with a scale, marks, size, mass"
play teodor 8-sale.json
as ottoline sheet 24-0115 --to P005 --preview --out looked-at-first
sed -n 1,12p told/last

# sheet NAME SPECIMEN... --to ... : a certificate and its PDF, under a name of their own
sheet() {
    local name=$1
    shift
    as ottoline sheet "$@" --out "$name.certificate.json" 2> told/caution
    printf '  %s.certificate.json, %s.pdf: %s\n' "$name" "$name" "$(certificate)"
}

say "A sheet for Priya Lindqvist, and the newer one that took its place"
sheet replaced 24-0115 --to P005
sed 's/^/  /' told/caution
mkdir -p withdrawn
mv replaced.* withdrawn/
as ottoline withdraw withdrawn/replaced.certificate.json --why "replaced by a newer one"
as ottoline record measurement specimen/24-0115 what=mass value=6.91 unit=kg \
    "how=bench scale, with the hanger" by=party/P002 on=2024-10-03
as ottoline record title specimen/24-0115 from=party/P001 to=party/P005 fromLabel=us \
    "toLabel=private person" date=2024-10-04 manner=sale basis=none \
    "conditions=place not to be published" "burdens=none stated" "price=4850.00 USD" \
    "acknowledged=one side only"
as ottoline record custody specimen/24-0115 from=party/P001 to=party/P005 fromLabel=us \
    "toLabel=private person" handedOver=2024-10-04 received=2024-10-04 reason=sale \
    capacity=owner "acknowledged=one side only" receipt=none fromCountry=US toCountry=US
sheet buyer 24-0115 --to P005

say "The fish for whoever holds it, a tray of teeth, three quarry finds on one sheet"
sheet fish 24-0117 --to bearer --withhold stateProvince --because "landowner's request"
sheet lot 24-0141 --to bearer
sheet plate 24-0125 --to bearer
MARKERBED_KEY=ottoline MARKERBED_PASSPHRASE_FILE=passphrases/ottoline "$MARKERBED" \
    sheet 24-0300 --to bearer 2> told/last && exit 1
sed 's/^/  refused: /' told/last
sheet three 24-0300 24-0301 24-0302 --together --to bearer --unmarked

say "A sheet for a sale refused: the piece is a casual find from public land"
code=0
MARKERBED_KEY=ottoline MARKERBED_PASSPHRASE_FILE=passphrases/ottoline "$MARKERBED" \
    sheet 24-0150 --to bearer > told/casual 2>&1 || code=$?
[ "$code" -eq 2 ] || { echo "24-0150 had to be refused (2), and was not: $code"; exit 1; }
sed 's/^markerbed: /  /' told/casual

say "For the museum, for two land offices, for everybody"
sheet institution 24-0130 --to P006 --audience institution
sheet auditor 24-0150 --to P009 --audience auditor
sheet landowner 24-0117 --to P007 --audience auditor
sheet public 24-0115 --to bearer --audience public

say "What the record shows of land and permission, rule by rule"
for form in json csv; do
    code=0
    "$MARKERBED" audit "--$form" > "audit.$form" || code=$?
    [ "$code" -eq 1 ] || { echo "the audit had to find something (1): $code"; exit 1; }
done
"$MARKERBED" audit --pdf audit.pdf > told/audit.txt 2> told/caution || true
"$MARKERBED" audit --permission L004 --report permit-report.pdf > told/permit 2> told/caution
sed -n '/^ *- [bc]/,/^ *Rule\|^$/p' told/audit.txt | sed '/^ *Rule/d;/^$/d'

say "The skull goes to the museum: what it would miss, and the bag that goes with it"
as ottoline handover 24-0130 --preview
sed -n '1,/^What the registrar/p' told/last | sed '$d'
as ottoline handover 24-0130 --to P006 --out handover-24-0130 --pack zip
sed -n 1,6p told/last

say "The museum keeps a ledger too: it signs for the skull, receives its story, and carries it on"
echo "a drawer for every jaw" > passphrases/ambrose
MARKERBED_PASSPHRASE_FILE=passphrases/ambrose "$MARKERBED" -L museum-ledger found \
    --origin ledger.western-strand.example --name "Western Strand Museum of Natural History" \
    --label ambrose --holder P001 > told/museum-founding
at_museum() { as ambrose -L museum-ledger "$@"; }
at_museum record party P001 partyType=person "name=Ambrose Quill" namedTo=anyone \
    "neutralLabel=the registrar"
at_museum record party P002 partyType=firm "name=Harrow & Vane Preparation" namedTo=anyone \
    "neutralLabel=a preparation lab"
at_museum record party P003 partyType=agency "name=Gannet Flat field office" namedTo=anyone \
    "neutralLabel=a land agency"
for ledger in ledger museum-ledger; do
    founding=told/founding origin=ledger.harrowvane.example
    [ $ledger = ledger ] || founding=told/museum-founding origin=ledger.western-strand.example
    echo "ledger $origin $(sed -n '/fingerprint/{n;s/ //g;p;q}' $founding)"
done > told/both-ledgers
at_museum countersign institution.certificate.json --trust told/both-ledgers \
    --out told/24-0130.countersign
as ottoline countersign told/24-0130.countersign --by P006
sed -n 1,2p told/last
sheet signed 24-0130 --to P006 --audience institution
at_museum receive signed.certificate.json --trust told/both-ledgers --as WSM-4471 --from P002 \
    reason=storage owner=party/P003
sed -n '/^Received/p' told/last
at_museum sheet WSM-4471 --to bearer --audience institution --out museum.certificate.json
echo "  museum.certificate.json, museum.pdf: the museum's own, with the lab's story inside"
"$MARKERBED" verify museum.certificate.json --trust told/both-ledgers > told/museum
grep -o 'All signatures.*\|through all.*\|one that you trust.*' told/museum
sed -n '/^ *Signed by the other side/,/two-sided/p' told/museum

say "Labels for the trays, a card for the bench, and one for whoever comes along to dig"
"$MARKERBED" labels 24-0115 24-0116 24-0130 24-0150 --sheet A4-65 --out labels.pdf
"$MARKERBED" labels --tags WC-0201 --count 24 --out field-tags.pdf
"$MARKERBED" labels 24-0130 24-0150 --bench-card --out bench-cards.pdf
"$MARKERBED" labels --field-card --out field-card.pdf

say "What a stranger does: knowing the fingerprint, and not knowing it"
# as the founding printed it: the lab has it on its paper
print=$(sed -n '/fingerprint/{n;s/ //g;p;q}' told/founding)
{
    echo "# ledgers that this reader knows, and how their fingerprints read"
    echo "ledger ledger.harrowvane.example $print"
    sed -n '/western-strand/p' told/both-ledgers
} > trust
for file in *.certificate.json withdrawn/*.certificate.json *.pdf handover-24-0130 museum-ledger \
    ledger; do
    case $file in # these carry no proof
        section.pdf | audit.pdf | permit-report.pdf) continue ;;
        labels.pdf | field-tags.pdf | bench-cards.pdf | field-card.pdf) continue ;;
    esac
    code=0
    "$MARKERBED" verify --trust trust "$file" > told/last || code=$?
    if [ "$code" -ne 0 ]; then
        echo "$file does not hold ($code):"
        cat told/last
        exit 1
    fi
    "$MARKERBED" verify "$file" > told/unknown || code=$?
    if [ "$code" -ne 3 ]; then
        echo "$file: without the trust file the answer must be 3, and was $code"
        exit 1
    fi
    printf '  %-36s holds; without the trust file: unknown ledger\n' "$file"
done
entries=$(sed -n 's/^ *Entries *//p' told/last)
"$MARKERBED" show 24-0115 > told/24-0115.txt
"$MARKERBED" list > told/specimens.txt
"$MARKERBED" find crinoid chalk > told/found.txt

say "A friend looks on: her witness cosigns, and what is on the web shows that it all still stands"
echo "she keeps her own book" > passphrases/friend
MARKERBED_NEW_PASSPHRASE_FILE=passphrases/friend "$MARKERBED" cosign witness \
    --new witness.quillpost.example > told/witness
key=$(sed -n 's/^ *\(witness.quillpost.example+.*\)/\1/p' told/witness)
"$MARKERBED" cosign witness --ledger-key buyer.certificate.json > told/last
"$MARKERBED" anchor --witness "$key" > told/last
"$MARKERBED" anchor --ask told/request > told/last
MARKERBED_PASSPHRASE_FILE=passphrases/friend "$MARKERBED" cosign witness told/request \
    --out told/answer > told/last
sed -n 's/^Cosigned/  cosigned/p' told/last
"$MARKERBED" anchor told/answer > told/last
"$MARKERBED" anchor --carry buyer.certificate.json --out buyer.witnessed.json > told/last
as ottoline publish published
sed -n 's/^Published/  published/p' told/last
printf 'witness friend %s\nquorum friend\n' "$key" > policy
"$MARKERBED" verify --trust trust --policy policy --published published buyer.witnessed.json \
    > told/last || { cat told/last; exit 1; }
grep -A1 '^What the ledger has published\|^It existed by' told/last | sed -n '/^[^-]/s/^/  /p'
code=0
"$MARKERBED" verify --trust trust --published published withdrawn/*.certificate.json \
    > told/replaced || code=$?
[ "$code" -eq 1 ] || { echo "a withdrawn one had to be told (1), and was not: $code"; exit 1; }
sed -n 's/^This no longer/  the replaced one no longer/p' told/replaced

say "What was made, in $DEMO_DIR"
cat <<MADE
  buyer.pdf        the sheet that goes with a sale (buyer.certificate.json is its proof alone)
  plate.pdf fish.pdf lot.pdf three.pdf    a slab measured from both faces, made parts, a lot, three
  institution.pdf handover-24-0130   what the museum gets: the sheet, the bag (also as .zip)
  museum.pdf museum-ledger      what the museum made of it, and issues: both ledgers in one proof
  auditor.pdf landowner.pdf     for a land audit        public.pdf, labels.pdf, field-card.pdf
  ledger           $entries entries; try: markerbed -L ledger show 24-0115
  photos told passphrases      what was drawn; the answers; the demo's keys (real ones: nowhere)
  audit.pdf .csv .json section.pdf   what an audit finds, how to mend it; the layers, to scale
  trust published  the fingerprint, and what is on the web (published/index.html); try:
                   markerbed verify --trust trust --published published buyer.pdf
Look at buyer.pdf first: it is what Priya Lindqvist holds in her hand.
MADE
