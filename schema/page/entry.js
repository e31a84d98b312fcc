// One entry with what is shown of it (docs/format.md section 2), and who may sign (section 4).

const CLASSES = ["sale", "science", "land", "private", "own"];
const SUBJECT = new RegExp("^(?:ledger|key/[A-Za-z0-9_-]{43}"
    + "|(?!key/)[a-z-]+/[A-Za-z0-9][A-Za-z0-9._-]{0,63})$");
const MEMBERS = ["v", "_sd_alg", "iss", "iat", "seq", "sub", "nth", "kind", "body"];

const hasMembers = (object, names) => isObject(object)
    && Object.keys(object).length === names.length && names.every((name) => name in object);

// What stands under this member name, however deep in a value.
function* anywhere(value, name) {
    if (isObject(value) && name in value)
        yield value[name];
    if (value !== null && typeof value === "object")
        for (const part of Object.values(value))
            yield* anywhere(part, name);
}

async function thumbprint(jwk) {
    let size = 0;
    try {
        size = hasMembers(jwk, ["kty", "crv", "x"]) ? unb64(jwk.x).length : 0;
    } catch { /* told below */ }
    need(size === 32 && jwk.kty === "OKP" && jwk.crv === "Ed25519", "no Ed25519 JWK",
        "key-refused");
    return b64(await sha256(ascii('{"crv":"Ed25519","kty":"OKP","x":"' + jwk.x + '"}')));
}

function knownWord(where, name, known) {
    need(typeof where[name] === typeof known[0], "no proper " + name);
    need(known.includes(where[name]), name + " " + where[name], "unknown-version");
}

class Entry {
    static async read(item, origin) {
        const entry = new Entry();
        need(hasMembers(item, ["index", "sd_jwt", "proof"]) && Number.isInteger(item.index)
            && isText(item.sd_jwt), "an entry has index, sd_jwt and proof");
        hashes(item.proof);
        const parts = item.sd_jwt.split("~");
        need(parts.length > 1 && parts.pop() === "", "its disclosures do not end with ~");
        entry.jws = parts.shift();
        need(ascii(entry.jws).length < 65536, "an entry is too long");
        Object.assign(entry, { index: item.index, proof: item.proof });
        await entry.readJws(origin);
        await entry.readDisclosures(parts);
        entry.readBody();
        return entry;
    }

    async readJws(origin) {
        const parts = this.jws.split(".");
        need(parts.length === 3, "a JWS has three parts");
        this.signature = unb64(parts[2], true, 64);
        this.signedBytes = ascii(parts[0] + "." + parts[1]);
        this.leafBytes = await sha256(joined(Uint8Array.of(0), ascii(this.jws)));
        this.leaf = b64(this.leafBytes);
        const header = readJson(unb64(parts[0])), payload = readJson(unb64(parts[1]));
        need(isObject(header) && isObject(payload), "header and payload are objects");
        need(!("crit" in header), "crit", "unknown-version");
        knownWord(header, "alg", ["EdDSA", "Ed25519"]);
        need(hasMembers(header, ["alg", "kid", "typ"]) && header.typ === "markerbed-entry+sd-jwt"
            && isHash(header.kid), "the header is not alg, kid and typ");
        this.kid = header.kid;
        knownWord(payload, "v", [1]);
        knownWord(payload, "_sd_alg", ["sha-256"]);
        this.readPayload(payload, origin);
    }

    readPayload(payload, origin) {
        const links = ["prev", "prior"].filter((link) => link in payload && isHash(payload[link]));
        need(hasMembers(payload, [...MEMBERS, ...links]), "the payload has other members");
        for (const name of ["iss", "iat", "sub", "nth", "kind", "prev", "prior", "body"])
            this[name] = payload[name];
        need([this.iat, this.nth, payload.seq].every(Number.isInteger), "iat, nth, seq: integers");
        need(("prev" in payload) === (payload.seq !== 0)
            && ("prior" in payload) === (this.nth !== 0),
        "prev or prior stands where it may not, or is missing", "broken-link");
        need(payload.seq === this.index, "seq is not the index");
        need(isText(this.sub) && SUBJECT.test(this.sub), "sub is no subject");
        need(isText(this.kind) && /^[a-z-]{2,40}$/.test(this.kind), "kind");
        need(this.iss === origin, "the entry is of another ledger", "wrong-origin");
        need(isObject(this.body), "body is no object");
    }

    async readDisclosures(texts) {
        this.waiting = new Map();
        this.digests = [];
        this.salts = [];
        for (const text of texts) {
            need(text.length <= 1 << 20, "a disclosure is too long");
            const digest = b64(await sha256(ascii(text))), parts = readJson(unb64(text));
            need(!this.waiting.has(digest), "a disclosure is given twice");
            need(isList(parts) && (parts.length === 2 || parts.length === 3)
                && parts.slice(0, -1).every(isText), "no disclosure");
            need(Array.from(parts[0]).length >= 22, "a salt is shorter than 22", "weak-salt");
            this.waiting.set(digest, parts);
            this.digests.push(digest);
            this.salts.push(parts[0]);
        }
    }

