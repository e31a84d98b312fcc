"""Cases about single entries, as a hostile issuer could write and properly sign them."""
import json
from scenario import OTHER, SLAB, issue, ref
from strict import b64, unb64
from writer import Each, dumps

SITE = "site/S002"


def entry_cases(c):
    for cases in versions, payloads, bodies, disclosures, json_inside, links, kinds, sizes:
        cases(c)


def one(c, name, exit, findings, sub=SITE, kind="site", fields=None, certify=None, **how):
    """A certificate with one more entry in it, written so."""
    def later(ledger):
        ledger.record(sub, kind, fields or {"countryCode": "US"}, **how)
    c.add("entry-" + name, exit, findings, issue(later=later, **(certify or {})))


def put(**members):
    return lambda what: what.update(members)


def without(name):
    return lambda what: what.pop(name) and None


def versions(c):
    one(c, "alg-ed25519", 0, "", header=put(alg="Ed25519"))
    one(c, "alg-none", 3, "unknown-version", header=put(alg="none"))
    one(c, "alg-es256", 3, "unknown-version", header=put(alg="ES256"))
    one(c, "alg-missing", 1, "malformed", header=without("alg"))
    one(c, "crit", 3, "unknown-version", header=put(crit=["exp"], exp=1))
    one(c, "v-2", 3, "unknown-version", payload=put(v=2))
    one(c, "v-2-with-other-members", 3, "unknown-version", payload=put(v=2, new="member"))
    one(c, "v-text", 1, "malformed", payload=put(v="1"))
    one(c, "v-missing", 1, "malformed", payload=without("v"))
    one(c, "sd-alg-sha-512", 3, "unknown-version", payload=put(_sd_alg="sha-512"))
    one(c, "sd-alg-missing", 1, "malformed", payload=without("_sd_alg"))
    one(c, "derivation-unknown", 3, "unknown-derivation",
        certify={"fields": {"derivation": b64(bytes(32))}})


def payloads(c):
    one(c, "header-extra-member", 1, "malformed", header=put(x5u="x"))
    one(c, "header-typ", 1, "malformed", header=put(typ="JWT"))
    one(c, "header-kid-short", 1, "malformed", header=put(kid="abc"))
    one(c, "payload-extra-member", 1, "malformed", payload=put(exp=1))
    one(c, "iss-of-another", 1, "wrong-origin", payload=put(iss="ledger.other.example"))
    one(c, "iat-text", 1, "malformed", payload=put(iat="1767225700"))
    one(c, "seq-differs", 1, "malformed", payload=put(seq=3))
    one(c, "body-list", 1, "malformed", payload=put(body=[]))
    one(c, "body-missing", 1, "malformed", payload=without("body"))
    one(c, "kind-capital", 1, "malformed", kind="Site")
    one(c, "kind-of-one-letter", 1, "malformed", kind="s")
    for name, sub in (("id-begins-with-dot", "site/.S2"), ("id-of-65", "site/" + "a" * 65),
                      ("id-empty", "site/"), ("id-with-slash", "site/a/b"),
                      ("word-capital", "Site/a"),
                      ("no-word", "/a"), ("no-id", "site"), ("key-of-no-thumbprint", "key/abc")):
        one(c, "sub-" + name, 1, "malformed", sub=sub)
    one(c, "id-of-64", 0, "", sub="site/" + "a" * 64)
    one(c, "id-of-odd-characters", 0, "", sub="site/0._-x")
    one(c, "clock-backwards", 1, "clock-backwards", seconds=-2)
    one(c, "clock-stands", 0, "", seconds=0)


def body(change):
    return lambda payload: change(payload["body"])


