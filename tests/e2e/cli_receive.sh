#!/usr/bin/env bash
# A piece goes from a lab to a museum and on to a third house, each with a ledger of its own: what
# the one received the next one's reader can check, through all three. Names are invented.
. "$(dirname "$0")/_cli.sh"
top=$(cd "$(dirname "$0")/../.." && pwd)
cd "$work" || exit 1
python=/usr/bin/python3

echo "chalk and shale" > pass
export MARKERBED_PASSPHRASE_FILE=pass
found() { # found FOLDER ORIGIN NAME
    told -L "$1" found --origin "$2" --name "$3" --label "$1" --holder P001
    claim "the ledger $2 is founded" exited 0
    echo "ledger $2 $(sed -n '/fingerprint/{n;s/ //g;p;q}' out)" >> trust
    told -L "$1" record party P001 partyType=firm "name=$3" namedTo=anyone "neutralLabel=us"
    told -L "$1" record party P002 partyType=firm "name=The other side of $3" namedTo=anyone \
        neutralLabel=other
    claim "and has its people" exited 0
}
found lab ledger.harrowvane.example "Harrow & Vane Preparation"
found museum ledger.western-strand.example "Western Strand Museum of Natural History"
found third ledger.sallow-house.example "Sallow House"

recorded() { told -L lab record "$@"; claim "recorded: $1" exited 0; }
recorded site site/S001 "siteName=Sallow Draw" countryCode=US stateProvince=Kansas \
    "county=not known" decimalLatitude=38.94127 decimalLongitude=-100.21350 \
    geodeticDatum=EPSG:4326 "coordinateSource=GPS receiver" coordinateUncertaintyInMeters=12
recorded permission permission/L001 "permissionType=own land" grantor=party/P001 \
    holder=party/P001 validFrom=2020-01-01 "validUntil=until ended" sites=site/S001 document=none
recorded field-day field-day/D012 eventDate=2025-05-02 site=site/S001 \
    permission=permission/L001 recordedBy=party/P001 "present=party:party/P001; role:named" \
    purpose=commercial "tools=hand tools"
for n in 0130 0131; do
    recorded collecting specimen/26-$n fieldDay=field-day/D012 recordNumber=T-$n \
        "verbatimIdentification=reptile skull" objectForm=slab objectQuantity=1 \
        quantityHow=counted materialClass=vertebrate "horizon=not known" "inPlace=in place"
done
issue() { # issue LEDGER NAME SPECIMEN...
    local ledger=$1 name=$2
    shift 2
    told -L "$ledger" sheet "$@" --out "$name.certificate.json"
    claim "$ledger issues $name" exited 0
}
issue lab skull 26-0130 --to P002 --audience institution

entries() { "$MARKERBED" -L "$1" verify --json 2> /dev/null \
    | $python -c 'import json, sys; print(json.load(sys.stdin)["files"][0]["entries"])'; }
files() { find "$1/files" -type f 2> /dev/null | wc -l; }

# ---- looked at, refused, received ----

before=$(entries museum)
told -L museum receive skull.certificate.json --trust trust
claim "it is looked at" exited 0
claim "and told in plain words" says "reptile skull"
claim "with its place" says 38.94127
claim "and the next number is offered" says "--as 26-0001"
told -L museum receive skull.certificate.json --as WS-1 --from P002 reason=gift
claim "a ledger that nobody trusts is not taken" exited 3
claim "and the way to take it is named" says "--accept-unknown"
told -L museum receive skull.certificate.json --trust trust --as WS-1 --from P002
claim "a reason is asked for" refused
told -L museum receive skull.certificate.json --trust trust --as "WS 1" --from P002 reason=gift
claim "a number that is none is refused" refused
told -L museum receive skull.certificate.json --trust trust reason=gift
claim "fields without a number are refused" refused
$python - << 'PY'
import json
file = json.load(open("skull.certificate.json"))
file["entries"][3]["sd_jwt"] = file["entries"][3]["sd_jwt"].replace("~", "A~", 1)
json.dump(file, open("broken.json", "w"))
PY
told -L museum receive broken.json --trust trust --as WS-1 --from P002 reason=gift
claim "what does not hold is not taken" exited 1
claim "and that is said" says "It was not received"
head -c 900 skull.certificate.json > cut.json
told -L museum receive cut.json --trust trust --as WS-1 --from P002 reason=gift
claim "half a file is not taken" exited 1
told -L museum receive trust --as WS-1 --from P002 reason=gift
claim "nor what is none" refused
told -L museum receive lab --as WS-1 --from P002 reason=gift
claim "nor a whole ledger" refused
claim "none of it changed anything" same "$(entries museum) $(files museum)" "$before 0"
claim "nothing is left lying about" test -z "$(find museum -name 'receiving.*')"