    readBody() {
        this.fields = new Map(); // name: [class, value]
        this.hidden = new Map(); // digest not shown: class
        const names = Object.keys(this.body);
        for (const name of names.filter((n) => CLASSES.includes(n))) {
            const list = this.body[name]._sd;
            need(hasMembers(this.body[name], ["_sd"]) && isList(list) && list.length,
                "a class is {_sd:[...]}");
            list.forEach((digest, i) => {
                isHash(digest);
                need(i === 0 || list[i - 1] < digest, "_sd is not sorted");
                need(!this.hidden.has(digest), "a digest stands twice");
                this.hidden.set(digest, name);
            });
        }
        this.known = new Set(this.hidden.keys());
        for (const name of names.filter((n) => !CLASSES.includes(n)))
            this.addField(name, "open", this.body[name]);
        for (const digest of this.digests.filter((d) => this.hidden.has(d))) {
            const parts = this.waiting.get(digest), cls = this.hidden.get(digest);
            need(parts.length === 3, "a field's disclosure is [salt, name, value]");
            this.waiting.delete(digest);
            this.hidden.delete(digest);
            this.addField(parts[1], cls, parts[2]);
        }
        need(this.waiting.size === 0, "a disclosure fits no digest", "stray-disclosure");
    }

    addField(name, cls, value) {
        need(/^[ -~]+$/.test(name) && !["open", "_sd", "...", ...CLASSES].includes(name), "a name");
        need(!this.fields.has(name), "two fields have one name");
        if (isList(value))
            value = value.flatMap((item) => this.element(item));
        for (const special of ["_sd", "..."])
            need(anywhere(value, special).next().done, "_sd or ... in a value");
        this.fields.set(name, [cls, value]);
    }

    // [it], or where it is salted by itself, [what its disclosure says] or [].
    element(item) {
        if (!hasMembers(item, ["..."]))
            return [item];
        const digest = item["..."];
        need(isHash(digest) && !this.known.has(digest), "a digest stands twice");
        this.known.add(digest);
        const parts = this.waiting.get(digest);
        need(!parts || parts.length === 2, "an element's disclosure is [salt, value]");
        this.waiting.delete(digest);
        return parts ? [parts[1]] : [];
    }

    // An open field.
    open(name) {
        const found = this.fields.get(name);
        return found && found[0] === "open" ? found[1] : undefined;
    }

    shown(name) {
        return (this.fields.get(name) || [])[1];
    }
}

const entryOf = (value) => isObject(value) && isText(value.entry) ? value.entry : null;
const refOf = (value) => isObject(value) && isText(value.ref) ? value.ref : null;

// What the other side signed, with the key's thumbprint as `kid` (section 5); null where the entry
// holds a paper or a message.
async function countersigned(entry) {
    const jws = entry.open("jws"), broken = "countersign-broken";
    if (jws === undefined && entry.open("how") !== "key")
        return null;
    need(isText(jws) && entry.open("how") === "key", "jws and how", broken);
    let signed;
    try {
        signed = await readCountersign(jws);
    } catch (error) {
        throw error instanceof Bad && error.finding !== "unknown-version"
            ? new Bad(broken, error.message) : error;
    }
    need(entryOf(entry.open("whichEntry")) === signed.over, "over another entry", broken);
    need(entry.open("role") === signed.role, "in another role", broken);
    return signed;
}

async function readCountersign(jws) {
    const parts = jws.split(".");
    need(jws.length <= 4096 && parts.length === 3, "no compact JWS");
    const signature = unb64(parts[2], true, 64);
    const header = readJson(unb64(parts[0])), payload = readJson(unb64(parts[1]));
    need(isObject(header) && isObject(payload), "header and payload are objects");
    need(!("crit" in header), "crit", "unknown-version");
    knownWord(header, "alg", ["EdDSA", "Ed25519"]);
    need(hasMembers(header, ["alg", "kid", "typ"]) && header.typ === "markerbed-countersign+jwt",
        "its header");
    need(hasMembers(payload, ["iat", "iss", "jwk", "over", "role", "shown"])
        && isHash(payload.over) && isHash(payload.shown) && isText(payload.role)
        && Number.isInteger(payload.iat) && isText(payload.iss)
        && /^[!-*,-~]{1,255}$/.test(payload.iss), "its members");
    const kid = await thumbprint(payload.jwk), raw = unb64(payload.jwk.x);
    need(goodKey(raw) && header.kid === kid, "its key");
    need(!payload.iss.startsWith("key/") || payload.iss === "key/" + kid, "iss names another key");
    need(await isSigned(raw, signature, ascii(parts[0] + "." + parts[1])), "its signature");
    return { ...payload, kid };
}

