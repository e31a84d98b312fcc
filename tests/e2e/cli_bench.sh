#!/usr/bin/env bash
# A sitting at the bench: written down in a line, "as last time" in less; its cautions, told when it
# is written and on the paper for an institution. Names are invented; Mohs: alumina 9, apatite 5.
. "$(dirname "$0")/_cli.sh"
cd "$work" || exit 1
echo "chalk and shale" > pass
export MARKERBED_PASSPHRASE_FILE=pass
told -L lab found --origin ledger.harrowvane.example --name "Harrow & Vane Preparation" \
    --label ottoline --holder P001
told -L lab record party P001 partyType=person name="Ottoline Harrow" namedTo=anyone \
    neutralLabel="a preparator"
told -L lab record arrival 26-0901 receivedFrom=P001 fromLabel=client reason=preparation \
    owner=P001 objectForm=slab objectQuantity=1 materialClass=vertebrate verbatimLabel=none \
    labelLink='no label' earlierWork='not examined' hazardsSeen=uranium \
    countryOfDiscovery='not known'
claim "a piece comes in" exited 0

abrade="method:airabrasive; medium:alumina; grainUm:53; pressure:40 psi; fossilMohs:5; area:12 cm2"
soak="method:consolidate; material:acrylic copolymer resin; strength:5 % w/v; solvent:acetone"
told -L lab record preparation 26-0901 lostInWork=none steps="$abrade | $soak"
claim "a sitting is one line" exited 0
flat() { tr -s '\n ' '  ' <<< "$out" | grep -qF -- "$1"; }
claim "with its cautions" says "Take care"
claim "of the method" flat "air abrasion: respirable crystalline silica: keep the rock wet"
claim "with the rule behind a limit" flat "29 CFR 1910.1053"
claim "of the powder against the fossil" flat "powder of Mohs 9 on a fossil of 5"
claim "of the solvent" flat "acetone: no flame or spark"
claim "of what the piece itself has in it" flat "the piece itself: uranium"
claim "and who comes first" flat "safety data sheet come first"

told -L lab record preparation 26-0901 lostInWork=none
claim "the next day, as last time" exited 0
claim "the steps are filled in" flat "pressure: 40 psi"
claim "and cautioned of again" flat "air abrasion: respirable crystalline silica"
told -L lab record preparation 26-0901 lostInWork=none \
    steps='method:airabrasive; medium:alumina; pressure:3 furlong'
claim "a pressure is in a unit of pressure" refused
claim "and the units are named" complains "bar, psi, kPa, MPa"
told -L lab record preparation 26-0901 lostInWork=none steps='method:hf'
claim "acid work without its baths is refused" refused
told -L lab record preparation 26-0901 lostInWork=none steps='method:steaming; material:bone wax'
claim "own words are taken" exited 0
claim "and no caution is pretended" flat "steaming, bone wax: not on our list"
told -L lab record preparation 26-0901 lostInWork=none steps='method:airabrasiv'
claim "a slip is told" flat "the list has 'airabrasive'"

for audience in institution buyer; do
    told -L lab sheet 26-0901 --audience $audience --unmarked --to bearer --out $audience
    claim "a sheet for $audience" test -s $audience/26-0901.pdf
done
paper() { pdftotext -layout "$1/26-0901.pdf" - | tr -s '\n ' '  ' | grep -qF -- "$2"; }
claim "the institution's says what was used" paper institution "respirable crystalline silica"
claim "and what lies in it" paper institution "the piece itself: uranium"
claim "and who comes first" paper institution "safety data sheet come first"
claim "a buyer is told what lies in the piece" paper buyer "the piece itself: uranium"
not_on_paper() { ! paper "$@"; }
claim "and not how to run a bench" not_on_paper buyer "respirable crystalline silica"
claim "methods stand there in full" paper buyer "air abrasion (micro sandblasting)"
claim "own words are marked as such" paper buyer "bone wax (in the recorder's own words)"
claim "the fossil's hardness beside the powder's" paper buyer "on a fossil of 5 Mohs"
end
