#!/usr/bin/env bash
# Measuring at the command line. Shares by hand: the specimen is a square of 100 x 100 pixels, the
# fill 20 x 50 of it: 10 %. Of 100 counted points, none found: up to 3.7 % (score interval, E. B.
# Wilson 1927). Names are invented.
. "$(dirname "$0")/_cli.sh"
cd "$work" || exit 1

cat > square.json << 'END'
{"format":"markerbed-outlines/1","notExamined":["reverse"],"views":[{"name":"front",
"scaleBar":{"px":50,"mm":10},"lineWidthPx":1,
"specimens":[{"uncovered":"original","outline":[[10,10],[110,10],[110,110],[10,110]]}],
"regions":[{"substance":"filled","outline":[[30,30],[50,30],[50,80],[30,80]]}],
"joins":[{"through":"fossil","line":[[10,100],[110,100]]}]}]}
END
printf 'substance,count\noriginal,88\nfilled,12\n' > points.csv

told measure square.json
claim "a square is measured" exited 0
claim "a tenth is filled" says "10.0 ("
claim "the rest is original" says "90.0 ("
claim "100 pixels are 20 mm" says "1 through fossil, 20.0 mm together"
claim "what no range covers is said" says "does not cover work that could not be seen"
told measure points.csv
claim "a table that does not say its view is refused" refused
told measure points.csv --view front --not-examined nothing
claim "and taken with it" exited 0
claim "none found is no nought" says "none found (up to 3.7)"
told measure square.json occasion='for sale'
claim "fields without --record are refused" refused
told measure square.json --overlay square.gif
claim "an overlay of another form is refused" refused
for form in svg png pdf; do
    told measure square.json --overlay "square.$form"
    claim "an overlay as $form" exited 0
    claim "is there" test -s "square.$form"
done
told measure square.json --overlay square.png
claim "and is never written over" exited 2
claim "the PDF is sound" qpdf --check square.pdf > /dev/null

# ---- recorded ----

echo "chalk and shale" > pass
export MARKERBED_PASSPHRASE_FILE=pass
told -L lab found --origin ledger.harrowvane.example --name "Harrow & Vane Preparation" \
    --label ottoline --holder P001
told -L lab record party P001 partyType=person name="Ottoline Harrow" namedTo=anyone \
    neutralLabel="a preparator"
told -L lab record party P004 partyType=person name="Marguerite Oduya" namedTo=anyone \
    neutralLabel="a client"
told -L lab record arrival specimen/26-0901 receivedFrom=party/P004 fromLabel=client \
    reason=preparation owner=party/P004 objectForm=slab objectQuantity=1 \
    materialClass=vertebrate verbatimLabel=none labelLink='no label' \
    earlierWork='not examined' hazardsSeen=none countryOfDiscovery='not known'
claim "a piece comes in" exited 0
told -L lab measure square.json --record specimen/26-0901 occasion='for sale' means='eye | lens' \
    examinerTie='did the work' form=natural mass='3.4 kg' examinedBy=P001 \
    identifyingMarks='mark:rust spot; where:left | mark:chip; where:right | mark:vein; where:top' \
    dimensions='which:length; value:42; unit:cm'
claim "a measurement is recorded" exited 0
claim "with its outlines" says "with the outlines attached"
told -L lab show 26-0901 --json
claim "the shares are in its story" says '"10.0"'
claim "and the file that they come from" says '"outlines"'

claim "measured again, it agrees" told -L lab verify
claim "and that is said" says "of 1 condition entry with measured shares, 1 agrees with"
told -L lab measure square.json --record specimen/26-0901 shares='view:front; substance:original'
claim "shares are measured, not typed beside a drawing" refused

# ---- told from outside, and yet complete: whoever has the entry can measure again ----

cat > drawn.svg << 'END'
<svg xmlns="http://www.w3.org/2000/svg"><!-- Bracken Quarry -->
<path data-kind="specimen" data-uncovered="original" d="M10 10h100v100h-100z"/>
<rect data-substance="restored" x="60" y="10" width="50" height="50"/>
</svg>
END
typed=(occasion='for sale' means=eye examinerTie='did the work' form=natural mass='3.4 kg'
    identifyingMarks='mark:rust spot; where:left | mark:chip; where:right | mark:vein; where:top'
    dimensions='which:length; value:42; unit:cm' joins=none)
told -L lab measure points.csv --view front --not-examined nothing --record 26-0901 "${typed[@]}"
claim "counted points" exited 0
told -L lab measure drawn.svg --line 2 --view front --not-examined reverse --record 26-0901 \
    "${typed[@]}"
claim "a drawing that leaves much to be told" exited 0
told -L lab verify --json
claim "all three are measured again" says '"measured": {'
claim "and agree" says '"agree": 3'
claim "none was left unchecked" says '"unchecked": 0'

# ---- a certificate for a buyer: the outlines come along, and say no place ----

