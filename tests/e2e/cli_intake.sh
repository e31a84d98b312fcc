#!/usr/bin/env bash
# A spreadsheet at the command line: looking first, faults in one pass, all or none, twice is once,
# undoing, and the good rows apart from the faulty ones. The quoting is RFC 4180's.
. "$(dirname "$0")/_cli.sh"
cd "$work" || exit 1

echo "chalk and shale" > pass
export MARKERBED_PASSPHRASE_FILE=pass MARKERBED_LEDGER=lab
entries() { "$MARKERBED" verify lab --json | /usr/bin/python3 -c \
    'import json, sys; print(json.load(sys.stdin)["files"][0]["entries"])'; }

told found --origin ledger.harrowvane.example --name "Harrow & Vane Preparation" --holder P001
claim "founding succeeds" exited 0
told record party P001 partyType=person "name=Ottoline Harrow" namedTo=anyone \
    "neutralLabel=the owner of the lab"
claim "a party is recorded" exited 0

# A byte order mark, line ends of two characters, a comma, a quotation mark and a line end inside
# quotation marks, and no line end behind the last row.
printf '\357\273\277Number,What,Count,Found,"Old note"\r\n%s\r\n%s\r\n%s' \
    'A-1,"fish, big",1,2024-05-02,under the stairs' \
    'A-2,"ammonite ""red""",3,2024-05,"two
lines"' \
    'A-3,crinoïde,1,2023,' > finds.csv
cat > finds.map << 'END'
{"format": "markerbed-map/1", "entries": [
  {"kind": "site", "subject": "site/S009", "once": true,
   "fields": {"siteName": "Bracken Quarry", "countryCode": "US", "stateProvince": "Kansas",
              "county": "not known", "decimalLatitude": "not known",
              "decimalLongitude": "not known", "coordinateUncertaintyInMeters": "not known"}},
  {"kind": "collecting", "subject": "specimen/{Number|id}",
   "fields": {"recordNumber": "{Number}", "verbatimIdentification": "{What}",
              "objectForm": "single", "objectQuantity": "{Count}", "quantityHow": "counted",
              "materialClass": "not known", "eventDate": "{Found}", "site": "site/S009",
              "horizon": "not known", "inPlace": "not known", "permission": "not known",
              "recordedBy": "party/P001"},
   "rest": "fieldNotes"}]}
END

before=$(entries)
told intake finds.csv --map finds.map --dry-run
claim "a dry run finds no fault" exited 0
claim "and says what would be recorded" says "This would record"
claim "and records nothing" same "$(entries)" "$before"
told intake finds.csv --map finds.map
claim "the table is taken" exited 0
claim "three finds and one site" same "$(entries)" $((before + 4))
undo=$(sed -n 's/.*record --undo "\(.*\)" --why.*/\1/p' out)
told show A-2
claim "what was quoted arrived" says 'ammonite "red"'
told show A-1 --full
claim "columns without a field are kept" says "under the stairs"
before=$(entries)
told intake finds.csv --map finds.map
claim "the same file again is no fault" exited 0
claim "and adds nothing" same "$(entries)" "$before"
claim "and says so" says "Already in the ledger"

sed -e 's/A-/B-/' -e 's/,3,2024-05/,many,2024-05/' -e 's/2023/2023-02-30/' finds.csv > faulty.csv
told intake faulty.csv --map finds.map
claim "a faulty table is refused" exited 2
claim "with one sentence at the end" same "$(wc -l < err)" 1
claim "the first fault is told" says many
claim "and the second in the same pass" says 2023-02-30
claim "and nothing is recorded" same "$(entries)" "$before"
told intake faulty.csv --map finds.map --json
claim "with --json the faults are data" /usr/bin/python3 -c \
    'import json, sys; sys.exit(json.load(open("out"))["faultsInAll"] != 2)'
told intake faulty.csv --map finds.map --split
claim "the good row goes apart" grep -q '^B-1' faulty.csv.good.csv
claim "and the faulty ones" grep -q '^B-3' faulty.csv.faulty.csv
claim "and nothing is recorded" same "$(entries)" "$before"
told intake faulty.csv.good.csv --map finds.map
claim "the good rows can be taken by themselves" exited 0

told record --undo "$undo" --why "wrong table"
claim "a whole table is struck out" exited 0
told show A-2
claim "and stays visible" says "struck out"

{
    echo kind,subject,text
    for ((i = 0; i < 1200; i++)); do echo "note,specimen/B-1,\"line $i\""; done
} > long.csv
told intake long.csv --progress
claim "a long table is taken" exited 0
claim "and progress is told on standard error" complains " rows"
told verify lab --progress
claim "so it is in a check" complains " entries"

told intake nowhere.csv
claim "a file that is not there is refused" refused
sed 's/{What}/{Whaat}/' finds.map > mistyped.map
told intake finds.csv --map mistyped.map
claim "a column that is not there is refused" exited 2
claim "and the nearest is named" complains What
told intake finds.csv
claim "without a map the columns must be fields" exited 2
printf '\377\376k\0i\0n\0d\0' > unicode.csv
told intake unicode.csv
claim "a table in UTF-16 is told by its name" complains "UTF-16"
printf 'kind,subject,text,text\n' > twice.csv
told intake twice.csv
claim "a column that is there twice is told by file, line and place" complains \
    "twice.csv: line 1: columns 3 and 4 are both called 'text'"
printf 'kind,subject,text\n' > none.csv
told intake none.csv
claim "a table without rows is nothing to record" says "There is nothing to record."
printf 'kind,subject,text\n"open' > torn.csv
told intake torn.csv
claim "a torn table is refused" exited 2
claim "and its line is named" says "line 2"

end
