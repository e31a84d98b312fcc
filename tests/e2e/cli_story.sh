#!/usr/bin/env bash
# A small lab's first weeks at the command line: founding, a find, work at the bench, looking up,
# correcting, undoing, keys, and two people writing at once. Names and places are invented.
. "$(dirname "$0")/_cli.sh"
cd "$work" || exit 1

member() { # member NAME: of the JSON object that the program just printed
    /usr/bin/python3 -c 'import json, sys; print(json.load(sys.stdin)[sys.argv[1]])' "$1" <<< "$out"
}

echo "chalk and shale" > pass
echo "airscribe and needle" > pass-teodor
echo "wrong words here" > pass-wrong
export MARKERBED_PASSPHRASE_FILE=pass

# ---- founding ----

told found --origin ledger.harrowvane.example --name "Harrow & Vane Preparation"
claim "found without a folder is refused" refused
echo "short" > pass-short
told -L lab found --origin ledger.harrowvane.example --name x --passphrase-file pass-short
claim "a short passphrase is refused" refused
claim "and no folder is left behind" test ! -e lab
told -L lab found --origin ledger.harrowvane.example --name "Harrow & Vane Preparation" \
    --label ottoline --holder P001
claim "founding succeeds" exited 0
claim "and prints the envelope" says "For the envelope"
sed -n '/^For the envelope/{n;p;}' out | tr -d ' ' > envelope
claim "which is not on the disk" test -z "$(grep -rl "$(cat envelope)" lab)"
told -L lab found --origin other.example --name Other
claim "a second founding in the same folder is refused" refused
export MARKERBED_LEDGER=lab

# ---- writing down ----

told record party P001 partyType=person "name=Ottoline Harrow" namedTo=anyone \
    "neutralLabel=the owner of the lab"
claim "a party is recorded" exited 0
told record party party/P002 partyType=person "name=Teodor Vane" namedTo=buyers \
    "neutralLabel=a preparator"
claim "another" exited 0
told record party party/P003 partyType=person "name=Wren Castellane" \
    "namedTo=institutions and land managers only" "neutralLabel=a field collector"
claim "and another" exited 0
told record site site/S001 "siteName=Sallow Draw" countryCode=US stateProvince=Kansas \
    "county=not known" decimalLatitude=38.94127 decimalLongitude=-100.21350 \
    geodeticDatum=EPSG:4326 "coordinateSource=GPS receiver" coordinateUncertaintyInMeters=12
claim "a site is recorded" exited 0
told record permission permission/L001 "permissionType=own land" grantor=party/P001 \
    holder=party/P001 validFrom=2020-01-01 "validUntil=until ended" sites=site/S001 document=none
claim "a permission is recorded" exited 0
told record field-day field-day/D012 eventDate=2025-05-02 site=site/S001 \
    permission=permission/L001 recordedBy=party/P003 "present=party:party/P003; role:named" \
    purpose=commercial "tools=hand tools"
claim "a day in the field is recorded" exited 0
told setting fieldDay=field-day/D012
claim "it becomes the usual one" exited 0
find=(recordNumber=T-118 "verbatimIdentification=crinoid slab, three crowns" objectForm=slab
    objectQuantity=1 quantityHow=counted materialClass=invertebrate "horizon=not known"
    "inPlace=in place")
told record collecting specimen/26-0115 "${find[@]}" --json
claim "a find is recorded" exited 0
claim "and the day's facts are filled in" same "$(member filled | tr -d "{}'" | tr , '\n' \
    | sed -n 's/^ *eventDate: //p')" 2025-05-02
leaf=$(member leaf)
told record collecting "specimen/26-####" recordNumber=T-119 verbatimIdentification=ammonite \
    objectForm=single objectQuantity=1 quantityHow=counted
claim "the next free number is given" says "specimen/26-0116"
claim "what was said last time is filled in" says "invertebrate"
told record preparation specimen/26-0115 "steps=method:airscribe; where:left margin" \
    lostInWork=none
claim "a sitting at the bench is recorded" exited 0

# ---- refused: nothing changed ----

entries() { "$MARKERBED" verify lab --json | /usr/bin/python3 -c \
    'import json, sys; print(json.load(sys.stdin)["files"][0]["entries"])'; }
before=$(entries)
told record colecting specimen/26-0117 "${find[@]}"
claim "an unknown kind is refused" refused
claim "and the nearest is named" complains collecting
told record collecting specimen/26-0117 "${find[@]}" recordNubmer=1
claim "an unknown field is refused" refused
claim "and the nearest is named" complains recordNumber
told record collecting specimen/26-0117 "${find[@]}" eventDate=2025-02-30
claim "a day that does not exist is refused" refused
claim "and the field is named" complains eventDate
told record collecting specimen/26-0117 "${find[@]}" objectForm=slab
claim "a field given twice is refused" refused
told record collecting specimen/26-0117 "${find[@]}" site=site/S01
claim "an unknown reference is refused" refused
claim "and the nearest is named" complains S001
told record collecting specimen/26-0117 crinoid
claim "a word that is no FIELD=VALUE is refused" refused
told record note specimen/26-0115 text=x --passphrase-file pass-wrong
claim "a wrong passphrase is refused" refused
claim "none of it left a trace" same "$(entries)" "$before"

