// What the open standards bring, read as strictly as docs/format.md asks: JSON, base64, Ed25519,
// the Merkle tree of RFC 9162 and signed notes. SHA-256 and Ed25519 are the browser's own.

class Bad extends Error {
    constructor(finding, text) {
        super(text);
        this.finding = finding;
    }
}

function need(fact, text, finding = "malformed") {
    if (!fact)
        throw new Bad(finding, text);
}

const isText = (value) => typeof value === "string";
const isList = (value) => Array.isArray(value);
const isObject = (value) => value !== null && typeof value === "object" && !isList(value);
const ascii = (text) => new TextEncoder().encode(text);

// ---- base64 ----

const LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

function b64(bytes, url = true) {
    let text = "";
    for (let i = 0; i < bytes.length; i += 0x8000)
        text += String.fromCharCode(...bytes.subarray(i, i + 0x8000));
    const out = btoa(text);
    return url ? out.replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "") : out;
}

function unb64(text, url = true, size = null) {
    need(isText(text) && (url ? /^[A-Za-z0-9_-]*$/ : /^[A-Za-z0-9+/]*={0,2}$/).test(text)
        && !text.endsWith("\n"), "it is no base64");
    let std = url ? text.replace(/-/g, "+").replace(/_/g, "/") : text;
    need(std.length % 4 !== 1, "base64 of an impossible length");
    if (url)
        std += "=".repeat((4 - std.length % 4) % 4);
    const pad = std.endsWith("==") ? 2 : std.endsWith("=") ? 1 : 0;
    const last = LETTERS.indexOf(std[std.length - 1 - pad] || "A");
    need(std.length % 4 === 0 && (last & [0, 3, 15][pad]) === 0, "base64 with stray bits");
    const raw = atob(std), bytes = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i++)
        bytes[i] = raw.charCodeAt(i);
    need(size === null || bytes.length === size, "base64 of another size");
    return bytes;
}

const isHash = (text) => { unb64(text, true, 32); return true; };

