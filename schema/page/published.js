// What a ledger publishes (docs/publishing.md) and whose word about it the reader asks for (a C2SP
// tlog-policy): chosen along with the certificate.

// ---- whose word counts ----

async function readWitness(text) {
    const found = /^([^ +]+)\+([0-9a-f]{8})\+([A-Za-z0-9+/=]+)$/.exec(text || "");
    need(found, "policyBad", "refused");
    const raw = unb64(found[3], false);
    const id = hex((await sha256(joined(ascii(found[1] + "\n"), raw))).subarray(0, 4));
    need(id === found[2] && raw.length > 1, "policyBad", "refused");
    const usable = raw[0] === 4; // one of another type never counts
    need(!usable || (raw.length === 33 && goodKey(raw.subarray(1))), "policyBad", "refused");
    return { keyName: found[1], id, raw: raw.subarray(1), usable };
}

async function readPolicy(text) {
    const policy = { witnesses: [], groups: new Map(), quorum: null, logs: [] };
    const members = new Set(), known = (name) => policy.groups.has(name)
        || policy.witnesses.some((witness) => witness.name === name);
    for (const line of text.split("\n")) {
        const [word, name, ...rest] = line.trim().split(/[ \t]+/);
        if (!word || word.startsWith("#"))
            continue;
        need(name && (word === "log" || word === "quorum" || (name !== "none" && !known(name))),
            "policyBad", "refused");
        if (word === "witness") {
            const witness = { name, ...await readWitness(rest[0]) };
            need(!policy.witnesses.some((w) => same(w.raw, witness.raw)), "policyBad", "refused");
            policy.witnesses.push(witness);
        } else if (word === "group") {
            const [asked, ...list] = rest;
            const n = asked === "any" ? 1 : asked === "all" ? list.length
                : /^[1-9][0-9]{0,2}$/.test(asked) ? Number(asked) : 0;
            need(n > 0 && n <= list.length && list.every((m) => known(m) && !members.has(m))
                && new Set(list).size === list.length, "policyBad", "refused");
            list.forEach((m) => members.add(m));
            policy.groups.set(name, { n, list });
        } else if (word === "quorum") {
            need(policy.quorum === null && (name === "none" || known(name)), "policyBad",
                "refused");
            policy.quorum = name;
        } else {
            need(word === "log", "policyBad", "refused");
            policy.logs.push(name);
        }
    }
    need(policy.quorum !== null, "policyBad", "refused");
    return policy;
}

function reached(policy, name, seen) {
    const group = policy.groups.get(name);
    return name === "none" || (group
        ? group.list.filter((m) => reached(policy, m, seen)).length >= group.n : seen.has(name));
}

// Adds to `seen` (witness: moment) who cosigned the note.
async function lookAt(policy, note, certificate, seen) {
    const logs = certificate.keys.checkpoint.map((key) => key.id);
    if (policy.logs.length && !policy.logs.some((log) => log.startsWith(note.origin + "+")
        && logs.includes(log.slice(note.origin.length + 1).split("+")[0])))
        return;
    for (const witness of policy.witnesses.filter((w) => w.usable)) {
        const line = note.lines.find((l) => l.name === witness.keyName && l.id === witness.id);
        if (!line || line.signature.length !== 72)
            continue;
        const when = line.signature.subarray(0, 8).reduce((sum, byte) => sum * 256 + byte, 0);
        const text = joined(ascii("cosignature/v1\ntime " + when + "\n"), note.bytes);
        if (!await isSigned(witness.raw, line.signature.subarray(8), text))
            certificate.say("cosignature-forged", witness.name);
        else if (!seen.has(witness.name) || when < seen.get(witness.name))
            seen.set(witness.name, when);
    }
}

async function holdPolicy(policy, certificate) {
    const seen = new Map(), notes = certificate.noteGood ? [certificate.note] : [];
    for (const note of [...notes, ...certificate.goodAnchors.filter(
        (one) => one.size >= certificate.end)])
        await lookAt(policy, note, certificate, seen);
    if (!reached(policy, policy.quorum, seen)) {
        certificate.say("no-quorum", "");
        return;
    }
    const moments = [...seen.values()].sort((a, b) => a - b).filter((moment) => reached(policy,
        policy.quorum, new Set([...seen].filter(([, at]) => at <= moment).map(([name]) => name))));
    if (moments.length)
        certificate.witnessed = word("witnessed", new Date(moments[0] * 1000).toISOString()
            .slice(0, 16).replace("T", " "), [...seen.keys()].join(", "));
}

// ---- a checkpoint by itself ----

const isNote = (text) => /^[^\n]+\n[0-9]+\n[A-Za-z0-9+/]{43}=\n\n\u2014 /.test(text);

async function holdNote(text, check) {
    const note = new Note(text);
    const own = check.files.filter((one) => one.keys && one.origin === note.origin);
    for (const one of own)
        if (await one.keys.check(note, one.origin, one.end)) {
            check.see(one.ledger + " size " + note.size, b64(note.root));
            return;
        }
    check.say("published-unreadable", word("noteUnknown"));
}

// ---- the list of withdrawn certificates ----