# ---- many at once, and undoing them ----

cat > evening.json << 'END'
[{"kind": "note", "subject": "specimen/26-0115", "fields": {"text": "ask the museum"}},
 {"kind": "note", "subject": "specimen/26-0116", "fields": {"text": "wrong box"}}]
END
told record --from evening.json --batch evening
claim "a list is recorded" exited 0
claim "and it is said how to undo it" says 'record --undo "evening"'
sed 's/"text": "wrong box"/"tekst": "wrong box"/' evening.json > faulty.json
before=$(entries)
told record --from faulty.json
claim "a list with a fault is refused" refused
claim "and its entry is named" complains "faulty.json: entry 2"
claim "and none of it is recorded" same "$(entries)" "$before"
printf '[{"kind":"note"' > cut.json
told record --from cut.json
claim "a cut file is refused" refused
claim "and its place is named" complains "cut.json: line 1"
told record --undo evening
claim "undoing needs a reason" refused
told record --undo evening --why "wrong box"
claim "the batch is struck out" says "2 entries"
told record --undo mourning --why x
claim "an unknown batch is refused" refused
printf '%s' '{"kind":"note","subject":"specimen/26-0115","fields":{"text":"by JSON"}}' > one.json
told record --json one.json
claim "record --json FILE answers in JSON" same "$(member kind)" note

# ---- being asked ----

ask() { # ask ANSWERS ARGUMENT ...
    local answers=$1
    shift
    printf '%b' "$answers" > answers
    last=("$@")
    "$MARKERBED" "$@" > out 2> err < answers
    code=$?
    out=$(cat out) err=$(cat err)
}
ask 'collecting\n\n?\nT-120\nshark teeth\nslad\nlot\ntwelve\n12\n\n\n\nfloat\nyes\n' record --ask
claim "being asked, a find is recorded" exited 0
claim "? helps" says "The number on bag, tag or jacket."
claim "a near miss is named" says 'did you mean "slab"?'
claim "a number is checked at once" says '"twelve" is no whole number'
claim "the next number is offered" says "[specimen/26-0117]"
claim "what will be recorded is shown" says "This will be recorded: collecting of specimen/26-0117"
claim "the beginning of a choice is enough" says "float below its bed"
claim "what is filled in is shown" says "field-day/D012"
before=$(entries)
ask 'T-121\nshark teeth\nlot\n4\n\n\n\n\nno\n' record --ask collecting specimen/26-0118
claim "answering no records nothing" exited 2
ask 'T-121\nshark' record --ask collecting specimen/26-0118
claim "answers that end record nothing" exited 2
claim "and one sentence says so" same "$(grep -c '^markerbed: ' err)" 1
claim "indeed nothing" same "$(entries)" "$before"
ask 'T-121\n<\nT-122\ntooth\nsingle\n1\n\n\n\n\nyes\n' \
    record --ask collecting specimen/26-0118 --json
claim "< goes back" exited 0
claim "with --json standard output is JSON alone" same "$(member subject)" specimen/26-0118

# ---- correcting ----

told record correction specimen/26-0115 "target=$leaf" "action=change fields" why=typing \
    changesFacts=yes eventDate=2025-05-03
claim "a correction is recorded" exited 0

# ---- looking up ----

told show 26-0115
claim "show succeeds" exited 0
claim "the corrected day is shown" says 2025-05-03
claim "with what stood before" says "2025-05-03, before that 2025-05-02"
claim "and as corrected" says "(corrected by entry #"
claim "who wrote it is named" says "by Ottoline Harrow"
claim "and when it was written down" says "written down 20"
claim "the work at the bench is shown" says airscribe
claim "what was struck out stays visible and is marked in words" says "struck out"
claim "no colour away from a terminal" says_not $'\033'
claim "lines fit into 80 columns" test "$(wc -L < out)" -le 80
told show specimen/26-0115 --json
claim "show --json is JSON" same "$(member subject)" specimen/26-0115
told show 26-0115 --as-of "#12"
claim "show --as-of succeeds" exited 0
claim "and does not know what came later" says_not 2025-05-03
told show 26-0951
claim "an unknown subject is no success" test "$code" -ge 1
claim "and says so in one sentence" test "$(wc -l < err)" -eq 1
told find crinoid
claim "find finds" says specimen/26-0115
told find trilobite
claim "find without a hit is no" exited 1
told list specimens
claim "list lists" says 26-0116
cp out listed
told list specimens --rebuild
claim "what was worked out anew is the same" same "$(cat out)" "$(cat listed)"
told list speciments
claim "an unknown list is refused" refused
claim "and the nearest is named" complains specimens
told list sites
claim "list sites" says S001
told list kinds
claim "list kinds" says collecting
told query "SELECT 1 + 1 AS two"
claim "query answers" says 2
told query "DELETE FROM entry"
claim "query does not write" test "$code" -ge 2
claim "nor what was written" same "$(entries)" "$(entries)"

