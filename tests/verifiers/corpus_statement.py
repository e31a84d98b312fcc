"""Cases about the statement: lines that do not follow, and what follows from odd records."""
import copy
from scenario import OTHER, SLAB, collect, issue, leaf, ref, story
from strict import unb64
from writer import Each


def line(name, change):
    def edit(lines):
        lines = copy.deepcopy(lines)
        change(next(entry for entry in lines if entry["name"] == name))
        return lines
    return edit


def statement_cases(c):
    for cases in told_wrong, odd_records, odd_parties_and_rows, hidden:
        cases(c)


def told_wrong(c):
    def told(name, findings, edit, exit=1):
        c.add("statement-" + name, exit, findings, issue(lines=edit))
    differs, missing = "statement-differs", "statement-missing"
    told("value-changed", differs, line("formation", lambda e: e.update(value="Pierre")))
    told("value-of-another-type", differs, line("objectQuantity", lambda e: e.update(value="1")))
    told("number-as-true", differs, line("objectQuantity", lambda e: e.update(value=True)))
    told("unit-changed", differs, line("shares", lambda e: e.update(unit="kg")))
    told("unit-missing", differs, line("shares", lambda e: e.pop("unit")))
    told("from-changed", differs, line("formation", lambda e: e["from"].reverse()))
    told("from-shorter", differs, line("formation", lambda e: e["from"].pop()))
    told("member-more", differs, line("formation", lambda e: e.update(note="sure")))
    told("row-order", differs, line("corrections", lambda e: e["value"].reverse()))
    told("line-missing", missing, lambda ls: [e for e in ls if e["name"] != "shares"])
    told("all-missing", missing, lambda ls: [])
    told("line-twice", differs, lambda ls: ls + [ls[-1]])
    told("lines-turned", differs, lambda ls: ls[::-1])
    told("line-unknown", differs, lambda ls: ls + [{"name": "beauty", "value": "great", "from":
                                                    []}])
    told("line-no-object", differs, lambda ls: ls + ["hello"])
    told("line-that-does-not-follow", differs, lambda ls: [e for e in ls if e["name"] != "x"] + [
        {"name": "earlierCertificates", "value": [{"audience": "buyer"}], "from": []}])
    told("attested-not-allowed", differs, line("formation", lambda e: (e.pop("from"), e.update(
        attested=True, value="Pierre"))))
    told("good-attested", "", lambda ls: ls + [
        {"name": "standing", "value": "no question known", "attested": True},
        {"name": "coarsePlaceHolds", "value": "yes", "attested": True}], 0)
    told("attested-with-from", differs, lambda ls: ls + [
        {"name": "standing", "value": "x", "attested": True, "from": []}])
    told("attested-false", differs, lambda ls: ls + [
        {"name": "standing", "value": "x", "attested": False}])
    told("attested-unknown", differs, lambda ls: ls + [
        {"name": "beauty", "value": "great", "attested": True}])
    told("attested-order", differs, lambda ls: [
        {"name": "standing", "value": "x", "attested": True}] + ls)
    c.add("statement-not-an-object", 1, "malformed", issue(own={"statement": ["x"]}))
    c.add("statement-with-more", 1, "malformed",
          issue(own={"statement": {"lines": [], "note": "x"}}))


def tools(c):
    def good(name, later, **how):
        c.add("statement-good-" + name, 0, "", issue(later=later, **how))

    def first(ledger, kind, sub=SLAB):
        return next(e for e in ledger.tips[sub] if e["kind"] == kind)

    def correct(ledger, target, action="change fields", sub=SLAB, fields=None, **classes):
        return ledger.record(sub, "correction", {
            "target": {"entry": leaf(target)}, "action": action, "changesFacts": "yes",
            "why": "typing", **(fields or {})}, **classes)
    return good, first, correct


def odd_records(c):
    """Lines worked out by this writer; the point is that every verifier works out the same."""
    good, first, correct = tools(c)
    good("corrected", lambda l: correct(l, first(l, "collecting"), sale={"eventDate":
                                                                         "2025-09-13"}))
    good("corrected-twice", lambda l: (
        correct(l, first(l, "collecting"), sale={"eventDate": "2025-09-13"}),
        correct(l, first(l, "collecting"), sale={"eventDate": "2025-09-12"})))
    good("taken-away", lambda l: correct(l, first(l, "collecting"), sale={"eventDate": None}))
    good("taken-away-and-given-again", lambda l: (
        correct(l, first(l, "collecting"), sale={"eventDate": None}),
        correct(l, first(l, "collecting"), sale={"eventDate": "2025-09-12"})))
    good("corrected-in-another-class", lambda l: correct(
        l, first(l, "collecting"), science={"eventDate": "2025-01-01"}), audience="institution")
    good("corrected-open-by-sale", lambda l: correct(
        l, first(l, "identification"), sale={"scientificName": "Marsupites"}))
    good("corrected-own-names", lambda l: correct(l, first(l, "collecting"), sale={"movedTo": "x"}))
    good("void-of-a-correction", lambda l: correct(
        l, correct(l, first(l, "collecting"), sale={"eventDate": "2025-09-13"}), "void (double)"))
    good("void-of-a-void", lambda l: correct(
        l, correct(l, first(l, "preparation"), "void (double)"), "void (did not happen)"))
    good("void-of-a-void-of-a-void", lambda l: correct(l, correct(
        l, correct(l, first(l, "preparation"), "void (double)"), "void (double)"), "void (double)"))
    good("correction-of-a-correction", lambda l: correct(
        l, first(l, "correction"), fields={"scientificName": "Marsupites"}))
    good("correction-of-another-subject", lambda l: correct(
        l, first(l, "collecting"), sub="site/S001", sale={"eventDate": "2025-01-01"}))
    good("correction-of-nothing", lambda l: l.record(SLAB, "correction", {
        "target": {"entry": "A" * 43}, "action": "change fields", "changesFacts": "yes",
        "why": "x"}))
    good("correction-without-target",
         lambda l: l.record(SLAB, "correction", {"action": "void (x)"}))
    good("void-of-a-division", lambda l: (
        l.record(SLAB, "division", {"side": "divided"}, sale={"date": "2026-01-01"}),
        correct(l, first(l, "division"), "void (double)")))
    good("void-of-a-certificate", lambda l: (
        l.certify(audience="public"), correct(l, first(l, "certificate"), "void (double)")))
    good("site-corrected", lambda l: correct(
        l, first(l, "site", "site/S001"), sub="site/S001", sale={"county": "Trego"}))
    good("site-void", lambda l: correct(
        l, first(l, "site", "site/S001"), "void (double)", sub="site/S001"))
    good("moved-to-another-site", lambda l: (
        l.record("site/S002", "site", {"countryCode": "CA"}, sale={"county": "Elsewhere"}),
        correct(l, first(l, "collecting"), sale={"site": ref("site/S002")})))
    good("site-is-no-reference", lambda l: correct(
        l, first(l, "collecting"), sale={"site": {"answer": "not known"}}))
    good("arrival-names-the-site", lambda l: (
        correct(l, first(l, "collecting"), sale={"site": None}),
        l.record(SLAB, "arrival", {"objectForm": "slab"}, sale={"statedSite": ref("site/S001")})))


