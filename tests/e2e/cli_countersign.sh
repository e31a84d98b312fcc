#!/usr/bin/env bash
# A skull is handed over: one-sided, until the museum signs for it; on its own machine, on the
# giver's, on paper. Whose key counts is the reader's to say. Names are invented.
. "$(dirname "$0")/_cli.sh"
top=$(cd "$(dirname "$0")/../.." && pwd)
cd "$work" || exit 1
python=/usr/bin/python3

echo "chalk and shale" > pass
echo "a registrar's passphrase" > pass-own
export MARKERBED_PASSPHRASE_FILE=pass
found() { # found FOLDER ORIGIN NAME
    told -L "$1" found --origin "$2" --name "$3" --label "$1" --holder P001
    claim "the ledger $2 is founded" exited 0
    echo "ledger $2 $(sed -n '/fingerprint/{n;s/ //g;p;q}' out)" >> trust
    told -L "$1" record party P001 partyType=firm "name=$3" namedTo=anyone "neutralLabel=us"
    told -L "$1" record party P006 partyType=museum "name=The other side of $3" namedTo=anyone \
        neutralLabel=other
    claim "and has its people" exited 0
}
found lab ledger.harrowvane.example "Harrow & Vane Preparation"
found museum ledger.western-strand.example "Western Strand Museum of Natural History"
made() { # made SPECIMEN: found and handed over
    told -L lab record arrival "specimen/$1" receivedFrom=party/P001 fromLabel=client \
        reason=purchase owner=party/P001 objectForm=slab objectQuantity=1 \
        materialClass=vertebrate verbatimLabel=none "labelLink=no label" \
        "earlierWork=not examined" hazardsSeen=none countryOfDiscovery=US
    claim "$1 is there" exited 0
    told -L lab record custody "specimen/$1" from=party/P001 to=party/P006 fromLabel=us \
        toLabel=museum handedOver=2024-08-30 received=2024-08-30 reason=gift capacity=owner \
        "acknowledged=one side only" receipt=none fromCountry=US toCountry=US
    claim "$1 is handed over" exited 0
}
made 24-0130
made 24-0131

# ---- asked, looked at, signed, recorded ----

