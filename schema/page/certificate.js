// Certificate files: docs/format.md sections 5, 6 and 8. Nothing that a file says of itself is
// believed; all of it is worked out again.

const AUDIENCES = { public: [], buyer: ["sale"], auditor: ["sale", "land"],
    institution: ["sale", "science", "land"] };
const KINDS = [...NOT_CORRECTED, ..."arrival claim collecting condition correction custody dealing \
document field-day horizon identification land-status loss making measurement note numbering party \
permission permission-change permission-report placement preparation relation site \
title".split(" ")];
const OWNERS = ["surfaceOwner", "fossilOwner", "landManager", "grantor"];
const SIZE_MAX = 64 << 20;

async function summary(list) {
    return b64(await sha256(ascii([...list].sort().join("\n"))));
}

// What is asked of all files together. `trust`: Map of origin to fingerprints.
class Check {
    constructor(trust, table, severities) {
        Object.assign(this, { trust, table, severities });
        this.findings = [];
        this.seen = new Map();
        this.certificates = new Set();
        this.withdrawn = new Set();
        this.signedBy = []; // { certificate, signed }
        this.knownKeys = []; // { kid, origin, ledger, until }
        this.files = [];
        this.lists = []; // of withdrawn certificates
        this.withdrawnNow = false; // one of them withdraws a file
        this.withdrawnInside = false; // or one of another ledger inside it
        this.code = null; // what the code on the paper says
    }

    say(finding, text, entry = null) {
        this.findings.push({ finding, text, entry });
    }

    // True, or false and a finding.
    async attempt(call, entry = null) {
        try {
            await call();
            return true;
        } catch (error) {
            if (error.name === "NotSupportedError")
                throw error;
            const known = error instanceof Bad;
            this.say(known ? error.finding : "malformed", known ? error.message
                : "a value of another type than the format gives (" + error.message + ")", entry);
            return false;
        }
    }

    see(place, what, entry) {
        if (!this.seen.has(place))
            this.seen.set(place, what);
        if (this.seen.get(place) !== what)
            this.say("forked", "two stories of " + place, entry);
    }

    // Something in it does not fit, other than that it was withdrawn.
    get broken() {
        return this.findings.some((f) => f.finding !== "refused"
            && this.severities[f.finding].severity === "fault");
    }

    // 0 holds, 1 does not hold, 2 no certificate, 3 could not be checked to the end.
    get exit() {
        const found = this.findings.map((f) => f.finding === "refused" ? "refused"
            : this.severities[f.finding].severity);
        return found.includes("refused") ? 2 : found.includes("fault") || this.withdrawnNow
            || this.withdrawnInside ? 1
            : found.includes("unsure") || (this.code && !this.files.length) ? 3 : 0;
    }

    async addFile(bytes, about = {}) {
        const blank = bytes.findIndex((byte) => ![32, 9, 10, 13].includes(byte));
        if (bytes.length > SIZE_MAX || bytes[blank] !== 0x7b) {
            this.say("refused", "refusedForm");
            return;
        }
        await this.attempt(async () => {
            const data = readJson(bytes);
            need("format" in data, "refusedForm", "refused");
            if (data.format === "markerbed-withdrawn/1") {
                await addList(data, this);
                return;
            }
            const version = /^markerbed-certificate\/([0-9]+)$/.exec(data.format);
            need(!version || version[1] === "1", "another version", "unknown-version");
            const certificate = new Certificate(data, this, false);
            Object.assign(certificate, about);
            this.files.push(certificate);
            await certificate.judge();
        });
    }

    // By a key that is trusted, or stands in another ledger that is.
    knows(certificate, signed) {
        if (certificate.keys.people.has(signed.kid))
            return false;
        return (this.trust.get("key ") || []).includes(signed.kid) || this.knownKeys.some((key) =>
            key.kid === signed.kid && key.fingerprint !== certificate.fingerprint
            && (key.until === null || signed.iat <= key.until)
            && (signed.iss.startsWith("key/") || signed.iss === key.origin));
    }

    end() {
        for (const { certificate, signed } of this.signedBy) {
            signed.known = this.knows(certificate, signed);
            if (!signed.known)
                this.say("countersign-unknown", signed.kid, signed.entry);
        }
        for (const certificate of this.certificates)
            if (this.withdrawn.has(certificate))
                this.say("withdrawn", certificate.split(" ")[2]);
    }
}

