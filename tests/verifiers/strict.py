"""What the open standards bring, read as strictly as docs/format.md asks: JSON, base64url, Ed25519,
the Merkle tree of RFC 9162 and signed notes. Nothing here knows what a ledger is."""
import base64
import hashlib
import json
import re
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

P, L = 2**255 - 19, 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, -1, P) % P
NOT_TEXT = re.compile("[\0-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"
                      "\ud800-\udfff]")


class Bad(Exception):
    """Something is not as the format says: the finding's name, and a text."""


def need(fact, text, name="malformed"):
    if not fact:
        raise Bad(name, text)


def sha256(data):
    return hashlib.sha256(data).digest()


def b64(data, url=True):
    return (base64.urlsafe_b64encode(data).rstrip(b"=") if url else base64.b64encode(data)).decode()


def unb64(text, url=True, size=None):
    try:
        raw = base64.b64decode(text + "=" * (-len(text) % 4 if url else 0), "-_" if url else "+/")
    except (TypeError, ValueError):
        raise Bad("malformed", "no base64: %.60r" % (text,)) from None
    need(b64(raw, url) == text and size in (None, len(raw)), "base64 is not strict: %.60s" % text)
    return raw


def read_json(data):
    def members(pairs):
        need(len(dict(pairs)) == len(pairs), "a member name stands twice")
        need(not re.search("[\n\t]", "".join(k for k, _ in pairs)), "line feed or tab in a name")
        return dict(pairs)

    def integer(text):
        need(re.fullmatch("0|[1-9][0-9]{0,15}", text) and int(text) < 2**53, "number " + text[:30])
        return int(text)

    try:
        value = json.loads(data.decode("utf-8"), object_pairs_hook=members, parse_int=integer,
                           parse_float=integer, parse_constant=integer)
    except (ValueError, RecursionError) as error:
        raise Bad("malformed", "JSON: %s" % error) from None
    check_json(value, 1)
    return value


def check_json(value, depth):
    if isinstance(value, (dict, list)):
        need(depth <= 16, "JSON is nested deeper than 16")
        for part in [*value, *value.values()] if isinstance(value, dict) else value:
            check_json(part, depth + 1)
    need(not isinstance(value, str) or not NOT_TEXT.search(value), "a forbidden character in JSON")


def add_points(a, b):
    t = D * a[0] * b[0] * a[1] * b[1]
    return ((a[0] * b[1] + a[1] * b[0]) * pow(1 + t, -1, P) % P,
            (a[1] * b[1] + a[0] * b[0]) * pow(1 - t, -1, P) % P)


def good_key(raw):
    """A canonical encoding of a point of the prime-order group, and not the identity."""
    y = int.from_bytes(raw, "little") % 2**255
    square = (y * y - 1) * pow(D * y * y + 1, -1, P) % P
    x = pow(square, (P + 3) // 8, P)
    x = x if x * x % P == square else x * pow(2, (P - 1) // 4, P) % P
    if len(raw) != 32 or y >= P or x == 0 or x * x % P != square:
        return False
    point, total = (x if x % 2 == raw[31] >> 7 else P - x, y), (0, 1)
    for bit in bin(L)[2:]:
        total = add_points(total, total)
        total = add_points(total, point) if bit == "1" else total
    return total == (0, 1)


def signed(key, signature, data):
    """By a good key. The library refuses all but one R; this one, the identity, it does not."""
    try:
        Ed25519PublicKey.from_public_bytes(key).verify(signature, data)
        return signature[:32] != b"\1" + bytes(31)
    except InvalidSignature:
        return False


def node(left, right):
    return sha256(b"\1" + left + right)


def climb(fn, sn, start, proof, finding):
    """The loop of RFC 9162 2.1.3.2 and 2.1.4.2: the roots of the left part and of the whole."""
    left = whole = start
    for part in proof:
        need(sn > 0, "the proof is too long", finding)
        if fn & 1 or fn == sn:
            left, whole = node(part, left), node(part, whole)
            while fn and not fn & 1:
                fn, sn = fn >> 1, sn >> 1
        else:
            whole = node(whole, part)
        fn, sn = fn >> 1, sn >> 1
    need(sn == 0, "the proof is too short", finding)
    return left, whole


def included(leaf, index, size, proof, root):
    hashes = [unb64(part, False, 32) for part in proof]
    whole = climb(index, size - 1, leaf, hashes, "not-in-tree")[1]
    need(whole == root, "the proof does not lead to the root", "not-in-tree")


def consistent(old, new, proof):
    """Of two notes, the second as large or larger."""
    proof = [unb64(part, False, 32) for part in proof]
    if old.size == new.size:
        need(not proof and old.root == new.root, "one size, and two roots", "forked")
        return
    fn, sn = old.size - 1, new.size - 1
    while fn & 1:
        fn, sn = fn >> 1, sn >> 1
    if old.size & (old.size - 1) == 0:
        proof.insert(0, old.root)
    need(old.size and proof, "no proof between the checkpoints", "forked")
    roots = climb(fn, sn, proof[0], proof[1:], "forked")
    need(roots == (old.root, new.root), "the checkpoints are not consistent", "forked")


class Note:
    """A checkpoint: origin, size, root, and signature lines (name, key ID, signature)."""

    def __init__(self, text):
        need(isinstance(text, str) and text.endswith("\n") and "\n\n" in text, "no signed note")
        head, tail = text.rsplit("\n\n", 1)
        self.text, lines = head.encode() + b"\n", head.split("\n")
        need(len(lines) == 3 and re.fullmatch("0|[1-9][0-9]{0,15}", lines[1]), "no checkpoint")
        self.origin, self.size, self.root = lines[0], int(lines[1]), unb64(lines[2], False, 32)
        self.lines = []
        for line in tail[:-1].split("\n"):
            found = re.fullmatch("\u2014 ([^ +]+) ([^ ]+)", line)
            need(found, "no signature line: %.60r" % line)
            raw = unb64(found[2], False)
            need(len(raw) > 4, "a signature line is too short")
            self.lines.append((found[1], raw[:4], raw[4:]))


def read_vkey(text, origin):
    """The key ID and the public key of a checkpoint key of this name."""
    need(isinstance(text, str) and text.startswith(origin + "+"), "no vkey", "key-refused")
    hex_id, _, key = text[len(origin) + 1:].partition("+")
    raw = unb64(key, False)
    key_id = sha256(origin.encode() + b"\n" + raw)[:4]
    need(len(raw) == 33 and raw[0] == 1 and key_id.hex() == hex_id and good_key(raw[1:]),
         "no good key of type 0x01", "key-refused")
    return key_id, raw[1:]