told -L lab countersign --request 24-0130
claim "a request is written" test -s 24-0130.handover.json
claim "and told" says "For the other side to sign"
told -L lab countersign --request 24-0130
claim "never over another" refused
told -L lab countersign --request 24-0199
claim "not for a piece that is not there" refused
told -L museum countersign 24-0130.handover.json --look
claim "it is looked at" says "Nothing is signed yet"
claim "with what it says" says "one side only"
claim "and nothing is written" test ! -e 24-0130.countersign
told -L lab countersign 24-0130.handover.json
claim "the giver cannot sign for the receiver" refused
told -L museum countersign 24-0130.handover.json --role reciever
claim "an unknown role is refused" refused
told -L museum countersign 24-0130.handover.json
claim "the museum signs" exited 0
claim "into a file" test -s 24-0130.countersign
entries() { "$MARKERBED" -L "$1" verify --json | $python -c '
import json, sys; print(json.load(sys.stdin)["files"][0]["entries"])'; }
before=$(entries lab)
told -L lab countersign 24-0130.countersign
claim "who signed has to be said" refused
sed 's/^\(.\{300\}\)Q/\1R/; t; s/^\(.\{300\}\)./\1Q/' 24-0130.countersign > hurt.countersign
told -L lab countersign hurt.countersign --by P006
claim "a changed signature is refused" refused
told -L museum countersign 24-0130.countersign --by P006
claim "by a ledger that has no such entry too" refused
claim "nothing of it was recorded" same "$(entries lab)" "$before"
told -L lab record countersign specimen/24-0130 "whichEntry=#1" how=key role=receiver by=P006 \
    "jws=$(cat 24-0130.countersign)"
claim "nor can it be recorded for another entry" refused
told -L lab countersign 24-0130.countersign --by P006
claim "the lab records it" exited 0
claim "and says of what" says "as receiver."
told -L lab countersign 24-0130.countersign --by P006
claim "a second time adds nothing" says "already"
told -L lab verify --trust trust
claim "the lab's ledger holds" exited 0

# ---- one-sided or two-sided: for whom ----

told -L lab sheet 24-0130 --to P006 --audience institution --out skull.certificate.json
claim "a certificate is issued" exited 0
told verify skull.certificate.json --trust trust
claim "it holds" exited 0
claim "for who does not know the museum's key it is one-sided" says \
    countersign-unknown
kid=$(sed -n 's/^  key //p' <<< "$("$MARKERBED" -L lab countersign 24-0130.countersign --by P006)")
{ cat trust; echo "key $kid the registrar"; } > trust-key
told verify skull.certificate.json --trust trust-key
claim "for who trusts that key it is two-sided" says "two-sided"
told -L museum receive skull.certificate.json --trust trust --as WS-1 --from P006 reason=gift
claim "the museum receives it" exited 0
told -L museum sheet WS-1 --to P006 --audience institution --out museum.certificate.json
told verify museum.certificate.json --trust trust
claim "in the museum's own certificate it is two-sided" says "two-sided"
claim "through both ledgers" says "through all of its ledgers"
told verify skull.certificate.json museum.certificate.json --trust trust
claim "and beside it" says "for ledger.western-strand.example"
told verify skull.certificate.json museum --trust trust
claim "and beside the museum's ledger" says_not "one-sided"
for file in skull museum; do
    claim "an outsider agrees of $file" $python "$top/tests/verifiers/verify.py" --trust trust-key \
        "$file.certificate.json" > outsider
    claim "and knows the key" test -z "$(grep countersign-unknown outsider)"
done

# ---- out of a certificate; on the giver's machine; on paper ----

told -L lab sheet 24-0131 --to P006 --audience institution --out second.certificate.json
told -L museum countersign second.certificate.json --trust trust --out second.countersign
claim "it signs out of a certificate" exited 0
told -L lab countersign second.countersign --by P006
claim "which is recorded" exited 0
sed 's/"audience":"institution"/"audience":"institutiom"/; s/"index":2/"index":3/' \
    second.certificate.json > broken.json
told -L museum countersign broken.json --trust trust --out broken.countersign
claim "what does not hold is not signed" exited 1
claim "and no file is written" test ! -e broken.countersign
made 24-0132
told -L lab countersign --request 24-0132
MARKERBED_NEW_PASSPHRASE_FILE=pass-own told countersign 24-0132.handover.json --own-key stick
claim "a receiver without a ledger signs on the giver's machine" exited 0
claim "with a key made there" says "A key of your own was made"
told countersign 24-0132.handover.json --own-key stick --out again.countersign
claim "a wrong passphrase opens it not" refused
told countersign 24-0132.handover.json --own-key stick --passphrase-file pass-own \
    --out again.countersign
claim "their own does" exited 0
told -L lab countersign 24-0132.countersign --by P006
claim "and is recorded" exited 0
claim "the thumbprint is told" says "key "
own=$(sed -n 's/^  key //p' out)
told -L lab sheet 24-0132 --to P006 --audience institution --out third.certificate.json
{ cat trust; echo "key $own"; } > trust-own
told verify third.certificate.json --trust trust-own
claim "two-sided for who trusts it" says_not "one-sided"
made 24-0133
printf 'no real scan, but its bytes are kept' > receipt.txt
told -L lab record countersign specimen/24-0133 "whichEntry=#$("$MARKERBED" -L lab show 24-0133 \
    --json | $python -c 'import json, sys
print([e["seq"] for e in json.load(sys.stdin)["entries"] if e["kind"] == "custody"][0])')" \
    "how=paper with both signatures" role=receiver by=P006 signedOn=2024-08-30 scan=receipt.txt
claim "a paper that both signed is recorded" exited 0
told -L lab sheet 24-0133 --to P006 --audience institution --out paper.certificate.json
told verify paper.certificate.json --trust trust
claim "and its certificate holds" exited 0

end