def bodies(c):
    one(c, "digests-not-sorted", 1, "malformed", sale={"a": "1", "b": "2", "c": "3"},
        payload=body(lambda b: b["sale"]["_sd"].reverse()))
    one(c, "digest-twice-in-a-class", 1, "malformed", sale={"a": "1"},
        payload=body(lambda b: b["sale"]["_sd"].append(b["sale"]["_sd"][0])))
    one(c, "digest-in-two-classes", 1, "malformed", sale={"a": "1"},
        payload=body(lambda b: b.update(science=b["sale"])))
    one(c, "class-empty", 1, "malformed", payload=body(lambda b: b.update(sale={"_sd": []})))
    one(c, "class-with-a-field", 1, "malformed", sale={"a": "1"},
        payload=body(lambda b: b["sale"].update(x=1)))
    one(c, "class-is-text", 1, "malformed", payload=body(lambda b: b.update(sale="x")))
    one(c, "class-open", 1, "malformed", fields={"open": {"_sd": [b64(bytes(32))]}})
    one(c, "sd-at-the-top", 1, "malformed", fields={"_sd": [b64(bytes(32))]})
    one(c, "sd-in-a-value", 1, "malformed", fields={"x": {"_sd": [b64(bytes(32))]}})
    one(c, "dots-in-a-value", 1, "malformed", fields={"x": {"...": b64(bytes(32))}})
    one(c, "dots-in-an-inner-list", 1, "malformed", fields={"x": [[{"...": b64(bytes(32))}]]})
    one(c, "dots-with-more", 1, "malformed", fields={"x": [{"...": b64(bytes(32)), "y": 1}]})
    one(c, "dots-no-digest", 1, "malformed", fields={"x": [{"...": "abc"}]})
    one(c, "digest-short", 1, "malformed", payload=body(lambda b: b.update(sale={"_sd": ["abc"]})))
    one(c, "open-list-salted", 0, "", fields={"x": Each(["a", "b"])})
    one(c, "element-twice", 1, "malformed", fields={"x": [{"...": b64(bytes(32))}] * 2})
    one(c, "element-never-shown", 0, "", fields={"x": [{"...": b64(bytes(32))}]})
    one(c, "class-private-decoys", 0, "", private={"a": "1"}, payload=body(
        lambda b: b["private"].update(_sd=sorted(b["private"]["_sd"] + [b64(bytes([n] * 32))
                                                                        for n in range(3)]))))
    one(c, "class-sale-decoy", 1, "withheld-from-audience", sale={"a": "1"}, payload=body(
        lambda b: b["sale"].update(_sd=sorted(b["sale"]["_sd"] + [b64(bytes(32))]))))


def disclosures(c):
    one(c, "name-twice-hidden-and-open", 1, "malformed", sale={"countryCode": "CA"})
    one(c, "name-of-a-class", 1, "malformed", sale={"science": "x"})
    one(c, "name-open", 1, "malformed", sale={"open": "x"})
    one(c, "name-sd", 1, "malformed", sale={"_sd": "x"})
    one(c, "name-dots", 1, "malformed", sale={"...": "x"})
    one(c, "name-empty", 1, "malformed", sale={"": "x"})
    one(c, "name-not-ascii", 1, "malformed", sale={"n\u00e4me": "x"})
    one(c, "open-name-not-ascii", 1, "malformed", fields={"n\u00e4me": "x"})
    c.add("entry-name-twice-in-two-classes", 1, "malformed", issue(later=lambda l: l.record(
        SITE, "site", sale={"a": "1"}, science={"a": "2"}), audience="institution"))
    one(c, "disclosure-sd-in-value", 1, "malformed", sale={"x": {"_sd": []}})
    one(c, "disclosure-dots-in-value", 1, "malformed", sale={"x": {"...": "y"}})
    one(c, "disclosure-element-in-element", 1, "malformed",
        sale={"x": Each([[{"...": b64(bytes(32))}]])})
    one(c, "disclosure-of-four", 1, "malformed", sale={"x": "y"},
        disclosure=lambda t: t[:-1] + ',"z"]')
    one(c, "disclosure-of-two-for-a-field", 1, "malformed", sale={"x": "y"},
        disclosure=lambda t: dumps(json.loads(t)[::2]))
    one(c, "disclosure-of-three-for-an-element", 1, "malformed", fields={"x": Each(["y"])},
        disclosure=lambda t: t.replace(',"y"', ',"n","y"'))
    one(c, "disclosure-object", 1, "malformed", sale={"x": "y"}, disclosure=lambda t: '{"a":1}')
    one(c, "disclosure-salt-number", 1, "malformed", sale={"x": "y"},
        disclosure=lambda t: '[12345678901234,"x","y"]')
    one(c, "disclosure-white-space", 0, "", sale={"x": "y"}, disclosure=lambda t: " " + t + "\n")
    one(c, "disclosure-null", 0, "", sale={"x": None})
    one(c, "salt-weak", 1, "weak-salt", sale={"x": "y"}, salt=lambda: "A" * 21)
    one(c, "salt-of-22", 0, "", sale={"x": "y"}, salt=lambda: "A" * 22)
    one(c, "salt-repeated", 1, "repeated-salt", sale={"x": "y", "z": "y"}, salt=lambda: "A" * 22)
    one(c, "salt-repeated-elsewhere", 1, "repeated-salt", sale={"x": "y"}, salt=first_salt(c))