class Certificate {
    constructor(data, check, inner) {
        Object.assign(this, { data, check, inner });
        this.entries = [];
        this.inside = [];
        this.group = [];
        this.statements = [];
        this.pictures = [];
        this.signed = []; // what the other side signed
        this.withheld = [];
        this.trusted = false;
        this.noteGood = false;
        this.goodAnchors = [];
    }

    say(finding, text, entry = null) {
        this.check.say(finding, text, entry);
    }

    async judge() {
        const { data, check } = this, before = check.findings.length;
        const all = ["format", "origin", "checkpoint", "entries", "files", "anchors", "foreign"];
        need(isObject(data) && data.format === "markerbed-certificate/1"
            && all.slice(0, 4).every((name) => name in data)
            && Object.keys(data).every((name) => all.includes(name)) && isText(data.origin)
            && /^[!-*,-~]{1,255}$/.test(data.origin) && isList(data.entries) && data.entries.length,
            "the file has other members than the format gives");
        this.origin = data.origin;
        for (const [place, item] of data.entries.entries())
            await check.attempt(async () => this.entries.push(await Entry.read(item, this.origin)),
                { index: isObject(item) && Number.isInteger(item.index) ? item.index : place });
        need(this.entries.every((e, i) => i === 0 || this.entries[i - 1].index < e.index),
            "the entries do not rise");
        if (check.findings.length > before)
            return; // what could not be read cannot be checked further
        await this.judgeEntries();
        for (const step of ["tree", "links", "certified", "countersigned"])
            await check.attempt(() => this[step]());
        if (this.group.length)
            for (const step of ["foreign", "sums", "needs", "audience", "files", "repeats", "lines",
                "anchors"])
                await check.attempt(() => this[step]());
        await check.attempt(() => this.known());
    }

    async judgeEntries() {
        this.keys = new Keys((finding, text, entry) => this.say(finding, text, entry));
        this.end = this.entries[this.entries.length - 1].index + 1;
        this.fingerprint = base32(this.entries[0].leafBytes);
        this.ledger = this.origin + " " + this.fingerprint;
        this.byLeaf = new Map(this.entries.map((entry) => [entry.leaf, entry]));
        this.chains = new Map();
        for (const entry of this.entries) {
            this.chains.set(entry.sub, [...this.chains.get(entry.sub) || [], entry]);
            const good = await this.check.attempt(() => this.keys.take(entry), entry);
            if (!KINDS.includes(entry.kind))
                this.say(entry.open("changes") === true ? "unknown-change" : "unknown-kind",
                    entry.kind, entry);
            if (entry.kind === "withdrawal" && good)
                this.check.withdrawn.add(this.ledger + " " + entryOf(entry.open("which")));
            for (const place of good ? [entry.index, entry.sub + " " + entry.nth] : [])
                this.check.see(this.ledger + " " + place, entry.leaf, entry);
        }
        this.keys.suspects(this.entries);
    }

    async tree() {
        const note = new Note(this.data.checkpoint);
        this.note = note;
        this.noteGood = await this.check.attempt(() => this.keys.check(note, this.origin));
        if (this.noteGood)
            this.check.see(this.ledger + " size " + note.size, b64(note.root));
        need(note.size === this.end, "the checkpoint is of another size", "size-differs");
        for (const entry of this.entries)
            await this.check.attempt(() => included(entry.leafBytes, entry.index, this.end,
                entry.proof, note.root), entry);
    }

    links() {
        this.entries.forEach((entry, i) => {
            const before = this.entries[i - 1];
            if (before && entry.iat < before.iat)
                this.say("clock-backwards", "", entry);
            if (before && entry.index === before.index + 1 && entry.prev !== before.leaf)
                this.say("broken-link", "prev", entry);
        });
        for (const chain of this.chains.values())
            chain.forEach((entry, nth) => {
                need(entry.nth === nth, "before entry " + entry.index, "hole-in-chain");
                if (nth && entry.prior !== chain[nth - 1].leaf)
                    this.say("broken-link", "prior", entry);
            });
    }

    certified() {
        const last = this.entries[this.entries.length - 1], group = [];
        for (const entry of [...this.entries].reverse()) {
            const like = ["held", "shown", "audience"].every(
                (name) => canon(entry.open(name)) === canon(last.open(name)));
            if (entry.kind !== "certificate" || !entry.sub.startsWith("specimen/") || !like
                || entry.index !== this.end - 1 - group.length
                || group.some((other) => other.sub === entry.sub))
                break;
            group.unshift(entry);
        }
        need(group.length, "the last entry is no certificate", "no-certificate");
        this.group = group;
        for (const entry of group)
            this.check.certificates.add(this.ledger + " " + entry.leaf);
        this.made = last.open("audience");
        need(Object.keys(AUDIENCES).includes(this.made), "it names no audience");
        for (const entry of group)
            need(isList(entry.open("withheld")) && ["held", "shown", "derivation"].every(
                (name) => isText(entry.open(name))), "an open field of the certificate entry");
    }

