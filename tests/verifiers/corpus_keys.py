"""Cases about keys: rights, retirement, doubt, checkpoint keys, and the odd points of Ed25519."""
from scenario import SLAB, issue, ref, story
from strict import D, L, P, add_points, b64
from writer import Ledger, founding_fields, identity_signature, jwk_of, public, secret, thumb, vkey


def key_cases(c):
    for cases in rights, retirement, foundings, odd_points, odd_signatures, checkpoint_keys:
        cases(c)


def later(c, name, exit, findings, call, **how):
    c.add("key-" + name, exit, findings, issue(later=call, **how))


def note(ledger, by, sub="party/P001", kind="note"):
    return ledger.record(sub, kind, sale={"text": "said"}, by=by)


def rights(c):
    later(c, "good-new-one", 0, "", lambda l: (l.enrol("new", ["note"]), note(l, "new")))
    later(c, "good-enrolled-by-spare", 0, "",
          lambda l: (l.enrol("new", ["note"], by="spare"), note(l, "new")))
    later(c, "not-enrolled", 1, "key-unknown", lambda l: note(l, "stranger"))
    later(c, "enrols-itself", 1, "key-unknown",
          lambda l: (l.enrol("stranger", ["enrol", "note"], by="stranger"), note(l, "stranger")))
    later(c, "enrolled-afterwards", 1, "key-unknown",
          lambda l: (note(l, "new"), l.enrol("new", ["note"])))
    later(c, "without-right", 1, "key-without-right", lambda l: note(l, "preparator"))
    later(c, "spare-without-right", 1, "key-without-right", lambda l: note(l, "spare"))
    later(c, "enrolled-without-right", 1, "enrol-right",
          lambda l: l.enrol("new", ["note"], by="preparator"))
    later(c, "enrolled-without-right-signs", 1, "enrol-right key-unknown",
          lambda l: (l.enrol("new", ["note"], by="preparator"), note(l, "new")))
    later(c, "may-names-enrolment-not-enrol", 1, "enrol-right",
          lambda l: (l.enrol("new", ["key-enrolment"]), l.enrol("newer", ["note"], by="new")))
    later(c, "retired-without-right", 1, "enrol-right",
          lambda l: l.retire("spare", by="preparator"))
    later(c, "certificate-without-right", 1, "key-without-right",
          lambda l: l.enrol("new", ["note"]), by="new")
    later(c, "certificate-by-a-stranger", 1, "key-unknown", lambda l: None, by="stranger")
    later(c, "kid-of-another", 1, "broken-signature", lambda l: l.record(
        "party/P001", "note", sale={"text": "x"},
        header=lambda h: h.update(kid=thumb(public("owner"))),
        by="stranger"))
    later(c, "two-enrolments", 1, "key-doubled", lambda l: l.enrol("preparator", ["note"]))
    later(c, "founding-key-again", 1, "key-doubled", lambda l: l.enrol("owner", ["note"]))
    later(c, "the-checkpoint-s", 1, "key-doubled", lambda l: l.enrol("checkpoint", ["note"]))
    later(c, "on-another-name", 1, "key-refused", lambda l: l.record(
        "key/" + thumb(public("newer")), "key-enrolment", {
            "jwk": jwk_of(public("new")), "holder": ref("party/P001"), "may": ["note"]}))
    later(c, "on-a-party", 1, "key-refused", lambda l: l.record("party/P001", "key-enrolment", {
        "jwk": jwk_of(public("new")), "holder": ref("party/P001"), "may": ["note"]}))
    later(c, "may-no-list", 1, "key-refused", lambda l: l.enrol("new", "note"))
    later(c, "no-holder", 0, "", lambda l: l.record(
        "key/" + thumb(public("new")), "key-enrolment",
        {"jwk": jwk_of(public("new")), "may": ["note"]}))


def retirement(c):
    later(c, "good-retired", 0, "", lambda l: l.retire("preparator"))
    later(c, "good-retires-itself", 0, "", lambda l: l.retire("preparator", by="preparator"))
    later(c, "good-founder-retired", 0, "", lambda l: (
        l.enrol("new", ["enrol", "certificate"]), l.retire("owner", by="spare")), by="new")
    later(c, "used-after-retirement", 1, "key-retired",
          lambda l: (l.retire("preparator"), note(l, "preparator", SLAB, "condition")))
    later(c, "enrols-after-retirement", 1, "key-retired",
          lambda l: (l.retire("spare"), l.enrol("new", ["note"], by="spare")))
    later(c, "retired-twice", 1, "key-refused",
          lambda l: (l.retire("preparator"), l.retire("preparator")))
    later(c, "retires-nobody", 1, "key-refused", lambda l: l.retire("stranger"))
    later(c, "last-that-enrols", 1, "last-enroller",
          lambda l: (l.retire("spare"), l.retire("owner")))
    later(c, "suspect", 1, "key-suspect", lambda l: l.retire("preparator", suspectFrom=14))
    later(c, "suspect-from-now", 0, "",
          lambda l: l.retire("preparator", suspectFrom=len(l.entries)))
    later(c, "suspect-enrolled-another", 1, "key-suspect", lambda l: (
        l.enrol("new", ["note"], by="spare"), note(l, "new"), l.retire("spare", suspectFrom=14)))
    later(c, "suspect-enrolled-before", 0, "", lambda l: (
        l.enrol("new", ["note"], by="spare"), note(l, "new"),
        l.retire("spare", suspectFrom=len(l.entries))))
    later(c, "suspect-by-two-steps", 1, "key-suspect", lambda l: (
        l.enrol("new", ["enrol"], by="spare"), l.enrol("newer", ["note"], by="new"),
        note(l, "newer"), l.retire("spare", suspectFrom=14)))