def first_salt(c):
    disclosure = c.base_ledger.tips["site/S001"][0]["disclosures"][0]
    return lambda: json.loads(unb64(disclosure["text"]))[0]


def json_inside(c):
    def payload(name, exit, change, findings="malformed"):
        one(c, "payload-json-" + name, exit, findings if exit else "", text=change)
    payload("white-space", 0, lambda t: " " + t.replace(",", ", ") + "\n")
    payload("members-unsorted", 0, lambda t: json.dumps(dict(reversed(json.loads(t).items()))))
    payload("member-twice", 1, lambda t: t[:-1] + ',"v":1}')
    payload("member-twice-by-escape", 1, lambda t: t[:-1] + ',"\\u0076":1}')
    payload("body-member-twice", 1,
            lambda t: t.replace('"countryCode"', '"countryCode":1,"countryCode"'))
    payload("number-1.0", 1, lambda t: t.replace('"v":1', '"v":1.0'))
    payload("number-1e0", 1, lambda t: t.replace('"v":1', '"v":1e0'))
    payload("number-minus", 1, lambda t: t.replace('"v":1', '"w":-1,"v":1'))
    payload("bytes-behind", 1, lambda t: t + "x")
    payload("byte-order-mark", 1, lambda t: "\ufeff" + t)
    payload("utf-16", 1, lambda t: t.encode("utf-16-be"))
    payload("array", 1, lambda t: "[" + t + "]")
    one(c, "header-json-member-twice", 1, "malformed",
        header_text=lambda t: t[:-1] + ',"alg":"EdDSA"}')
    one(c, "header-json-white-space", 0, "", header_text=lambda t: t.replace(":", " : "))
    texts = (("minus-zero", "-0"), ("fraction", "1.5"), ("exponent", "1e3"), ("plus", "+1"),
             ("leading-zero", "01"), ("two-to-53", "9007199254740992"),
             ("very-long", "1" * 400), ("nan", "NaN"), ("infinity", "Infinity"), ("hex", "0x10"),
             ("single-quotes", "'a'"), ("comment", "1/**/"), ("true-capital", "True"),
             ("escape-unknown", '"\\q"'), ("escape-short", '"\\u12"'), ("escape-x", '"\\x41"'),
             ("surrogate-alone", '"\\ud800"'), ("surrogate-low-alone", '"\\udc00"'),
             ("surrogates-turned", '"\\udc00\\ud800"'), ("nul-escaped", '"\\u0000"'),
             ("bell", '"\\u0007"'), ("line-feed-raw", '"a\nb"'), ("tab-raw", '"a\tb"'),
             ("carriage-return", '"\\r"'), ("delete", '"\u007f"'), ("c1", '"\\u0085"'),
             ("bidi-override", '"\u202eabc"'), ("bidi-isolate", '"\u2066abc"'),
             ("arabic-letter-mark", '"\\u061c"'), ("left-to-right-mark", '"\u200e"'),
             ("nested-17", "[" * 16 + "]" * 16), ("name-with-tab", '{"a\\tb":1}'),
             ("name-with-line-feed", '{"a\\nb":1}'), ("name-with-bidi", '{"a\u202e":1}'),
             ("name-twice", '{"a":1,"a":2}'), ("empty-element", "[1,,2]"),
             ("trailing-comma", "[1,]"),
             ("no-value", ""), ("form-feed-between", "\f1"), ("no-break-space", "\u00a01"))
    for name, text in texts:
        one(c, "json-" + name, 1, "malformed", sale={"x": "VALUE"},
            disclosure=lambda t, text=text: t.replace('"VALUE"', text))
    one(c, "json-utf8-overlong", 1, "malformed", sale={"x": "VALUE"},
        disclosure=lambda t: t.encode().replace(b"VALUE", b"\xc0\xaf"))
    one(c, "json-utf8-surrogate", 1, "malformed", sale={"x": "VALUE"},
        disclosure=lambda t: t.encode().replace(b"VALUE", b"\xed\xa0\x80"))
    one(c, "json-utf8-too-large", 1, "malformed", sale={"x": "VALUE"},
        disclosure=lambda t: t.encode().replace(b"VALUE", b"\xf4\x90\x80\x80"))
    good = (("zero", "0"), ("two-to-53-less-1", "9007199254740991"),
            ("nested-16", "[" * 15 + "]" * 15),
            ("line-feed-and-tab", '"a\\n\\tb"'), ("every-escape", '"\\"\\\\\\/\\n\\t\\u00e9"'),
            ("surrogate-pair", '"\\ud83e\\uddb4"'),
            ("many-scripts", '"\u00e9\u4e2d\u05d0\U0001f9b4"'),
            ("line-separator", '"\u2028\u2029"'), ("zero-width-joiner", '"\u200d"'),
            ("byte-order-mark-inside", '"a\ufeffb"'), ("true-false-null", "[true,false,null]"),
            ("empty", '[{},[],""]'), ("name-proto", '{"__proto__":1,"constructor":2}'))
    for name, text in good:
        one(c, "json-good-" + name, 0, "", sale={"x": "VALUE"},
            disclosure=lambda t, text=text: t.replace('"VALUE"', text))
    for name, text in (("backspace", '"\\b"'), ("form-feed", '"\\f"')):
        one(c, "json-" + name, 1, "malformed", sale={"x": "VALUE"},
            disclosure=lambda t, text=text: t.replace('"VALUE"', text))


