// What a person sees. Every word comes from words.json; nothing from a file is ever read as markup.

const WORDS = JSON.parse(document.getElementById("words").textContent);
const TABLE_TEXT = document.getElementById("table").textContent;

function word(name, ...values) {
    const text = WORDS.words[name];
    return text.replace(/\{(\d)\}/g, (all, place) => String(values[place]));
}

// element("p", {class: ...}, children: texts or elements)
function element(name, attributes = {}, ...children) {
    const out = document.createElement(name);
    for (const [key, value] of Object.entries(attributes))
        out.setAttribute(key, value);
    out.append(...children.flat().filter((child) => child !== null));
    return out;
}

const section = (title, ...children) => [element("h2", {}, word(title)), ...children.flat()];
const day = (iat) => new Date(iat * 1000).toISOString().slice(0, 10);
const grouped = (fingerprint) => fingerprint.replace(/(.{4})(?=.)/g, "$1 ");
const plainName = (name) => name.replace(/([A-Z])/g, " $1").toLowerCase();

// A value as text, or as a list where it has parts.
function shownValue(value) {
    if (isList(value))
        return value.length === 1 ? shownValue(value[0])
            : element("ul", {}, value.map((part) => element("li", {}, shownValue(part))));
    if (!isObject(value))
        return String(value);
    if ("answer" in value)
        return String(value.answer);
    if ("value" in value && "unit" in value && Object.keys(value).length === 2)
        return value.value + " " + value.unit;
    if ("percent" in value && "substance" in value && Object.keys(value).length === 2)
        return value.substance + ": " + value.percent + " %";
    if (refOf(value))
        return value.ref;
    const parts = Object.entries(value).map(
        ([name, part]) => [plainName(name) + ": ", shownValue(part)]);
    return element("span", {}, parts.flatMap((part, i) => i ? ["; ", ...part] : part));
}

function verdictOf(check) {
    const names = check.findings.map((f) => f.finding);
    if (check.exit === 2)
        return ["bad", "?", "verdictRefused", "refusedForm"];
    if (check.exit === 1 && !check.broken)
        return check.withdrawnNow
            ? ["bad", "\u2715", "verdictWithdrawn", "verdictWithdrawnMore"]
            : ["bad", "\u2715", "verdictInside", "verdictInsideMore"];
    if (check.exit === 1)
        return ["bad", "\u2715", "verdictBad", "verdictBadMore"];
    if (check.code && check.files.length === 0 && check.exit === 3
        && !check.findings.length)
        return ["doubt", "\u2026", "verdictClaim", "verdictClaimMore"];
    if (check.exit === 0)
        return ["good", "\u2713", "verdictGood", "verdictGoodMore"];
    const newer = names.some((name) => ["unknown-version", "unknown-derivation", "unknown-change"]
        .includes(name));
    return newer ? ["doubt", "?", "verdictNewer", "verdictNewerMore"]
        : ["doubt", "\u2026", "verdictUnknown", "verdictUnknownMore"];
}

function verdictBox(check) {
    const [style, sign, title, more] = verdictOf(check);
    const refused = check.findings.filter((f) => f.finding === "refused").map((f) => word(f.text));
    return element("div", { class: "verdict " + style },
        element("span", { class: "sign", "aria-hidden": "true" }, sign),
        element("h2", { id: "verdict" }, word(title)),
        element("p", {}, refused.length ? refused.join(" ") : word(more)));
}

function findingBox(name, found, severity) {
    const kind = WORDS.findings[name], where = [...new Set(found.map(({ text, entry }) =>
        (entry ? word("atEntry", entry.index, entry.sub ? entry.sub + ", " + entry.kind : "") : "")
        + (entry && text ? ": " : "") + text).filter(Boolean))];
    return element("div", { class: "finding " + severity },
        element("p", {}, element("strong", {}, kind.means), " ", element("code", {}, name)),
        element("p", {}, kind.mend),
        where.length ? element("ul", { class: "quiet" }, where.slice(0, 8).map(
            (text) => element("li", { lang: "en" }, text))) : null);
}