def founding(**more):
    fields = {**founding_fields("ledger.harrowvane.example"), **more}
    return {"fields": {name: value for name, value in fields.items() if value is not None}}


def foundings(c):
    def begun(case, findings, call=None, **more):
        ledger = story(**(call or founding(**more)))
        file = ledger.certify()
        c.add("founding-" + case, 1 if findings else 0, findings, file, trust=ledger.trust())
    later(c, "second-founding", 1, "second-founding", lambda l: l.found())
    later(c, "second-founding-by-a-stranger", 1, "second-founding", lambda l: l.found(
        by="stranger", **founding(jwk=jwk_of(public("stranger")))))
    begun("of-another-origin", "bad-founding", origin="ledger.other.example")
    begun("without-key", "bad-founding", jwk=None)
    begun("without-name", "", name=None)
    begun("signed-by-another", "key-unknown", {**founding(), "by": "stranger"})
    begun("checkpoint-key-is-its-own", "key-doubled",
          checkpointKey=vkey("ledger.harrowvane.example", public("owner")))
    begun("checkpoint-key-of-another-name", "key-refused",
          checkpointKey=vkey("ledger.other.example", public("checkpoint")))
    begun("checkpoint-key-of-a-witness", "key-refused",
          checkpointKey=vkey("ledger.harrowvane.example", public("checkpoint"), b"\4"))
    ledger = Ledger()
    ledger.record("party/P001", "party", sale={"neutralLabel": "first"})
    ledger.found()
    c.add("founding-is-not-the-first", 1, "bad-founding", ledger.certify(("specimen/x",)))


def encode(point, flip=False):
    return (point[1] | ((point[0] & 1) ^ flip) << 255).to_bytes(32, "little")


def points():
    order8 = bytes.fromhex("c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a")
    other8 = bytes.fromhex("26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05")
    mixed = decode(public("new"))
    y3 = next(y for y in range(2, 19) if on_curve(y))
    off = next(y for y in range(2, 100) if not on_curve(y))
    return {
        "order-1": encode((0, 1)), "order-2": encode((0, P - 1)),
        "order-4": bytes(32), "order-4-other": bytes(31) + b"\x80",
        "order-8": order8, "order-8-turned": order8[:31] + bytes([order8[31] ^ 128]),
        "order-8-other": other8, "order-8-other-turned": other8[:31] + bytes([other8[31] ^ 128]),
        "order-1-signed": encode((0, 1), True), "order-2-signed": encode((0, P - 1), True),
        "order-1-not-reduced": (P + 1).to_bytes(32, "little"),
        "order-1-not-reduced-signed": (P + 1 | 1 << 255).to_bytes(32, "little"),
        "order-4-not-reduced": P.to_bytes(32, "little"),
        "order-4-not-reduced-signed": (P | 1 << 255).to_bytes(32, "little"),
        "not-reduced": (P + y3).to_bytes(32, "little"),
        "mixed-with-order-2": encode(add_points(mixed, (0, P - 1))),
        "mixed-with-order-8": encode(add_points(mixed, decode(order8))),
        "not-on-the-curve": off.to_bytes(32, "little"),
        "all-ones": b"\xff" * 32,
    }


