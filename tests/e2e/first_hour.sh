#!/usr/bin/env bash
# The first hour of a new user, as README.md and the help tell it: a ledger, herself, a place, a
# right to dig there, a day in the field, three finds in answers, a sitting at the bench in one
# line, a look, a sheet, and what the buyer does with it. People and places are invented.
. "$(dirname "$0")/_cli.sh"
cd "$work" || exit 1

answer() { # answer ANSWERS ARGUMENT ...: a line for each question, as through a pipe
    local answers=$1
    shift
    printf '%b' "$answers" > answers
    last=("$@")
    "$MARKERBED" "$@" > out 2> err < answers
    code=$?
    out=$(cat out) err=$(cat err)
}
typed() { grep -c . answers; } # how many answers were more than Enter

# ---- before anything ----

told
claim "without a command it says what there is" complains "Writing down"
told show 26-0115
claim "without a ledger it says what to do" test "$code" -ge 2 -a "$(wc -l < "$work/err")" -eq 1

# ---- a ledger ----

# Typed twice at a terminal; here from a file.
echo "under the third cottonwood" > mine
export MARKERBED_PASSPHRASE_FILE=mine
told -L lab found --origin ledger.harrowvane.example --name "Harrow & Vane Preparation" \
    --label ottoline --holder P001
claim "a ledger is founded" exited 0
claim "its fingerprint is shown" says "Its fingerprint"
claim "and the words for the envelope" says "For the envelope"
print=$(sed -n '/Its fingerprint/{n;s/^ *//;p;q}' <<< "$out")
claim "52 letters in groups of four" same "$(tr -d ' ' <<< "$print" | wc -c)" 53
export MARKERBED_LEDGER=lab

# ---- who, where, by what right ----

answer 'person\nOttoline Harrow\nbuyers\nthe owner of the lab\nyes\n' record --ask party party/P001
claim "herself, being asked" exited 0
claim "in four answers and a yes" same "$(typed)" 5
told record site site/S001 "siteName=Sallow Draw" countryCode=US stateProvince=Kansas county=Gove \
    decimalLatitude=38.7712 decimalLongitude=-100.5134 geodeticDatum=EPSG:4326 \
    "coordinateSource=GPS receiver" coordinateUncertaintyInMeters=15 placeHeldBackBy=us
claim "a place, in one line" exited 0
told record permission permission/L1 "permissionType=own land" grantor=party/P001 \
    holder=party/P001 validFrom=2020-01-01 "validUntil=until ended" document=none
claim "her right to dig there" exited 0
told record field-day field-day/D012 eventDate=2024-05-02 site=site/S001 \
    permission=permission/L1 "present=party:party/P001; role:named" purpose=commercial \
    "tools=hand tools"
claim "a day in the field" exited 0
told setting fieldDay=field-day/D012
claim "which from now on is this day" exited 0

# ---- three finds ----

answer 'T-118\ncrinoid slab, one crown\nslab\n1\ncounted\ninvertebrate\nnot known\nin place\n\n' \
    record --ask collecting specimen/24-0115
claim "the first find, being asked" exited 0
answer 'T-119\ncrinoid arms\n\n3\n\n\n\n\n\n' record --ask collecting specimen/24-0116
claim "the second find" exited 0
claim "is three answers and Enter" same "$(typed)" 3
claim "what the day says is filled in and shown" says "permission/L1"
answer '\nT-120\ncrinoid cup\n\n1\n\n\n\n\n\n' record --ask collecting
claim "and so is the third" exited 0
claim "in three answers" same "$(typed)" 3
claim "under the next free number, which was offered" says "specimen/24-0117"
told record collecting specimen/24-0118 recordNumber=T-121 "verbatimIdentification=fish scale" \
    objectQuantity=1
claim "or in a line of three" exited 0

# ---- at the bench ----

told record preparation specimen/24-0115 steps=method:airscribe lostInWork=none \
    preparationDate=2024-06-08
claim "a sitting at the bench, in one line" exited 0
told record identification specimen/24-0115 "whatItIs=natural fossil" vernacularName=crinoid \
    "scientificName=Uintacrinus socialis" "preservation=original mineral kept" \
    identifierTie=preparator sure=likely dateIdentified=2024-06-09
claim "and what it is" exited 0

# ---- a slip of the finger ----

told record preperation specimen/24-0115 steps=method:airscribe lostInWork=none
claim "a mistyped kind is refused" refused
claim "and the right word is offered" complains preparation
told record preparation specimen/24-115 steps=method:airscribe lostInWork=none
claim "a mistyped number is refused" refused
claim "and the right one is offered" complains 24-0115

# ---- looking, and giving away ----

told show 24-0115
claim "its story is shown" says "crinoid slab, one crown"
claim "with the sitting" says airscribe
told list
claim "all pieces are listed" says 24-0118
told find crinoid
claim "what holds a word is found" says 24-0116
told sheet 24-0115 --preview
claim "what a buyer would read" says "Uintacrinus socialis"
claim "and nothing is made of it" test ! -e 24-0115.pdf -a ! -e 24-0115.certificate.json
claim "and what it lacks for a sale" says "would not be issued like this"
told sheet 24-0115 --to bearer --out sheets
claim "which is refused" refused
claim "in one sentence" complains \
    "three marks that identify it, its size, its mass, the number written on it and a photo of it"
told sheet 24-0115 --to bearer --out sheets --unmarked
claim "a sheet" exited 0
claim "with a caution before it" complains "can bind the seller"
claim "that says what is missing" says "not examined"
claim "a page and its proof" test -s sheets/24-0115.pdf -a -s sheets/24-0115.certificate.json

# ---- the buyer, elsewhere, without the ledger ----

unset MARKERBED_LEDGER MARKERBED_PASSPHRASE_FILE
mkdir buyer && cp sheets/24-0115.pdf buyer/ && cd buyer || exit 1
told verify 24-0115.pdf
claim "knowing nothing, the ledger is unknown" exited 3
claim "and its fingerprint is there to compare" says "$(cut -d' ' -f1-3 <<< "$print")"
echo "ledger ledger.harrowvane.example $print" > known
told verify 24-0115.pdf --trust known
claim "knowing the fingerprint, as it was printed, all of it holds" exited 0
claim "of that day, and no later" says "says nothing of later"
claim "and what it does not show is said" says "Not tested"
cd ..

end
