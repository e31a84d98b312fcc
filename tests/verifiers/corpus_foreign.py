"""Certificates of other ledgers inside, and signatures of the other side: docs/format.md sections 5
and 6.2."""
import copy
from corpus_files import drop, in_disclosures
from scenario import SLAB, issue, leaf, story
from strict import b64, sha256
from writer import Ledger, dumps, identity_signature, jwk_of, public, secret, thumb


def foreign_files(c):
    museum = Ledger("ledger.western-strand.example")
    theirs = story(ledger=museum).certify()
    trust = c.trust + museum.trust()
    evidence = {"origin": museum.origin, "entry": leaf(museum.entries[-1]), "size": 1, "root": "x"}

    def arrival(**more):
        return lambda l: l.record(SLAB, "arrival", {"foreignEvidence": [{**evidence, **more}]},
                                  sale={"receivedOn": "2026-01-02"})
    fewer = copy.deepcopy(theirs)
    in_disclosures(fewer, "site/S001", lambda d: d[1:])
    broken = copy.deepcopy(theirs)
    drop("horizon/H-A")(broken)
    c.add("good-foreign", 0, "", issue(later=arrival(), foreign=[theirs]), trust=trust)
    c.add("good-foreign-shows-less", 0, "", issue(later=arrival(), foreign=[fewer]), trust=trust)
    c.add("foreign-of-an-unknown-ledger", 3, "unknown-ledger",
          issue(later=arrival(), foreign=[theirs]))
    c.add("foreign-left-out", 1, "left-out", issue(later=arrival(), foreign=[broken]), trust=trust)
    c.add("foreign-not-named", 1, "file-unasked", issue(foreign=[theirs]), trust=trust)
    c.add("foreign-named-for-another", 1, "file-unasked", issue(
        later=arrival(entry=b64(bytes(32))), foreign=[theirs]), trust=trust)
    c.add("foreign-17", 1, "malformed", issue(later=arrival(), foreign=[theirs] * 17), trust=trust)
    cut = issue(later=arrival(), foreign=[theirs])
    cut["foreign"] = [fewer]
    c.add("foreign-cut-by-the-holder", 1, "cut-down", cut, trust=trust)
    nested_ledger = Ledger("ledger.third.example")
    inner = story(ledger=nested_ledger).certify()
    middle_ledger = Ledger("ledger.western-strand.example")
    middle = story(ledger=middle_ledger, later=lambda l: l.record(SLAB, "arrival", {
        "foreignEvidence": [{"origin": nested_ledger.origin,
                             "entry": leaf(nested_ledger.entries[-1])}]})).certify(foreign=[inner])
    outer = issue(later=arrival(entry=leaf(middle_ledger.entries[-1])), foreign=[middle])
    c.add("good-foreign-in-foreign", 0, "", outer, trust=trust + nested_ledger.trust())
    nested_cut = copy.deepcopy(outer)
    in_disclosures(nested_cut["foreign"][0]["foreign"][0], "site/S001", lambda d: d[1:])
    c.add("foreign-in-foreign-cut", 1, "cut-down", nested_cut, trust=trust + nested_ledger.trust())
    missing_or_twice(c, museum, theirs, arrival, trust)