// Who may sign what, entry by entry, and which checkpoint holds.
class Keys {
    constructor(say) {
        this.say = say;
        this.people = new Map();
        this.checkpoint = [];
    }

    fresh(raw) {
        need(goodKey(raw), "the key is no good point", "key-refused");
        const used = [...this.people.values(), ...this.checkpoint];
        need(!used.some((key) => same(key.raw, raw)), "the key serves already", "key-doubled");
    }

    async enrol(entry, may) {
        const thumb = await thumbprint(entry.open("jwk")), raw = unb64(entry.open("jwk").x);
        need(!may || entry.sub === "key/" + thumb, "the key has another name", "key-refused");
        this.fresh(raw);
        this.people.set(thumb, {
            raw, may, enrols: !may || may.includes("enrol"), by: entry.kid, since: entry.index,
            until: null, doubt: null, holder: may ? refOf(entry.open("holder")) : null,
        });
    }

    async addCheckpointKey(entry) {
        const key = await readVkey(entry.open("checkpointKey"), entry.iss);
        this.fresh(key.raw);
        const lost = ["lost", "stolen"].includes(entry.open("why"));
        this.checkpoint.push({ ...key, since: entry.index, lost });
    }

    async take(entry) {
        need(entry.index || entry.kind === "founding", "entry 0 is no founding", "bad-founding");
        need(!entry.index || entry.kind !== "founding", "a second founding", "second-founding");
        if (entry.index === 0) {
            need(entry.sub === "ledger" && entry.open("origin") === entry.iss
                && hasMembers(entry.open("jwk"), ["crv", "kty", "x"]), "its fields",
            "bad-founding");
            await this.enrol(entry, null);
            await this.addCheckpointKey(entry);
        }
        const signer = this.people.get(entry.kid);
        need(signer, "signed by a key that was not enrolled before", "key-unknown");
        need(await isSigned(signer.raw, entry.signature, entry.signedBytes),
            "the signature does not fit", "broken-signature");
        need(signer.until === null, "its key was retired before", "key-retired");
        if (["key-enrolment", "key-retirement", "checkpoint-key"].includes(entry.kind))
            await this.change(entry, signer);
        else
            need(!signer.may || signer.may.includes(entry.kind), "its key may not record "
                + entry.kind, "key-without-right");
    }

    async change(entry, signer) {
        const own = entry.kind === "key-retirement" && entry.sub === "key/" + entry.kid;
        need(own || signer.enrols, "its signer may not enrol", "enrol-right");
        if (entry.kind === "key-enrolment") {
            need(isList(entry.open("may")), "may is no list", "key-refused");
            await this.enrol(entry, entry.open("may"));
        } else if (entry.kind === "checkpoint-key") {
            need(entry.sub === "ledger", "a checkpoint key stands on ledger", "key-refused");
            await this.addCheckpointKey(entry);
        } else {
            this.retire(entry);
        }
    }

    retire(entry) {
        const key = this.people.get(entry.sub.slice(4)), doubt = entry.open("suspectFrom");
        need(key && key.until === null, "it retires no key in force", "key-refused");
        need(doubt === undefined || Number.isInteger(doubt), "suspectFrom is no number");
        const others = [...this.people.values()].filter((k) => k !== key && k.until === null);
        need(!key.enrols || others.some((k) => k.enrols), "the last that enrols", "last-enroller");
        key.until = entry.index;
        key.doubt = doubt === undefined ? null : doubt;
    }

    suspects(entries) {
        for (const key of this.people.values()) { // one comes behind the one that enrolled it
            const since = (this.people.get(key.by) || key).doubt;
            if (since !== null && key.since && key.since >= since)
                Object.assign(key, { doubt: 0, spare: -1 });
        }
        for (const entry of entries) {
            const key = this.people.get(entry.kid);
            if (key && key.doubt !== null && entry.index >= key.doubt
                && entry.index !== (key.spare || key.until))
                this.say("key-suspect", "", entry);
        }
    }

    // False: larger than `end`, by a later key that the file cannot know.
    async check(note, origin, end = null) {
        need(note.origin === origin, "a checkpoint of another ledger", "wrong-origin");
        const force = this.checkpoint.filter((key) => key.since < note.size), good = new Set();
        for (const line of note.lines)
            for (const key of this.checkpoint)
                if (line.name === origin && line.id === key.id && !good.has(key)) {
                    need(await isSigned(key.raw, line.signature, note.bytes),
                        "the checkpoint's signature does not fit", "checkpoint-forged");
                    good.add(key);
                }
        if (end !== null && note.size > end && good.size === 0)
            return false;
        const last = force[force.length - 1], before = force[force.length - 2];
        need(last && good.has(last), "not by the checkpoint key in force", "checkpoint-key");
        need(!before || note.size !== last.since + 1 || last.lost || good.has(before),
            "not by the checkpoint key before", "checkpoint-key");
        return true;
    }
}
