#!/usr/bin/python3
"""The audit where something that it rests on was erased: it cannot tell, and never says "fits".
The thirty days of an erasure pass on the clock of the test build (forget.py)."""
import json
import sys

from _lab import Claims
from forget import Aged

CASES = (("24", "custody", "handedOver", "day not known"),
         ("25", "title", "date", "day not known"),
         ("27", "custody", "acknowledged", "not on record"),
         ("35", "certificate", "statement", "what was shown is not on record"))


def story(lab):
    lab.record("party", "party/P001", partyType="person", name="A B", namedTo="anyone")
    lab.record("party", "party/P002", partyType="person", name="C D", namedTo="anyone")
    lab.record("site", "site/S1", siteName="Ground", countryCode="US", stateProvince="Kansas",
               county="Gove", decimalLatitude="not known", decimalLongitude="not known",
               placeHeldBackBy="nobody")
    for rule, *_ in CASES:
        lab.record("collecting", f"specimen/C{rule}", eventDate="2031-05-01", site="site/S1",
                   horizon="not known", inPlace="in place", recordedBy="party/P001",
                   permission="not needed", recordNumber="none", verbatimIdentification="a shell",
                   objectForm="single", objectQuantity=1, quantityHow="counted",
                   materialClass="invertebrate")
    custody = {"from": "party/P001", "to": "party/P002", "fromLabel": "us",
               "toLabel": "private person", "handedOver": "2031-05-02", "received": "not known",
               "reason": "storage", "capacity": "keeper", "acknowledged": "on paper by both",
               "receipt": "none", "fromCountry": "US", "toCountry": "US"}
    lab.record("custody", "specimen/C24", **custody)
    lab.record("custody", "specimen/C27", **custody)
    title = {"fromLabel": "us", "toLabel": "us", "manner": "found on own land", "basis": "none",
             "conditions": "none", "burdens": "none stated", "acknowledged": "on paper by both",
             "receipt": "none"}
    lab.record("title", "specimen/C25", **{"from": "nobody before"}, to="party/P001",
               date="2031-05-01", **title)
    lab.record("title", "specimen/C25", **{"from": "party/P001"}, to="party/P002",
               date="2031-05-03", **{**title, "toLabel": "private person", "manner": "gift"})
    lab.do("sheet", "C35", "--to", "bearer", "--unmarked", "--out", lab.path("s35"))


def answer(lab, rule):
    told = lab.ask("audit", "--specimen", f"C{rule}")
    counts = next(r for r in told["rules"] if r["id"] == rule)
    return counts, [f["reason"] for f in told["findings"] if f["rule"] == rule]


def main():
    claims = Claims()
    with Aged("forgotten.example") as lab:
        story(lab)
        requests = []
        for rule, kind, field, _ in CASES:
            counts, reasons = answer(lab, rule)
            claims(f"rule {rule}: fits before", counts["fits"] and not reasons, (counts, reasons))
            done = lab.run("forget", f"specimen/C{rule}", "--field", field, "--ground",
                           "a person's request", "--asked-by", "P001", "--json")
            if claims(f"rule {rule}: the {field} of the {kind} may be erased",
                      done.returncode == 0, done.stderr):
                requests.append(json.loads(done.stdout)["request"])
        lab.day = "2031-07-05"
        for request in requests:
            lab.do("forget", "--do", request)
        for rule, kind, field, reason in CASES:
            counts, reasons = answer(lab, rule)
            claims(f"rule {rule}: without the {field} of the {kind} it cannot tell",
                   counts["cannotTell"] and not counts["doesNotFit"] and reason in reasons,
                   (counts, reasons))
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