function findingsOf(check, severity, title) {
    // "everything fits, but ..." would be wrong of a file in which something does not
    const found = check.findings.filter((f) => f.finding !== "refused"
        && !(f.finding === "unknown-ledger" && check.exit === 1)
        && WORDS.findings[f.finding].severity === severity);
    const names = [...new Set(found.map((f) => f.finding))];
    return names.length ? section(title, names.map((name) =>
        findingBox(name, found.filter((f) => f.finding === name), severity))) : [];
}

function rowOf(title, value, tag = null) {
    return element("div", {}, element("dt", {}, title), element("dd", {}, value,
        tag ? [" ", element("span", { class: "tag " + tag[0] }, word(tag[1]))] : []));
}

function compareByHand(certificate) {
    const name = certificate.entries[0].index === 0 ? certificate.entries[0].open("name") : null;
    return section("compareTitle", element("p", {}, word("compareHelp")), element("dl", {},
        rowOf(word("ledgerName"), isText(name) ? name : word("notGiven")),
        rowOf(word("ledgerOrigin"), certificate.origin),
        rowOf(word("fingerprint"), element("span", { class: "fingerprint" },
            grouped(certificate.fingerprint)),
        certificate.trusted && certificate.check.exit !== 1 ? ["good", "fingerprintFits"] : null),
        certificate.group.map((entry) => rowOf(word("certificateOf", entry.sub),
            element("code", {}, entry.leaf)))));
}

function statementOf(certificate) {
    const out = [];
    const broken = certificate.check.broken;
    for (const { entry, said, missing } of certificate.statements) {
        const titles = new Map(certificate.check.table.lines.map((row) => [row.name, row.title]));
        const one = ({ line, right }) => rowOf(titles.get(line.name) || String(line.name),
            [shownValue(line.value), line.unit && !isList(line.value) ? " " + line.unit : ""],
            right ? null : ["bad", "lineWrong"]);
        const lines = said.filter(({ line }) => isObject(line));
        const derived = lines.filter((one) => !one.attested);
        const attested = lines.filter((one) => one.attested);
        out.push(...section(broken ? "statementBroken" : "statementTitle",
            element("p", { class: "quiet" }, broken ? entry.sub : word("statementHelp", entry.sub)),
            element("dl", {}, derived.map(one), missing.map((line) => rowOf(titles.get(line.name),
                shownValue(line.value), ["bad", "lineMissing"])))));
        if (attested.length || !broken)
            out.push(...section("attestedTitle", attested.length
                ? element("dl", {}, attested.map(one)) : element("p", {}, word("attestedNone"))));
    }
    return out;
}

function withheldOf(certificate) {
    const list = certificate.withheld.map(({ entry, cls, why }) => element("li", {},
        word("withheldRow", entry.sub, plainName(entry.kind), word("class-" + cls), why)));
    const counts = new Map();
    for (const entry of certificate.entries)
        for (const cls of entry.hidden.values())
            counts.set(cls, (counts.get(cls) || 0) + 1);
    const others = [...counts].filter(([cls]) => !(AUDIENCES[certificate.made] || []).includes(cls)
        && cls !== "own").map(([cls, n]) => word("hiddenCount", word("class-" + cls), n));
    const unsaid = certificate.check.findings.some((f) => f.finding === "withheld-from-audience");
    return section("withheldTitle", list.length ? element("ul", {}, list)
        : element("p", {}, word(unsaid ? "withheldUnsaid" : "withheldNone")),
    others.length ? element("p", { class: "quiet" }, word("hiddenFor", others.join("; "))) : null);
}

function signersOf(certificate) {
    const story = new Story(certificate.entries, Infinity), rows = [];
    for (const [kid, key] of certificate.keys.people) {
        const count = certificate.entries.filter((entry) => entry.kid === kid).length;
        const label = key.holder ? String(shownValue(story.named({ ref: key.holder }, [])))
            : word("founder");
        if (count)
            rows.push(element("li", {}, label + (key.holder ? " (" + key.holder + ")" : "") + ": "
                + word("signedEntries", count)
                + (key.until === null ? "" : word("retiredAt", key.until))));
    }
    return section("signersTitle", element("p", { class: "quiet" }, word("signersHelp")),
        element("ul", {}, rows));
}