def missing_or_twice(c, museum, theirs, arrival, trust):
    """None that an arrival names may be missing, and none stands twice."""
    c.add("foreign-missing", 3, "foreign-missing", issue(later=arrival()), trust=trust)
    c.add("foreign-missing-of-another-entry", 3, "foreign-missing", issue(later=lambda l: (
        arrival()(l), arrival(entry=b64(bytes(32)))(l)), foreign=[theirs]), trust=trust)
    c.add("foreign-of-another-origin", 1, "file-unasked", issue(
        later=arrival(origin="ledger.other.example"), foreign=[theirs]), trust=trust)
    c.add("good-arrival-from-no-ledger", 0, "", issue(later=lambda l: l.record(
        SLAB, "arrival", {"foreignEvidence": {"answer": "none"}})))
    c.add("foreign-twice", 1, "malformed", issue(later=arrival(), foreign=[theirs, theirs]),
          trust=trust)
    third = Ledger("ledger.third.example")
    evidence = {"origin": museum.origin, "entry": leaf(museum.entries[-1])}
    again = story(ledger=third, later=lambda l: l.record(SLAB, "arrival", {
        "foreignEvidence": [evidence]})).certify(foreign=[theirs])
    without = {name: value for name, value in again.items() if name != "foreign"}

    def both(ledger):
        arrival()(ledger)
        ledger.record(SLAB, "arrival", {"foreignEvidence": [
            {"origin": third.origin, "entry": leaf(third.entries[-1])}]})
    known = trust + third.trust()
    c.add("foreign-twice-once-nested", 1, "malformed", issue(later=both, foreign=[theirs, again]),
          trust=known)
    c.add("good-foreign-once-for-two", 0, "", issue(later=both, foreign=[theirs, without]),
          trust=known)
    c.add("foreign-missing-inside", 3, "foreign-missing", issue(later=lambda l: l.record(
        SLAB, "arrival", {"foreignEvidence": [
            {"origin": third.origin, "entry": leaf(third.entries[-1])}]}), foreign=[without]),
        trust=known)
    forked = story(ledger=Ledger(museum.origin), later=lambda l: l.record(SLAB, "note")).certify()
    c.add("foreign-forked-beside-it", 1, "forked", issue(later=arrival(), foreign=[theirs]), forked,
          trust=trust)
    museum.record(SLAB, "withdrawal", {"which": {"entry": leaf(museum.entries[-1])},
                                       "why": "error in facts"})
    c.add("foreign-withdrawn-since", 0, "withdrawn", issue(later=arrival(), foreign=[theirs]),
          museum.certify(), trust=trust)


# ---- signed by the other side ----

def signature(over, by="registrar", change=None, header=None, sign=None):
    """A countersignature over an entry, with what a hostile signer could change."""
    head = {"alg": "EdDSA", "kid": thumb(public(by)), "typ": "markerbed-countersign+jwt"}
    load = {"iat": 1767300000, "iss": "ledger.western-strand.example", "jwk": jwk_of(public(by)),
            "over": leaf(over), "role": "receiver", "shown": b64(sha256(b""))}
    for hook, what in (header, head), (change, load):
        if hook:
            hook(what)
    signed = ".".join(b64(dumps(part).encode()) for part in (head, load))
    return signed + "." + b64((sign or secret(by).sign)(signed.encode()))


def countersigned(jws=None, fields=None, **how):
    """The later part of a story: a handover, and the other side's signature as recorded."""
    def later(ledger):
        over = ledger.record(SLAB, "custody", sale={"reason": "gift"})
        entry = {"whichEntry": {"entry": leaf(over)}, "how": "key", "role": "receiver",
                 "jws": jws or signature(over, **how)}
        entry.update(fields or {})
        ledger.record(SLAB, "countersign", {n: v for n, v in entry.items() if v is not None})
    return later