told -L museum receive skull.certificate.json --trust trust --as WS-1 --from P002 reason=gift
claim "it is received" exited 0
claim "as an entry" says "Received as specimen/WS-1"
claim "with the certificate kept whole" cmp -s skull.certificate.json \
    "museum/files/$(sha256sum < skull.certificate.json | cut -c 1-2)/$(sha256sum \
        < skull.certificate.json | cut -c 1-64)"
after=$(entries museum)
for path in skull.certificate.json skull.pdf skull.html; do
    told -L museum receive $path --trust trust --as WS-2 --from P002 reason=gift
    claim "$path: a second time adds nothing" exited 0
    claim "$path: and that is said" says "was received before"
done
claim "and the ledger is as it was" same "$(entries museum)" "$after"
told -L museum show WS-1
claim "the arrival names the other ledger" says ledger.harrowvane.example
told -L museum verify --trust trust
claim "the museum's ledger holds" exited 0

# ---- issued again: for an institution all, for a buyer what a buyer sees ----

issue museum museum WS-1 --to P002 --audience institution
told verify museum.certificate.json --trust trust
claim "the museum's certificate holds through both ledgers" exited 0
claim "and says so" says "through all of its ledgers"
claim "the lab's story is told" says "Its story before: from the ledger ledger.harrowvane.example"
claim "with the place for an institution" says 38.94127
grep -v harrowvane trust > half-trust
told verify museum.certificate.json --trust half-trust
claim "with the lab unknown it could not be checked" exited 3
told verify museum.pdf --trust trust
claim "so does its sheet" exited 0
told verify museum.html --trust trust
claim "and its web page" exited 0
told -L third receive museum.pdf --trust trust --as T-7 --from P002 reason=purchase
claim "a third house receives the sheet" exited 0
issue third third T-7 --to bearer --unmarked
told verify third.certificate.json --trust trust
claim "its certificate holds through three ledgers" exited 0
claim "the middle is told" says "from the ledger ledger.western-strand.example"
claim "and the first" says "from the ledger ledger.harrowvane.example"
claim "a buyer is not told the place" says_not 38.94127
cat > reading.py <<'PY'
import base64, json, re, sys
def texts(value):
    if isinstance(value, dict):
        for part in value.values():
            yield from texts(part)
    elif isinstance(value, list):
        for part in value:
            yield from texts(part)
    elif isinstance(value, str):
        yield value
        for piece in re.split("[~.]", value):
            try:
                yield base64.urlsafe_b64decode(piece + "=" * (-len(piece) % 4)).decode()
            except ValueError:
                pass
file = json.load(open(sys.argv[1]))
found = [word for word in sys.argv[2:] if any(word in text for text in texts(file))]
print(" ".join(found))
PY
claim "not a byte of it" same \
    "$($python reading.py third.certificate.json 38.94127 "Sallow Draw" 100.21350)" ""
claim "which an institution has" same \
    "$($python reading.py museum.certificate.json 38.94127 Draw 100.21350)" \
    "38.94127 Draw 100.21350"
claim "an outsider agrees of the museum's" $python "$top/tests/verifiers/verify.py" \
    --trust trust museum.certificate.json > outsider
claim "and of the third's" $python "$top/tests/verifiers/verify.py" \
    --trust trust third.certificate.json > outsider
pdftotext -layout third.pdf third.txt
claim "the sheet on paper runs through all three" grep -q \
    "Its story before: from the ledger ledger.harrowvane.example" third.txt
claim "and names the middle" grep -q "from the ledger ledger.western-strand.example" third.txt
claim "the web page too" grep -q "from the ledger ledger.harrowvane.example" third.html
claim "and neither the place" test -z "$(grep -l "38.94127\|Sallow Draw" third.txt third.html)"
told -L third sheet T-7 --to bearer --audience public --out open.certificate.json
told verify open.certificate.json --trust trust
claim "a public one holds too" exited 0

# ---- taken apart by a holder ----

cat > hurt.py <<'PY'
import json, sys
file = json.load(open(sys.argv[1]))
how = sys.argv[2]
if how == "gone":
    del file["foreign"]
elif how == "inner-gone":
    del file["foreign"][0]["foreign"]
elif how == "twice":
    file["foreign"].append(file["foreign"][0])
elif how == "cut":
    entry = file["foreign"][0]["foreign"][0]["entries"][-3]
    parts = entry["sd_jwt"].split("~")
    entry["sd_jwt"] = "~".join(parts[:1] + parts[2:])
elif how == "entry":
    del file["foreign"][0]["foreign"][0]["entries"][3]
json.dump(file, sys.stdout)
PY
for how in gone inner-gone twice cut entry; do
    $python hurt.py third.certificate.json $how > hurt.json
    told verify hurt.json --trust trust
    claim "taken apart ($how) it does not hold" exited 1
done

# ---- withdrawn since ----

told -L lab withdraw skull.certificate.json --why "error in facts"
claim "the lab withdraws its certificate" exited 0
issue lab newer 26-0130 --to P002 --audience institution
told verify museum.certificate.json newer.certificate.json --trust trust
claim "beside a newer one of the lab it is told" says "withdrawn"
told verify third.certificate.json lab --trust trust
claim "beside the lab's ledger too, two ledgers deep" says "withdrawn"