function picturesOf(certificate) {
    const types = [["image/jpeg", [255, 216, 255]], ["image/png", [137, 80, 78, 71]]];
    const shown = certificate.pictures.flatMap((bytes) => types.filter(([, magic]) =>
        magic.every((byte, i) => bytes[i] === byte)).map(([type]) =>
        element("img", { alt: word("pictureAlt"),
            src: URL.createObjectURL(new Blob([bytes], { type })) })));
    return shown.length === 0 || certificate.check.broken ? []
        : section("picturesTitle", element("p", {}, word("picturesHelp")), shown);
}

function certificateBox(certificate, alone) {
    const last = certificate.entries[certificate.entries.length - 1];
    if (!last || !certificate.keys)
        return [];
    const known = Object.keys(AUDIENCES).includes(certificate.made);
    const made = word(known ? "audience-" + certificate.made : "notGiven");
    return [
        alone ? null : element("h2", {}, certificate.name || certificate.origin),
        element("p", {}, element("strong", {}, word("asOf", day(last.iat))), " ",
            word("madeFor", made)),
        ["public", "auditor"].includes(certificate.made) ? element("p", {}, element("strong", {},
            word("notForSale"))) : null,
        ...[certificate.listed, certificate.witnessed].filter(Boolean).map(
            (text) => element("p", {}, text)),
        certificate.on === "file" ? null : element("p", { class: "verdict doubt" }, element("span",
            { class: "sign", "aria-hidden": "true" }, "!"), element("span", {},
            word("on-" + certificate.on))),
        ...compareByHand(certificate), ...statementOf(certificate), ...withheldOf(certificate),
        ...signedOf(certificate), ...picturesOf(certificate), ...signersOf(certificate),
        ...beforeOf(certificate),
    ];
}

// Its years in other ledgers, one inside another.
function beforeOf(certificate) {
    return certificate.inside.filter((one) => one.group.length).flatMap((one) => [
        element("h2", {}, word("storyBefore", one.origin)),
        ...compareByHand(one), ...statementOf(one), ...signedOf(one), ...beforeOf(one)]);
}

function signedOf(certificate) {
    return certificate.signed.length === 0 ? [] : section("signedTitle", element("ul", {},
        certificate.signed.map(({ over, role, iss, kid, known }) => element("li", {}, word(
            known ? "signedKnown" : "signedUnknown", over.index, role, iss, kid)))));
}

function showResult(check) {
    const result = document.getElementById("result");
    result.replaceChildren(...[
        verdictBox(check), ...findingsOf(check, "fault", "faultsTitle"),
        ...findingsOf(check, "unsure", "unsureTitle"), ...codeBox(check.code),
        ...check.files.flatMap((one) => certificateBox(one, check.files.length === 1)),
        ...(check.exit === 2 || check.files.length === 0 ? [] : section("checkedTitle", element("ul", {}, [1, 2, 3, 4].map(
            (n) => element("li", {}, word("checked" + n)))), element("p", {}, word("notChecked")),
            check.findings.some((f) => f.finding === "unwitnessed")
                ? element("p", {}, word("ownWord")) : null)),
        ...findingsOf(check, "remark", "remarksTitle"),
    ].filter((part) => part !== null));
    result.hidden = false;
    result.setAttribute("aria-label", word("resultLabel"));
    document.title = word(verdictOf(check)[2]);
}

// ---- asking ----

let chosen = [];
let turn = 0;

// A trust file, by its name: "trust", "known.trust", "ledgers.txt".
function isTrust(name) {
    return /(^|\.)trust$|\.txt$/.test(name);
}

