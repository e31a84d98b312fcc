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

end