# ---- keys ----

told key add teodor --holder P002 --may preparation,note --new-passphrase-file pass-teodor
claim "a key is added" exited 0
told record note specimen/26-0115 text=x
claim "with two keys here, one must be named" refused
claim "and they are named" complains teodor
export MARKERBED_KEY=ottoline
told record note specimen/26-0115 "text=mounted" --key teodor --passphrase-file pass-teodor
claim "he records what he may" exited 0
told record collecting specimen/26-0130 "${find[@]}" --key teodor --passphrase-file pass-teodor
claim "and not what he may not" refused
told key add spare --envelope envelope --new-passphrase-file pass-teodor
claim "the key in the envelope comes back" exited 0
told key list
claim "all keys are listed" says spare
told key checkpoint
claim "the checkpoint key is changed" exited 0

# ---- two writers at once ----

before=$(entries)
write() { # write KEY PASSPHRASE
    for i in 1 2 3 4 5 6 7 8; do
        "$MARKERBED" record note specimen/26-0116 "text=$1 $i" --key "$1" --passphrase-file "$2" \
            > /dev/null || echo "$1 $i" >> lost
    done
}
write ottoline pass &
write teodor pass-teodor &
wait
claim "no writer was turned away" test ! -e lost
claim "no entry is lost" same "$(entries)" $((before + 16))

told key retire teodor --why left
claim "a key is retired" exited 0
told record note specimen/26-0115 text=x --key teodor --passphrase-file pass-teodor
claim "and signs no more" refused
told key retire spare --why left --key ottoline
claim "one of two keys that enrol may be retired" exited 0
told key retire ottoline --why left
claim "the last may not" refused

# ---- sheets ----

told sheet 26-0115 --preview
claim "a preview is shown" says "crinoid slab, three crowns"
claim "and nothing is written" test ! -e 26-0115.pdf
claim "the collector is not named to a buyer" says_not Castellane
told sheet 26-0115 --to bearer --because "landowner's request"
claim "a reason without its field is refused" refused
told sheet 26-0115 --to bearer --withhold county
claim "a field without its reason is refused" refused
told sheet 26-0115 26-0116 --to bearer --out sheets/x.pdf
claim "one name for two certificates is refused" refused
told sheet 26-0115 26-0116 --to bearer --out sheets
claim "for a sale, what ties it to its piece must be there" refused
told sheet 26-0115 26-0116 --to bearer --out sheets --unmarked
claim "two sheets are issued" exited 0
claim "and the caution stands before" complains "can bind the seller"
claim "all four files are there" test -s sheets/26-0115.certificate.json -a \
    -s sheets/26-0115.pdf -a -s sheets/26-0116.certificate.json -a -s sheets/26-0116.pdf
before=$(entries)
told sheet 26-0115 --to bearer --out sheets --unmarked
claim "an existing file is not written over" refused
claim "and nothing is signed" same "$(entries)" "$before"
told sheet 26-0115 --to bearer --audience public --out sheets/everybody.certificate.json
claim "a name of one's own" test -s sheets/everybody.pdf
claim "the headline says for whom it is not" says "not a disclosure for a sale"
told sheet --reprint sheets/26-0115.certificate.json --paper Letter --out again.pdf
claim "the page is printed again" test -s again.pdf

told verify sheets/26-0115.certificate.json
claim "a ledger that nobody named: could not be checked" exited 3
claim "the day stands first" same "$(head -c 6 out)" "As of "
claim "what was not tested is said" says "Not tested"
"$MARKERBED" verify lab --json | /usr/bin/python3 -c 'import json, sys
f = json.load(sys.stdin)["files"][0]
print("ledger", f["origin"], f["fingerprint"])' > trust
told verify --trust trust sheets/26-0115.certificate.json sheets/26-0115.pdf sheets/everybody.pdf \
    lab
claim "with the trust file all of it holds" exited 0
claim "the fingerprint is there to compare" says Fingerprint
for word in authentic guaranteed legal; do
    claim "'$word' is not said" test -z "$(grep -iw "$word" out)"
done
sed 's/"origin":"ledger/"origin":"Ledger/' sheets/26-0115.certificate.json > forged.json
told verify --trust trust forged.json
claim "a changed file does not hold" exited 1
claim "and the fault and how to mend it are said" says FAULT
for id in -huIXU8zxiirwY0m7iaueG-QDpecH-cPQVABxXKFokw --uIXU8zxiirwY0m7iaueG-QDpecH-cPQVABxXKFokw
do # one certificate in 64 has such a name
    told withdraw "$id" --why "error in facts"
    claim "a name that begins with a hyphen is no option" complains "no certificate $id"
done
told withdraw sheets/26-0116.certificate.json --why "replaced by a newer one"
claim "a certificate is withdrawn" exited 0
told withdraw sheets/26-0116.certificate.json
claim "not without a reason" refused

end