    disclosures() {
        return [...this.entries.flatMap((entry) => entry.digests),
            ...this.inside.flatMap((other) => other.disclosures())];
    }

    async sums() {
        const held = this.entries.filter((entry) => !this.group.includes(entry));
        need(this.group[0].open("held") === await summary(held.map((entry) => entry.leaf)),
            "entries are missing, or were put in", "left-out");
        need(this.inner || this.group[0].open("shown") === await summary(this.disclosures()),
            "fields were cut away, or put in", "cut-down");
    }

    needs() {
        const waiting = ["ledger", ...this.group.map((entry) => entry.sub)], done = new Set();
        while (waiting.length) {
            const sub = waiting.pop();
            if (done.has(sub))
                continue;
            done.add(sub);
            if (!this.chains.has(sub))
                this.say("subject-missing", String(sub));
            for (const entry of this.chains.get(sub) || [])
                waiting.push(...this.asksFor(entry));
        }
    }

    asksFor(entry) {
        const word = entry.sub.split("/")[0], shown = (name) => entry.shown(name);
        if (word === "site" || word === "permission")
            return [...anywhere(OWNERS.map(shown).filter((v) => v !== undefined), "ref")];
        if (word !== "specimen")
            return [];
        const values = [...entry.fields.values()].map(([, value]) => value);
        const asked = [...anywhere(values, "ref")].filter(
            (ref) => !/^(?:specimen\/|key\/|ledger$)/.test(String(ref)));
        const parent = refOf(shown("parent"));
        if (entry.kind === "division" && entry.nth === 0 && parent) {
            const division = this.byLeaf.get(entryOf(entry.open("outOf")));
            need(division && division.sub === parent && division.kind === "division",
                "the division of " + parent, "subject-missing");
            asked.push(parent);
        }
        if (entry.kind === "joining" && shown("parts"))
            asked.push(...anywhere(shown("parts"), "ref"));
        return asked;
    }

    audience() {
        const reasons = new Map(), erased = new Set();
        for (const entry of this.group)
            for (const row of entry.open("withheld"))
                reasons.set(row.digest, row.reason);
        for (const entry of this.entries.filter((e) => e.kind === "erasure"))
            for (const digest of entry.open("digests") || [])
                erased.add(entry.sub + " " + digest);
        for (const entry of this.entries)
            for (const [digest, cls] of entry.hidden) {
                const own = cls === "own" && this.group.includes(entry);
                const asked = (own || AUDIENCES[this.made].includes(cls)) && !this.inner;
                const why = reasons.has(digest) ? reasons.get(digest)
                    : erased.has(entry.sub + " " + digest) ? "erased" : null;
                if (why)
                    this.withheld.push({ entry, cls, why });
                else if (asked)
                    this.say("withheld-from-audience", cls, entry);
            }
    }

    async files() {
        const files = this.data.files || {}, named = new Set(this.entries.flatMap(
            (entry) => [...anywhere([...entry.fields.values()].map(([, v]) => v), "file")]
                .filter((file) => typeof file === "string"))); // a column may be called file
        need(isObject(files), "files is no object");
        for (const [name, content] of Object.entries(files)) {
            need(/^[0-9a-f]{64}$/.test(name), "a file is named by its SHA-256");
            const bytes = unb64(content, false), good = hex(await sha256(bytes)) === name;
            if (!good)
                this.say("file-changed", name);
            if (!named.has(name))
                this.say("file-unasked", name);
            if (good && named.has(name))
                this.pictures.push(bytes);
        }
        if (this.made === "buyer" && !this.inner && Object.keys(files).length === 0)
            this.say("no-view", "");
        for (const name of named)
            if (!(name in files))
                this.say("file-not-here", String(name));
    }

    repeats() {
        const salts = this.entries.flatMap((entry) => entry.salts);
        need(new Set(salts).size === salts.length, "two fields have one salt", "repeated-salt");
    }

    // What a reader can work out of a certificate inside another: nothing there is held against it.
    innerLines() {
        for (const entry of this.group)
            try {
                const lines = new Story(this.entries, entry.index).lines(this.check.table.lines,
                    entry.sub);
                this.statements.push({ entry, said: lines.map((line) => ({ line, right: true })),
                    missing: [] });
            } catch { /* it says nothing then */ }
    }