told -L lab publish lab-published
claim "the lab publishes" exited 0
told verify skull.certificate.json --trust trust --published lab-published
claim "what it published withdraws the certificate" exited 1
for which in museum third; do
    told verify $which.certificate.json --trust trust --published lab-published
    claim "$which: the lab's certificate inside is found withdrawn" exited 1
    claim "$which: in words" says \
        "ledger.harrowvane.example withdrew the certificate that the piece came with"
done
told -L museum publish museum-published
told verify third.certificate.json --trust trust --published museum-published
claim "the museum's inside it still stands" exited 0
claim "and that is said" says "goes on from the certificate of"
before=$(entries third)
told -L third receive skull.certificate.json --trust trust --published lab-published --as T-9 \
    --from P002 reason=purchase
claim "what was withdrawn is not received" exited 1
claim "and nothing is recorded" same "$(entries third)" "$before"

# ---- a bag, packed ----

told -L lab handover 26-0131 --to P002 --out box --pack zip
claim "a bag is packed" exited 0
$python -c '
import pathlib, tarfile
with tarfile.open("other.tar.gz", "w:gz") as out:
    out.add("box", "renamed")
'
before=$(entries third)
told -L third receive box.zip --trust trust
claim "a pack is looked at" exited 0
claim "by its own name" says "box.zip: certificate.json"
claim "and nothing is recorded" same "$(entries third)" "$before"
told -L third receive other.tar.gz --trust trust --as T-8 --from P002 reason=gift
claim "a pack of another maker is received" exited 0
told -L third receive box.zip --trust trust --as T-8 --from P002 reason=gift
claim "the same again adds nothing" says "was received before"
told -L museum receive box.zip --trust trust --as BOX-1 --from P002 reason=loan
claim "the museum receives it too" exited 0
for order in "WS-1 BOX-1" "BOX-1 WS-1"; do
    read -ra pieces <<< "$order"
    issue museum "${order/ /-}" "${pieces[@]}" --together --to P002 --audience institution
    told verify "${order/ /-}.certificate.json" --trust trust --published lab-published
    claim "$order: of two of the lab's certificates the withdrawn one is found" exited 1
    claim "$order: in words" says "withdrew the certificate that the piece came with"
done
$python -c '
import zipfile
with zipfile.ZipFile("box.zip") as old, zipfile.ZipFile("hurt.zip", "w") as new:
    for name in old.namelist():
        data = old.read(name)
        new.writestr(name, data + b" " if name.endswith("data/certificate.json") else data)
with zipfile.ZipFile("out.zip", "w") as new:
    new.writestr("../box/bagit.txt", "BagIt-Version: 1.0\n")
'
told -L third receive hurt.zip --trust trust --as T-10 --from P002 reason=gift
claim "a changed pack is not received" exited 1
told -L third receive out.zip --trust trust --as T-10 --from P002 reason=gift
claim "nor one that leads out" refused

# ---- several at once; struck out and received again; a piece comes home ----

issue lab both 26-0130 26-0131 --together --to P002 --audience institution
told -L museum receive both.certificate.json --trust trust --as WS-5 --from P002 reason=loan
claim "two pieces need two numbers" refused
told -L museum receive both.certificate.json --trust trust --as 26-0130=WS-5 --as 26-0131=WS-5 \
    --from P002 reason=loan
claim "and not one number twice" refused
told -L museum receive both.certificate.json --trust trust --as 26-0130=WS-5 \
    --as '26-0131=WS-#' --from P002 reason=loan
claim "two pieces are received at once" exited 0
claim "under the number said" says "Received as specimen/WS-5"
claim "and the next free one" says "Received as specimen/WS-2"
issue museum two WS-5 WS-2 --together --to P002 --audience institution
claim "their certificate is carried once" same "$($python -c '
import json; print(len(json.load(open("two.certificate.json"))["foreign"]))')" 1
told verify two.certificate.json --trust trust
claim "and holds" exited 0
told -L lab receive two.certificate.json --trust trust --as WS-5=26-0130 --as WS-2=26-0131 \
    --from P002 reason=return
claim "both come home" exited 0
issue lab home 26-0130 --to bearer --unmarked
told verify home.certificate.json --trust trust
claim "and their story goes out, home and all" exited 0
undo=$("$MARKERBED" -L museum show WS-5 --json | $python -c '
import json, sys
print(next(e["fields"]["batch"] for e in json.load(sys.stdin)["entries"]
           if e["kind"] == "arrival"))')
told -L museum record --undo "$undo" --why "wrong box"
claim "what was received can be struck out" exited 0
told -L museum receive both.certificate.json --trust trust --as 26-0130=WS-8 \
    --as 26-0131=WS-9 --from P002 reason=loan
claim "and received again" says "Received as specimen/WS-8"

end