function hex(bytes) {
    return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

function base32(bytes) {
    let bits = "", out = "";
    for (const byte of bytes)
        bits += byte.toString(2).padStart(8, "0");
    for (let i = 0; i < bits.length; i += 5)
        out += "abcdefghijklmnopqrstuvwxyz234567"[parseInt(bits.slice(i, i + 5).padEnd(5, "0"), 2)];
    return out;
}

const same = (a, b) => a.length === b.length && a.every((byte, i) => byte === b[i]);

function joined(...parts) {
    const out = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
    let at = 0;
    for (const part of parts) {
        out.set(part, at);
        at += part.length;
    }
    return out;
}

async function sha256(bytes) {
    return new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
}

// ---- JSON ----

const NOT_TEXT = new RegExp("[\\u0000-\\u0008\\u000b-\\u001f\\u007f-\\u009f\\u061c\\u200e\\u200f"
    + "\\u202a-\\u202e\\u2066-\\u2069\\p{Cs}]", "u");

class Reader {
    constructor(text) {
        this.text = text;
        this.at = 0;
    }

    match(pattern) {
        pattern.lastIndex = this.at;
        const found = pattern.exec(this.text);
        if (found)
            this.at = pattern.lastIndex;
        return found;
    }

    blank() {
        this.match(/[ \t\n\r]*/y);
    }

    takes(letter) {
        this.blank();
        if (this.text[this.at] !== letter)
            return false;
        this.at++;
        return true;
    }

    value(depth) {
        this.blank();
        const first = this.text[this.at];
        if (first === "{")
            return this.object(depth + 1);
        if (first === "[")
            return this.list(depth + 1);
        if (first === '"')
            return this.string();
        const word = this.match(/(?:true|false|null)/y);
        if (word)
            return { "true": true, "false": false, "null": null }[word[0]];
        const number = this.match(/(?:0|[1-9][0-9]{0,15})(?![0-9.eE])/y);
        need(number && Number(number[0]) <= Number.MAX_SAFE_INTEGER, "JSON: no value, or a number");
        return Number(number[0]);
    }

    string() {
        const start = ++this.at;
        const found = this.match(/(?:[^"\\\u0000-\u001f]+|\\(?:["\\/bfnrt]|u[0-9a-fA-F]{4}))*"/y);
        need(found, "JSON: a text does not end, or holds what it may not");
        const raw = this.text.slice(start, this.at - 1);
        const text = raw.includes("\\") ? JSON.parse('"' + raw + '"') : raw;
        need(!NOT_TEXT.test(text), "JSON: a forbidden character");
        return text;
    }

    object(depth) {
        need(depth <= 16, "JSON: nested too deep");
        const out = Object.create(null);
        this.at++;
        if (this.takes("}"))
            return out;
        do {
            this.blank();
            need(this.text[this.at] === '"', "JSON: a member without a name");
            const name = this.string();
            need(!/[\n\t]/.test(name), "JSON: a forbidden character in a name");
            need(!(name in out), "JSON: a member name stands twice");
            need(this.takes(":"), "JSON: a member without a value");
            out[name] = this.value(depth);
        } while (this.takes(","));
        need(this.takes("}"), "JSON: an object does not end");
        return out;
    }

    list(depth) {
        need(depth <= 16, "JSON: nested too deep");
        const out = [];
        this.at++;
        if (this.takes("]"))
            return out;
        do
            out.push(this.value(depth));
        while (this.takes(","));
        need(this.takes("]"), "JSON: a list does not end");
        return out;
    }
}

function readJson(bytes) {
    let text;
    try {
        text = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(bytes);
    } catch {
        throw new Bad("malformed", "JSON: no UTF-8");
    }
    const reader = new Reader(text), value = reader.value(0);
    reader.blank();
    need(reader.at === text.length, "JSON: something behind the value");
    return value;
}

// One text for equal values.
function canon(value) {
    if (isList(value))
        return "[" + value.map(canon).join(",") + "]";
    if (isObject(value))
        return "{" + Object.keys(value).sort().map(
            (name) => JSON.stringify(name) + ":" + canon(value[name])).join(",") + "}";
    return JSON.stringify(value);
}

// ---- Ed25519 ----

const P = 2n ** 255n - 19n, L = 2n ** 252n + 27742317777372353535851937790883648493n;
const mod = (n) => ((n % P) + P) % P;

function power(base, exponent) {
    let out = 1n;
    for (base = mod(base); exponent > 0n; exponent >>= 1n, base = base * base % P)
        if (exponent & 1n)
            out = out * base % P;
    return out;
}

const D = mod(-121665n * power(121666n, P - 2n));
const ROOT = power(2n, (P - 1n) / 4n);

function addPoints([x1, y1, z1, t1], [x2, y2, z2, t2]) {
    const a = mod((y1 - x1) * (y2 - x2)), b = mod((y1 + x1) * (y2 + x2));
    const c = mod(2n * D * t1 % P * t2), d = mod(2n * z1 * z2);
    const e = b - a, f = d - c, g = d + c, h = b + a;
    return [mod(e * f), mod(g * h), mod(f * g), mod(e * h)];
}

// A canonical encoding of a point of the prime-order group, and not the identity. Browsers accept
// others.
function goodKey(raw) {
    if (raw.length !== 32)
        return false;
    let y = 0n;
    for (let i = 31; i >= 0; i--)
        y = y << 8n | BigInt(i === 31 ? raw[i] & 127 : raw[i]);
    const square = mod((y * y - 1n) * power(D * y * y + 1n, P - 2n));
    let x = power(square, (P + 3n) / 8n);
    if (mod(x * x) !== square)
        x = mod(x * ROOT);
    if (y >= P || x === 0n || mod(x * x) !== square)
        return false;
    if ((x & 1n) !== BigInt(raw[31] >> 7))
        x = P - x;
    const point = [x, y, 1n, mod(x * y)];
    let total = [0n, 1n, 1n, 0n];
    for (const bit of L.toString(2)) {
        total = addPoints(total, total);
        if (bit === "1")
            total = addPoints(total, point);
    }
    return total[0] === 0n && total[1] === total[2];
}

// By a good key. R must not be the identity, which browsers let pass.
async function isSigned(raw, signature, bytes) {
    const isIdentity = signature[0] === 1 && signature.subarray(1, 32).every((byte) => byte === 0);
    if (signature.length !== 64 || isIdentity)
        return false;
    const key = await crypto.subtle.importKey("raw", raw, { name: "Ed25519" }, false, ["verify"]);
    return crypto.subtle.verify({ name: "Ed25519" }, key, signature, bytes);
}

// ---- tree ----

const node = (left, right) => sha256(joined(Uint8Array.of(1), left, right));
const half = (n) => Math.floor(n / 2);

function hashes(proof) {
    need(isList(proof) && proof.length <= 63, "no list of at most 63 hashes");
    return proof.map((part) => unb64(part, false, 32));
}

// The loop that RFC 9162 2.1.3.2 and 2.1.4.2 share: the roots of the left part and of the whole.
async function climb(fn, sn, start, proof, finding) {
    let left = start, whole = start;
    for (const part of proof) {
        need(sn > 0, "the proof is too long", finding);
        if (fn % 2 || fn === sn) {
            left = await node(part, left);
            whole = await node(part, whole);
            for (; fn && fn % 2 === 0; fn = half(fn))
                sn = half(sn);
        } else {
            whole = await node(whole, part);
        }
        fn = half(fn);
        sn = half(sn);
    }
    need(sn === 0, "the proof is too short", finding);
    return [left, whole];
}

async function included(leaf, index, size, proof, root) {
    const [, whole] = await climb(index, size - 1, leaf, hashes(proof), "not-in-tree");
    need(same(whole, root), "the proof does not lead to the root", "not-in-tree");
}

async function consistent(one, other, list) {
    const [old, young] = one.size <= other.size ? [one, other] : [other, one];
    let proof = hashes(list), fn = old.size - 1, sn = young.size - 1;
    if (old.size === young.size) {
        need(proof.length === 0 && same(old.root, young.root), "one size, and two roots", "forked");
        return;
    }
    need(old.size > 0 && proof.length, "no proof between the checkpoints", "forked");
    for (; fn % 2; fn = half(fn))
        sn = half(sn);
    if (Number.isInteger(Math.log2(old.size)))
        proof = [old.root, ...proof];
    const [left, whole] = await climb(fn, sn, proof[0], proof.slice(1), "forked");
    need(same(left, old.root) && same(whole, young.root), "not one history", "forked");
}

// ---- signed notes ----

class Note {
    constructor(text) {
        need(isText(text) && text.endsWith("\n") && text.includes("\n\n"), "no signed note");
        const cut = text.lastIndexOf("\n\n"), lines = text.slice(0, cut).split("\n");
        need(lines.length === 3 && /^(?:0|[1-9][0-9]{0,15})$/.test(lines[1]), "no checkpoint");
        this.bytes = ascii(text.slice(0, cut + 1));
        this.origin = lines[0];
        this.size = Number(lines[1]);
        this.root = unb64(lines[2], false, 32);
        need(this.size <= Number.MAX_SAFE_INTEGER, "a checkpoint of an impossible size");
        this.lines = text.slice(cut + 2, -1).split("\n").map((line) => {
            const found = /^\u2014 ([^ +]+) ([^ ]+)$/.exec(line);
            need(found, "no signature line in the checkpoint");
            const raw = unb64(found[2], false);
            need(raw.length > 4, "a signature line is too short");
            return { name: found[1], id: hex(raw.subarray(0, 4)), signature: raw.subarray(4) };
        });
    }
}

async function readVkey(text, origin) {
    need(isText(text) && text.startsWith(origin + "+"), "no checkpoint key", "key-refused");
    const [id, key] = text.slice(origin.length + 1).split(/\+(.*)/s);
    let raw;
    try {
        raw = unb64(key, false, 33);
    } catch {
        throw new Bad("key-refused", "no checkpoint key");
    }
    const real = hex((await sha256(joined(ascii(origin + "\n"), raw))).subarray(0, 4));
    need(raw[0] === 1 && id === real && goodKey(raw.subarray(1)), "no good key", "key-refused");
    return { id, raw: raw.subarray(1) };
}