    lines() {
        if (this.inner)
            this.innerLines();
        for (const entry of this.inner ? [] : this.group) {
            need(entry.open("derivation") === this.check.table.digest,
                "the statement was made by another table", "unknown-derivation");
            const value = entry.fields.has("statement") ? entry.shown("statement") : { lines: [] };
            need(hasMembers(value, ["lines"]) && isList(value.lines), "no statement");
            const rows = this.check.table.lines;
            const workedOut = new Story(this.entries, entry.index).lines(rows, entry.sub);
            const { said, missing } = compareLines(value.lines, workedOut, rows);
            this.statements.push({ entry, said, missing });
            for (const { line, right } of said)
                if (!right)
                    this.say("statement-differs", isObject(line) ? String(line.name) : "", entry);
            for (const line of missing)
                this.say("statement-missing", line.name, entry);
        }
    }

    async anchors() {
        const anchors = this.data.anchors || [];
        need(isList(anchors) && anchors.length <= 64, "anchors is no list of at most 64");
        for (const anchor of anchors)
            await this.check.attempt(async () => {
                need(hasMembers(anchor, ["checkpoint", "consistency"]), "an anchor's members");
                const note = new Note(anchor.checkpoint);
                if (await this.keys.check(note, this.origin, this.end)) {
                    await consistent(note, this.note, anchor.consistency);
                    this.goodAnchors.push(note);
                }
            });
    }

    async countersigned() {
        for (const entry of this.entries.filter((e) => e.kind === "countersign"))
            await this.check.attempt(async () => {
                const signed = await countersigned(entry);
                if (!signed)
                    return;
                const over = this.byLeaf.get(signed.over);
                need(over && over.sub === entry.sub && over.index < entry.index,
                    "it is over no entry before it", "countersign-broken");
                this.signed.push(Object.assign(signed, { entry, over }));
                this.check.signedBy.push({ certificate: this, signed });
            }, entry);
    }

    evidence() {
        return this.entries.filter((entry) => entry.kind === "arrival").flatMap(
            (entry) => isList(entry.open("foreignEvidence")) ? entry.open("foreignEvidence") : []);
    }

    allInside() {
        return this.inside.flatMap((other) => [other, ...other.allInside()]);
    }

    // None stands twice, and none that an arrival names is missing.
    complete() {
        const all = [this, ...this.allInside()].filter((one) => one.group.length);
        const last = all.map((one) => one.group[one.group.length - 1].leaf);
        need(new Set(last).size === last.length, "a certificate stands twice");
        const here = new Set(all.slice(1).flatMap(
            (one) => one.group.map((entry) => one.origin + " " + entry.leaf)));
        for (const one of all)
            for (const row of one.evidence())
                if (!here.has(row.origin + " " + row.entry))
                    this.say("foreign-missing", String(row.origin));
    }

    async foreign() {
        const evidence = this.evidence();
        const foreign = this.data.foreign || [];
        need(isList(foreign), "foreign is no list");
        this.inside = foreign.map((data) => new Certificate(data, this.check, true));
        need(this.inner || this.count() <= 16, "more than 16 certificates of other ledgers");
        for (const other of this.inside) {
            if (!await this.check.attempt(() => other.judge()))
                continue;
            need(other.group.some((entry) => evidence.some((row) => row.origin === other.origin
                && row.entry === entry.leaf)), "no arrival names it", "file-unasked");
        }
        if (!this.inner)
            this.complete();
    }

    // Of all inside, nesting included.
    count(data = this.data) {
        const inside = isList(data.foreign) ? data.foreign.filter(isObject) : [];
        return inside.reduce((sum, other) => sum + 1 + this.count(other), 0);
    }

    known() {
        const wanted = this.check.trust.get(this.origin) || this.check.trust.get("*");
        if (!this.inner)
            this.say("unwitnessed", "");
        need(this.entries[0].index === 0, "entry 0 is not in the file", "bad-founding");
        need(wanted, this.origin, "unknown-ledger");
        need(wanted.includes(this.fingerprint), this.origin, "other-fingerprint");
        this.trusted = true;
        for (const [kid, key] of this.keys.people) {
            const end = this.entries.find((entry) => entry.index === key.until);
            if (key.doubt === null)
                this.check.knownKeys.push({ kid, origin: this.origin, until: end ? end.iat : null,
                    fingerprint: this.fingerprint });
        }
    }
}