def odd_parties_and_rows(c):
    good, first, correct = tools(c)
    good("party-renamed", lambda l: l.record("party/P001", "party",
                                             sale={"neutralLabel": "the firm"}),
         audience="institution")
    good("party-name-hidden-later", lambda l: l.record(
        "party/P001", "party", sale={"neutralLabel": "the firm"}, science={"name": "New Name"}))
    good("party-corrected", lambda l: correct(
        l, first(l, "party", "party/P001"), sub="party/P001", sale={"neutralLabel": "the bench"}))
    good("party-label-taken-away", lambda l: correct(
        l, first(l, "party", "party/P001"), sub="party/P001", sale={"neutralLabel": None}))
    good("party-unnamed", lambda l: (
        l.record("party/P009", "party", science={"partyType": "firm"}),
        l.record(SLAB, "identification", {"whatItIs": "crinoid"}, sale={"identifiedBy": ref(
            "party/P009")})))
    good("party-in-a-list-and-not-a-party", lambda l: l.record(SLAB, "identification", {
        "whatItIs": "crinoid"},
        sale={"identifiedBy": [ref("party/P001"), "somebody", ref("site/S001")]}))
    good("not-examined", lambda l: correct(l, first(l, "condition"), "void (double)"))
    good("examined-twice", lambda l: l.record(SLAB, "condition", by="preparator", sale={
        "examinedOn": "2026-01-01"}))
    good("answer-with-unit", lambda l: l.record(SLAB, "condition", by="preparator", sale={
        "shares": {"answer": "not examined"}}))
    good("no-sittings", lambda l: correct(l, first(l, "preparation"), "void (double)"))
    good("rows", lambda l: (
        l.record(SLAB, "custody", sale={"handedOver": "2026-01-01", "reason": "sale"}),
        l.record(SLAB, "custody", sale={"other": "x"}),
        l.record(SLAB, "custody", sale={"received": "2026-01-02", "reason": "return"}),
        correct(l, first(l, "custody"), sale={"handedOver": "2025-12-31"})))
    good("land-changed", lambda l: l.record("site/S001", "land-status", sale={
        "landCategory": [["private"], "federal"]}))
    good("public-of-all-this", lambda l: correct(
        l, first(l, "collecting"), sale={"eventDate": "2025-09-13"}), audience="public")
    good("earlier-certificates", lambda l: (l.certify(audience="public"), l.certify()))
    good("division-salted", lambda l: l.record(SLAB, "division", {"side": "divided"}, sale={
        "date": "2026-01-01", "into": Each([ref(OTHER), ref("specimen/x")])}))
    good("collected-twice", lambda l: collect(l, eventDate="2026-01-01"))
    good("null-in-a-record", lambda l: l.record(SLAB, "identification", {"whatItIs": None}))


def hidden(c):
    """What is hidden ends the search: an older value must not stand for a newer one."""
    def newest(ledger):
        ledger.record(SLAB, "identification", {"whatItIs": "crinoid"}, sale={"sure": "guess"})
    c.add("statement-good-newest-value-withheld", 0, "", withheld_newest(newest))
    c.add("statement-hidden-newest-value", 1, "statement-differs",
          withheld_newest(newest, lines=with_old))


def newest_cut(entry, disclosure):
    return entry["kind"] == "identification" and disclosure["name"] == "sure" \
        and b"guess" in unb64(disclosure["text"])


def with_old(lines):
    order = [e["name"] for e in lines]
    old = {"name": "identificationSure", "value": "sure", "from": []}
    place = next((i for i, name in enumerate(order) if name == "objectForm"), 0)
    return lines[:place] + [old] + lines[place:]


def withheld_newest(later, **how):
    ledger = story(later=later)
    digest = [d["digest"] for d in ledger.tips[SLAB][-1]["disclosures"]]
    return ledger.certify(cut=newest_cut, fields={"withheld": [
        {"digest": d, "reason": "our own decision"} for d in digest]}, **how)