def links(c):
    other = b64(bytes(32))
    one(c, "prev-wrong", 1, "broken-link", payload=put(prev=other))
    one(c, "prev-missing", 1, "broken-link", payload=without("prev"))
    one(c, "prev-short", 1, "malformed", payload=put(prev="abc"))
    one(c, "prior-wrong", 1, "broken-link", sub="site/S001", payload=put(prior=other))
    one(c, "prior-missing", 1, "broken-link", sub="site/S001", payload=without("prior"))
    one(c, "prior-on-the-first", 1, "broken-link", payload=put(prior=other))
    one(c, "nth-jumps", 1, "hole-in-chain", sub="site/S001", payload=put(nth=7))
    one(c, "nth-again", 1, "forked", sub="site/S001", payload=put(nth=2))
    one(c, "first-nth-1", 1, "hole-in-chain", payload=put(nth=1, prior=other))


def kinds(c):
    one(c, "kind-unknown", 0, "unknown-kind", kind="weighing")
    one(c, "kind-unknown-on-the-specimen", 0, "unknown-kind", sub=SLAB, kind="weighing")
    one(c, "kind-unknown-changes", 3, "unknown-change", sub=SLAB, kind="reshaping",
        fields={"changes": True})
    one(c, "kind-unknown-changes-false", 0, "unknown-kind", sub=SLAB, kind="reshaping",
        fields={"changes": False})
    one(c, "kind-known-changes", 0, "", sub=SLAB, kind="note", fields={"changes": True})
    one(c, "kind-common", 0, "unknown-kind", sub=SLAB, kind="common")
    one(c, "needs-in-a-deep-value", 1, "subject-missing", sub=SLAB, kind="note",
        sale={"x": [{"y": {"z": ref("dealing/J7")}}]})
    one(c, "needs-in-an-open-field", 1, "subject-missing", sub=SLAB, kind="note",
        fields={"x": ref("place/T4")})
    one(c, "needs-not-of-a-hidden-field", 0, "", sub=SLAB, kind="note",
        science={"x": ref("place/T4")})
    one(c, "needs-not-of-a-party", 0, "", sub="party/P001", kind="note",
        fields={"x": ref("place/T4")})
    one(c, "needs-not-of-another-specimen", 0, "", sub=SLAB, kind="note", fields={"x": ref(OTHER)})


def sizes(c):
    def exactly(total):
        def later(ledger):
            size, pad = len(ledger.entries), 40000
            while True:
                entry = ledger.record(SITE, "site", {"pad": "x" * pad})
                if len(entry["jws"]) == total:
                    return
                assert len(entry["jws"]) < total + 3
                ledger.entries.pop()
                ledger.tips.pop(SITE)
                ledger.clock -= 1
                pad += max(1, (total - len(entry["jws"])) * 3 // 4)
                assert len(ledger.entries) == size
        return later
    c.add("entry-of-65535-bytes", 0, "", issue(later=exactly(65535)))
    c.add("entry-too-long", 1, "malformed", issue(later=exactly(65536 + 1)))
    million = "x" * ((1 << 20) // 4 * 3 - len(dumps(["A" * 22, "x", ""])))
    one(c, "disclosure-of-1-mib", 0, "", sale={"x": million})
    one(c, "disclosure-too-long", 1, "malformed", sale={"x": million + "x"})
    one(c, "900-salted-elements", 0, "",
        fields={"x": [{"...": b64(bytes(28) + n.to_bytes(4, "big"))}
                                                      for n in range(900)]})