told -L lab sheet 26-0901 --unmarked --to bearer --out sheets
claim "a sheet" exited 0
cert=sheets/26-0901.certificate.json
told verify "$cert"
claim "a buyer measures again" says "of 3 condition entries with measured shares, 3 agree with"
claim "and only the ledger's name is left to trust" exited 3
claim "what the editor wrote into the drawing stays behind" python3 - "$cert" << 'END'
import base64, json, sys
files = json.load(open(sys.argv[1]))["files"]
texts = [base64.b64decode(text) for text in files.values()]
sys.exit(not (len([t for t in texts if b"markerbed-outlines/1" in t]) == 3
              and not any(b"Bracken" in t for t in texts)))
END

words() { pdftotext -layout sheets/26-0901.pdf - | tr -s ' ' | grep -qF -- "$1"; }
claim "the sheet shows what was drawn" words "What was drawn and measured"
claim "with a legend" words "original, left clear"
claim "and its view" words "View: front. Shares are of this view."
claim "the page for a browser too" grep -q 'class="drawing".* alt="View front' sheets/26-0901.html
claim "the PDF is sound" qpdf --check sheets/26-0901.pdf > /dev/null

# without: edit.py CERTIFICATE OUT HOW
cat > edit.py << 'END'
import base64, json, sys
cert = json.load(open(sys.argv[1]))
for name, text in list(cert["files"].items()):
    bytes_ = base64.b64decode(text)
    if b"markerbed-outlines/1" not in bytes_:
        continue
    if sys.argv[3] == "without":
        del cert["files"][name]
    else:
        changed = bytes_.replace(b"30,30", b"31,30")
        cert["files"][name] = base64.b64encode(changed).decode()
json.dump(cert, open(sys.argv[2], "w"))
END
python3 edit.py "$cert" without.json without
told verify without.json
claim "without the outlines nothing is wrong" exited 3
claim "but the shares were not checked here" says "shares, 0 agree with"
claim "which is said" says "3 not checked here"
claim "by name" says "shares-unchecked"
python3 edit.py "$cert" changed.json changed
told verify changed.json
claim "changed outlines are a fault" exited 1
claim "by their hash" says "file-changed"

# ---- inside the certificate of another ledger ----

told -L museum found --origin museum.example --name Museum --label one --holder P001
told -L museum record party P002 partyType=person name="A Giver" namedTo=anyone \
    neutralLabel=giver
told -L lab sheet 26-0901 --unmarked --to bearer --audience institution --out first
told -L museum receive first/26-0901.certificate.json --accept-unknown --as M-1 --from P002 \
    reason=gift
claim "the piece goes on to another ledger" says "Received as specimen/M-1"
told -L museum sheet M-1 --unmarked --to bearer --audience institution --out second
told verify second/M-1.certificate.json --json
claim "what the first measured is worked out again in the second's" same "$(python3 -c '
import json, sys
print(json.load(sys.stdin)["files"][0]["measured"])' <<< "$out")" \
    "{'agree': 3, 'differ': 0, 'unchecked': 0}"

# ---- an issuer who writes other shares down than the outlines give ----

both() { tr -s '\n ' '  ' <<< "$out" | grep -qF "is recorded as $1, the outlines give $2"; }
written=$(grep -l '"px":50' lab/files/*/* | head -n 1) # as measure wrote square.json
told -L lab record condition 26-0901 "${typed[@]}" notExamined=reverse outlines="$written" \
    frame='visible fossil surface in the named views' surfaces='not examined' \
    shares='view:front; substance:original; percent:95.0; low:93.0; high:97.0; how:outline; n:2'\
' | view:front; substance:filled; percent:5.0; low:4.0; high:6.0; how:outline; n:2'
claim "nobody is kept from writing it" exited 0
right=$("$MARKERBED" measure square.json --json | python3 -c '
import json, sys
rows = json.load(sys.stdin)["files"][0]["shares"]
print(" | ".join("; ".join(f"{name}:{value}" for name, value in row.items()) for row in rows))')
wrong=$(sed -n 's/.*#\([0-9]*\).*/\1/p' <<< "$out" | head -n 1)
told -L lab verify
claim "but it does not hold" exited 1
claim "with both numbers" both 95 90
claim "and a name" says "shares-differ"
told -L lab sheet 26-0901 --unmarked --to bearer --out wrong
told verify wrong/26-0901.certificate.json
claim "a buyer sees it too" exited 1
claim "with both numbers there" both 95 90
told -L lab record correction specimen/26-0901 target="#$wrong" 'action=change fields' \
    why='measured again' changesFacts=yes joins='through:fossil; count:1; lengthMm:20.0' \
    shares="$right"
claim "corrected" exited 0
told -L lab verify --json
claim "what counts is the entry as it stands" says '"differ": 0'
claim "and it agrees" says '"agree": 4'

# ---- the file in the ledger's folder ----

folder=lab/files
for file in "$folder"/*/*; do grep -l markerbed-outlines "$file"; done > outlines.list
gone=$(head -n 1 outlines.list)
chmod u+w "$gone" && sed -i 's/"mm":10/"mm":11/' "$gone"
told -L lab verify
claim "outlines changed on disk" says "file-changed"
claim "are a fault" exited 1
rm -f "$gone"
told -L lab verify
claim "outlines lost from disk" says "file-missing"

end