def whose_keys(c):
    museum = Ledger("ledger.western-strand.example")
    theirs = story(ledger=museum, early=lambda l: l.enrol("registrar", ["note"])).certify()
    retired = Ledger("ledger.western-strand.example")
    late = story(ledger=retired, early=lambda l: l.enrol("registrar", ["note"]),
                 later=lambda l: l.retire("registrar")).certify()
    doubted = Ledger("ledger.western-strand.example")
    doubt = story(ledger=doubted, early=lambda l: l.enrol("registrar", ["note"]),
                  later=lambda l: l.retire("registrar", suspectFrom=30)).certify()
    trust = c.trust + museum.trust()
    signed = issue(later=countersigned())
    kid = thumb(public("registrar"))
    c.add("countersigned-by-nobody-known", 0, "countersign-unknown", signed)
    c.add("good-countersigned-by-a-trusted-key", 0, "! countersign-unknown", signed,
          trust=c.trust + "key %s the registrar\n" % kid)
    c.add("good-countersigned-by-a-key-of-a-ledger", 0, "! countersign-unknown", signed, theirs,
          trust=trust)
    c.add("countersigned-by-an-untrusted-ledger", 3, "countersign-unknown unknown-ledger", signed,
          theirs)
    c.add("countersigned-for-another-ledger", 0, "countersign-unknown", issue(later=countersigned(
        change=lambda p: p.update(iss="ledger.third.example"))), theirs, trust=trust)
    c.add("good-countersigned-for-itself", 0, "! countersign-unknown", issue(later=countersigned(
        change=lambda p: p.update(iss="key/" + kid))), theirs, trust=trust)
    c.add("countersigned-before-it-retired", 0, "! countersign-unknown", issue(later=countersigned(
        change=lambda p: p.update(iat=1767225610))), late, trust=trust)
    c.add("countersigned-behind-its-retirement", 0, "countersign-unknown", signed, late,
          trust=trust)
    c.add("countersigned-by-a-key-in-doubt", 0, "countersign-unknown", signed, doubt, trust=trust)
    c.add("countersigned-by-our-own-key", 0, "countersign-unknown", issue(later=countersigned(
        by="owner", change=lambda p: p.update(iss="key/" + thumb(public("owner"))))),
        trust=c.trust + "key %s\n" % thumb(public("owner")))
    c.add("good-signed-on-paper", 0, "! countersign-unknown", issue(later=countersigned(
        fields={"how": "paper with both signatures", "jws": None})))
    inner_ledger = Ledger("ledger.third.example")
    inner = story(ledger=inner_ledger, later=countersigned()).certify()
    carried = {"foreignEvidence": [{"origin": inner_ledger.origin,
                                    "entry": leaf(inner_ledger.entries[-1])}]}
    outer = story(ledger=Ledger(museum.origin), early=lambda l: l.enrol("registrar", ["note"]),
                  later=lambda l: l.record(SLAB, "arrival", carried)).certify(foreign=[inner])
    c.add("good-countersigned-by-the-ledger-around-it", 0, "! countersign-unknown", outer,
          trust=trust + inner_ledger.trust())


def broken_signatures(c):
    def case(name, verdict=1, finding="countersign-broken", **how):
        c.add("countersign-" + name, verdict, finding, issue(later=countersigned(**how)))
    zeros, other = b64(bytes(32)), lambda signed: secret("spare").sign(signed)
    case("by-another-key", sign=other)
    case("changed", sign=lambda signed: secret("registrar").sign(signed + b" "))
    case("over-another", change=lambda p: p.update(over=zeros))
    case("over-what-is-not-here", change=lambda p: p.update(over=zeros),
         fields={"whichEntry": {"entry": zeros}})
    case("in-another-role", change=lambda p: p.update(role="owner"))
    case("with-another-member", change=lambda p: p.update(exp=1))
    case("without-shown", change=lambda p: p.pop("shown"))
    case("of-another-type", header=lambda h: h.update(typ="markerbed-entry+sd-jwt"))
    case("of-another-kid", header=lambda h: h.update(kid=thumb(public("spare"))))
    case("with-a-jwk-of-four", change=lambda p: p["jwk"].update(kid="a"))
    case("with-a-small-key", change=lambda p: p.update(jwk=jwk_of(bytes([1] + 31 * [0]))),
         header=lambda h: h.update(kid=thumb(bytes([1] + 31 * [0]))))
    case("iss-of-another-key", change=lambda p: p.update(iss="key/" + thumb(public("spare"))))
    case("iat-as-text", change=lambda p: p.update(iat="1767300000"))
    case("by-identity", sign=lambda signed: identity_signature("registrar", signed))
    case("no-jws", jws="a.b")
    case("with-disclosures", jws="e30.e30.%s~" % b64(bytes(64)))
    case("without-jws", fields={"jws": None})
    case("jws-on-paper", fields={"how": "paper with both signatures"})
    case("crit", 3, "unknown-version", header=lambda h: h.update(crit=["x"]))
    case("alg-unknown", 3, "unknown-version", header=lambda h: h.update(alg="ES256"))
    case("alg-none", 3, "unknown-version", header=lambda h: h.update(alg="none"))
    case("alg-a-number", header=lambda h: h.update(alg=1))
    case("good-alg-ed25519", 0, "countersign-unknown", header=lambda h: h.update(alg="Ed25519"))
    c.add("countersign-before-its-entry", 1, "countersign-broken", issue(later=lambda l: (
        countersigned(fields={"whichEntry": {"entry": leaf(l.entries[2])}},
                      jws=signature(l.entries[2]))(l))))


def foreign_cases(c):
    for cases in foreign_files, whose_keys, broken_signatures:
        cases(c)