class Withdrawn extends Certificate {
    async judge() {
        const data = this.data;
        need(hasMembers(data, ["format", "origin", "checkpoint", "entries", "list"])
            && isText(data.origin) && isList(data.entries) && data.entries.length,
        "withdrawn.json has other members", "published-forged");
        this.origin = data.origin;
        for (const item of data.entries)
            this.entries.push(await Entry.read(item, this.origin));
        need(this.entries.every((e, i) => i === 0 || this.entries[i - 1].index < e.index),
            "the entries do not rise");
        const before = this.check.findings.length;
        await this.judgeEntries();
        this.links();
        this.note = new Note(data.checkpoint);
        await this.keys.check(this.note, this.origin);
        for (const entry of this.entries)
            await included(entry.leafBytes, entry.index, this.note.size, entry.proof,
                this.note.root);
        need(this.check.findings.length === before, "its entries");
        await this.signedList();
        this.check.see(this.ledger + " size " + this.note.size, b64(this.note.root));
    }

    // Of specimens it has the withdrawals alone.
    links() {
        for (const sub of [...this.chains.keys()].filter((s) => s.startsWith("specimen/")))
            this.chains.delete(sub);
        super.links();
    }

    async signedList() {
        const parts = String(this.data.list).split(".");
        need(parts.length === 3, "no list");
        const header = readJson(unb64(parts[0])), list = readJson(unb64(parts[1]));
        need(hasMembers(header, ["alg", "kid", "typ"]) && header.typ === "markerbed-withdrawn+jwt"
            && ["EdDSA", "Ed25519"].includes(header.alg) && isObject(list), "no list");
        const key = this.keys.people.get(header.kid);
        need(key && key.until === null && key.doubt === null
            && (!key.may || key.may.includes("withdrawal")), "its signer");
        need(await isSigned(key.raw, unb64(parts[2], true, 64), ascii(parts[0] + "." + parts[1])),
            "its signature");
        const rows = this.entries.filter((entry) => entry.kind === "withdrawal");
        need(list.iss === this.origin && list.size === this.note.size
            && list.root === b64(this.note.root) && isList(list.withdrawn)
            && list.withdrawn.length === rows.length, "it is of another checkpoint");
        this.rows = new Map(rows.map((entry) => [entryOf(entry.open("which")), entry]));
        this.listedAt = list.iat;
    }
}

async function addList(data, check) {
    const list = new Withdrawn(data, check, false), kept = check.findings;
    check.findings = [];
    try {
        await list.judge();
        if (check.findings.length)
            throw new Bad("published-forged", "");
    } catch (error) {
        if (!(error instanceof Bad) || error.finding === "published-forged"
            || error.finding !== "unknown-version")
            check.findings = [{ finding: "published-forged", text: error.message, entry: null }];
        else
            check.findings = [{ finding: "published-unreadable", text: error.message,
                entry: null }];
        return;
    } finally {
        check.findings = [...kept, ...check.findings];
    }
    check.lists.push(list);
}

// Holds the list against the file's own certificates, or those of another ledger inside it.
function holdGroup(list, check, file, one) {
    if (one.fingerprint !== list.fingerprint) {
        check.say("other-fingerprint", word("listOther"));
        return;
    }
    if (list.note.size < one.end)
        check.say("published-unreadable", word("listOld"));
    const gone = one.group.map((entry) => list.rows.get(entry.leaf)).filter(Boolean);
    for (const entry of gone)
        check.say("withdrawn", "", entry);
    if (gone.length)
        check[one.inner ? "withdrawnInside" : "withdrawnNow"] = true;
    const why = gone.length ? String(gone[0].open("why")) : "";
    const text = one.inner
        ? gone.length ? word("withdrawnInsideWhy", list.origin, why)
            : word("listedInside", list.origin, day(list.listedAt), list.note.size)
        : gone.length ? word("withdrawnWhy", why)
            : word("listed", day(list.listedAt), list.note.size);
    if (gone.length || !file.listed)
        file.listed = text;
}

function holdList(list, check) {
    const withInside = (one) => [one, ...one.inside.flatMap(withInside)];
    for (const file of check.files)
        for (const one of withInside(file))
            if (one.origin === list.origin && one.group.length)
                holdGroup(list, check, file, one);
}

// ---- all of it ----

// "policy", "note" or null.
function sortOf(bytes) {
    if (bytes.length > 1 << 20)
        return null;
    const text = new TextDecoder().decode(bytes);
    const first = text.split("\n").map((line) => line.trim()).find((line) => line
        && !line.startsWith("#"));
    return /^(?:log|witness|group|quorum)[ \t]/.test(first || "") ? "policy"
        : isNote(text) ? "note" : null;
}

async function holdPublished(check, notes, policies) {
    for (const list of check.lists)
        holdList(list, check);
    for (const text of notes)
        await check.attempt(() => holdNote(text, check));
    for (const text of policies)
        await check.attempt(async () => {
            const policy = await readPolicy(text);
            for (const one of check.files)
                if (one.keys && one.group.length)
                    await holdPolicy(policy, one);
            check.asked = true;
        });
    if (check.asked && check.files.every((one) => one.witnessed))
        check.findings = check.findings.filter((f) => f.finding !== "unwitnessed");
}