def on_curve(y):
    square = (y * y - 1) * pow(D * y * y + 1, -1, P) % P
    return pow(square, (P - 1) // 2, P) in (0, 1)


def decode(raw):
    y = int.from_bytes(raw, "little") % 2**255
    square = (y * y - 1) * pow(D * y * y + 1, -1, P) % P
    x = pow(square, (P + 3) // 8, P)
    x = x if x * x % P == square else x * pow(2, (P - 1) // 4, P) % P
    return (x if x % 2 == raw[31] >> 7 else P - x), y


def odd_points(c):
    for name, raw in points().items():
        later(c, "point-" + name, 1, "key-refused", lambda l,
              raw=raw: l.enrol("x", ["note"], raw=raw))
    raw = points()["order-1"]
    # with the identity as key, R the identity and S zero "verify" over every text
    later(c, "point-order-1-signs", 1, "key-refused key-unknown", lambda l: (
        l.enrol("x", ["note"], raw=raw),

                   l.record("party/P001", "note", sale={"text": "x"},
                            header=lambda h: h.update(kid=thumb(raw)),
                 sign=lambda m: raw + bytes(32))))
    later(c, "point-checkpoint-order-8", 1, "key-refused",
          lambda l: (l.rotate("x", raw=points()["order-8"]), l.checkpoint_keys.pop()))
    for name, change in (("31-bytes", lambda j: j.update(x=b64(bytes(31)))),
                         ("private", lambda j: j.update(d=b64(bytes(32)))),
                         ("other-curve", lambda j: j.update(crv="X25519")),
                         ("other-type", lambda j: j.update(kty="EC")),
                         ("padded", lambda j: j.update(x=j["x"] + "="))):
        jwk = jwk_of(public("new"))
        change(jwk)
        later(c, "jwk-" + name, 1, "key-refused", lambda l, jwk=jwk: l.record(
            "key/" + thumb(public("new")), "key-enrolment",
            {"jwk": jwk, "holder": ref("party/P001"), "may": ["note"]}))


def odd_signatures(c):
    def signed(name, sign):
        later(c, "signature-" + name, 1, "broken-signature", lambda l: l.record(
            "party/P001", "note", sale={"text": "x"}, sign=sign))

    def larger(message):
        raw = secret("owner").sign(message)
        return raw[:32] + (int.from_bytes(raw[32:], "little") + L).to_bytes(32, "little")
    signed("s-plus-order", larger)
    signed("r-is-the-identity", lambda m: identity_signature("owner", m))
    signed("r-is-the-identity-signed", lambda m: b"\1" + bytes(30) + b"\x80" + bytes(32))
    signed("r-not-reduced", lambda m: (P + 1).to_bytes(32, "little")
           + identity_signature("owner", m)[32:])
    signed("zero", lambda m: bytes(64))
    signed("all-ones", lambda m: b"\xff" * 64)
    later(c, "signature-of-63-bytes", 1, "malformed", lambda l: l.record(
        "party/P001", "note", sale={"text": "x"}, sign=lambda m: secret("owner").sign(m)[:63]))


def checkpoint_keys(c):
    def rotated(name, exit, findings, keys=None, why="rotation", anchor=None, by="owner"):
        ledger = story()
        ledger.rotate("second", why, by)
        size = len(ledger.entries)
        file = ledger.certify()
        if keys:
            file["checkpoint"] = ledger.note(keys=keys)
        if anchor:
            file["anchors"] = [ledger.anchor(size, len(ledger.entries), keys=anchor)]
        c.add("checkpoint-key-" + name, exit, findings, file)
    rotated("good-changed", 0, "")
    rotated("good-changed-by-spare", 0, "", by="spare")
    rotated("old-one-signs", 1, "checkpoint-key", ["checkpoint"])
    rotated("both-sign", 0, "", ["checkpoint", "second"])
    rotated("changed-without-right", 1, "enrol-right", by="preparator")
    rotated("first-behind-it-by-both", 0, "", anchor=["checkpoint", "second"])
    rotated("first-behind-it-without-the-old", 1, "checkpoint-key", anchor=["second"])
    rotated("first-behind-it-without-the-new", 1, "checkpoint-key", anchor=["checkpoint"])
    rotated("first-behind-a-loss", 0, "", anchor=["second"], why="lost")

    def twice(name, exit, findings, anchor, whys=("rotation", "rotation")):
        ledger = story()
        ledger.rotate("second", whys[0])
        ledger.rotate("third", whys[1])
        size = len(ledger.entries)
        file = ledger.certify()
        file["anchors"] = [ledger.anchor(size, len(ledger.entries), keys=anchor)]
        c.add("checkpoint-key-twice-" + name, exit, findings, file)
    twice("by-all", 0, "", ["checkpoint", "second", "third"])
    twice("by-the-last-two", 0, "", ["second", "third"])  # a checkpoint may have stood between
    twice("by-the-first-and-last", 1, "checkpoint-key", ["checkpoint", "third"])
    twice("by-the-last", 1, "checkpoint-key", ["third"])
    twice("by-the-last-behind-a-loss", 0, "", ["third"], ("rotation", "lost"))
    twice("by-the-last-once-a-loss", 1, "checkpoint-key", ["third"], ("lost", "rotation"))
    later(c, "checkpoint-key-is-a-person-s", 1, "key-doubled",
          lambda l: (l.rotate("preparator"), l.checkpoint_keys.pop()))
    later(c, "checkpoint-key-again", 1, "key-doubled",
          lambda l: (l.rotate("checkpoint"), l.checkpoint_keys.pop()))
    later(c, "checkpoint-key-on-a-party", 1, "key-refused", lambda l: l.record("party/P001",
          "checkpoint-key", {"checkpointKey": vkey(l.origin, public("second")), "why": "rotation"}))