function readTrust(text, trust) {
    for (const line of text.split(/\r?\n/)) {
        const [first, origin, ...rest] = line.trim().split(/\s+/);
        if (first === "ledger" && origin && rest.length)
            trust.set(origin, [...trust.get(origin) || [], rest.join("").toLowerCase()]);
        if (first === "key" && origin) // no origin has a blank
            trust.set("key ", [...trust.get("key ") || [], origin]);
    }
}

async function judge(files, fingerprint, typed) {
    const trust = new Map(), table = { lines: JSON.parse(TABLE_TEXT).lines };
    table.digest = b64(await sha256(ascii(TABLE_TEXT)));
    if (fingerprint)
        trust.set("*", [fingerprint]);
    const check = new Check(trust, table, WORDS.findings);
    const texts = { note: [], policy: [] }, sorts = new Map();
    for (const file of files) {
        const sort = sortOf(file.bytes) || (isTrust(file.name) ? "trust" : "file");
        sorts.set(file, sort);
        if (sort === "trust")
            readTrust(new TextDecoder().decode(file.bytes), trust);
        else if (sort !== "file")
            texts[sort].push(new TextDecoder().decode(file.bytes));
    }
    for (const file of files.filter((one) => sorts.get(one) === "file")) {
        const { name, bytes } = file;
        await check.attempt(async () => {
            const found = await certificateIn(bytes);
            await check.addFile(found.bytes, { on: found.on, name });
        });
    }
    await holdPublished(check, texts.note, texts.policy);
    check.end();
    if (typed)
        await check.attempt(async () => {
            check.code = readCode(typed);
            await holdCode(check.code, check);
        });
    return check;
}

async function run() {
    const mine = ++turn, result = document.getElementById("result");
    const code = document.getElementById("code").value.trim();
    if (chosen.length === 0 && !code)
        return;
    delete document.body.dataset.exit;
    result.hidden = false;
    result.replaceChildren(element("p", {}, word("working")));
    const typed = document.getElementById("fingerprint").value.toLowerCase()
        .replace(/[^a-z2-7]/g, "");
    let check;
    try {
        check = await judge(chosen, typed, code);
        if (mine !== turn)
            return;
        showResult(check);
    } catch (error) {
        const old = error.name === "NotSupportedError" || !(globalThis.crypto && crypto.subtle);
        result.replaceChildren(element("div", { class: "verdict doubt" }, element("span",
            { class: "sign", "aria-hidden": "true" }, "?"), element("h2", {}, word("oldBrowser")),
        element("p", {}, word(old ? "oldBrowserMore" : "trouble", error.message))));
        document.body.dataset.exit = "3";
        return;
    }
    document.body.dataset.findings = [...new Set(check.findings.map((f) => f.finding))].join(" ");
    document.body.dataset.exit = String(check.exit);
    result.focus({ preventScroll: true });
}

async function choose(list) {
    const mine = ++turn;
    delete document.body.dataset.exit;
    const files = await Promise.all([...list].map(async (file) => ({
        name: file.name, bytes: new Uint8Array(await file.arrayBuffer()) })));
    if (mine !== turn)
        return;
    chosen = files;
    await run();
}

function begin() {
    for (const one of document.querySelectorAll("[data-word]"))
        one.textContent = word(one.dataset.word);
    document.documentElement.lang = WORDS.language;
    const input = document.getElementById("files"), area = document.getElementById("choose");
    input.addEventListener("change", () => choose(input.files));
    let pause;
    for (const name of ["fingerprint", "code"])
        document.getElementById(name).addEventListener("input", () => {
            clearTimeout(pause);
            pause = setTimeout(run, 300);
        });
    for (const name of ["dragover", "dragleave", "drop"])
        document.addEventListener(name, (event) => {
            event.preventDefault();
            area.classList.toggle("over", name === "dragover");
            if (name === "drop")
                choose(event.dataTransfer.files);
        });
}

// A link on paper leads here with all of the code behind "#"; nothing of that is sent anywhere.
function followLink() {
    if (location.hash.length < 2)
        return;
    document.getElementById("code").value = location.href;
    run();
}

begin();
window.addEventListener("hashchange", followLink);
followLink();
