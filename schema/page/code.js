// What the code on a sheet says (docs/format.md section 9): a claim until the file is checked.

function readCode(typed) {
    const text = typed.trim(), link = /^(?:https?|file):\/\//.test(text);
    const parts = (link ? text.replace(/^[^#]*#?/, "") : text).split(link ? "~" : " ");
    const jws = parts.length > 2 && parts[parts.length - 1].length !== 43 ? parts.pop() : null;
    const id = parts.pop(), origin = parts.join(link ? "~" : " ");
    const code = { id, jws, says: null, file: null,
        origin: link ? origin.replace(/%([0-9A-Fa-f]{2})/g,
            (all, hex) => String.fromCharCode(parseInt(hex, 16))) : origin };
    try {
        need(text.length <= 4096 && isText(id) && isHash(id)
            && /^[!-*,-~]{1,255}$/.test(code.origin), "codeNone", "refused");
    } catch {
        throw new Bad("refused", "codeNone");
    }
    if (jws !== null)
        try {
            readSummary(code, jws);
        } catch (error) {
            throw error instanceof Bad && error.finding === "unknown-version" ? error
                : new Bad("refused", "codeNone");
        }
    return code;
}

function readSummary(code, jws) {
    const parts = jws.split(".");
    need(jws.length <= 2048 && parts.length === 3, "no compact JWS");
    code.signature = unb64(parts[2], true, 64);
    code.signedBytes = ascii(parts[0] + "." + parts[1]);
    const header = readJson(unb64(parts[0])), says = readJson(unb64(parts[1]));
    need(isObject(header) && isObject(says) && isText(header.alg), "header and payload");
    need(!("crit" in header), "crit", "unknown-version");
    need(hasMembers(header, ["alg", "typ"]) && header.typ === "markerbed-summary+jwt", "header");
    knownWord(header, "alg", ["EdDSA", "Ed25519"]);
    need(hasMembers(says, ["aud", "crt", "iat", "iss", "says", "sub"]) && isHash(says.crt)
        && Number.isInteger(says.iat) && isText(says.iss) && isText(says.sub)
        && SUBJECT.test(says.sub) && says.sub.startsWith("specimen/")
        && /^[!-*,-~]{1,255}$/.test(says.iss) && Object.keys(AUDIENCES).includes(says.aud)
        && isList(says.says) && says.says.length <= 8 && says.says.every(isText), "its members");
    code.says = says;
}

// Adds what does not fit to the findings of the files.
async function holdCode(code, check) {
    const own = !code.says || (code.says.iss === code.origin && code.says.crt === code.id);
    for (const one of check.files)
        for (const entry of one.origin === code.origin ? one.group : [])
            if (entry.leaf === code.id)
                Object.assign(code, { file: one, entry });
    if (check.files.length && !code.file)
        check.say("code-differs", word("codeOther", code.id));
    if (!own)
        check.say("code-differs", word("codeTorn"));
    const says = code.says, entry = code.entry;
    if (!says || !own || !entry)
        return;
    const key = code.file.keys.people.get(entry.kid);
    code.fits = says.iat === entry.iat && says.sub === entry.sub
        && says.aud === entry.open("audience") && key !== undefined
        && await isSigned(key.raw, code.signature, code.signedBytes);
    if (!code.fits)
        check.say("code-differs", word("codeForged"));
}

function codeBox(code) {
    if (!code)
        return [];
    const state = !code.says ? "codeBare" : code.fits ? "codeFits"
        : code.file ? "codeForged" : "codeClaim";
    return section("codeTitle", element("p", {}, word(code.file ? "codeHere" : "codeAlone")),
        element("dl", {}, rowOf(word("ledgerOrigin"), code.origin),
            rowOf(word("codeCertificate"), element("code", {}, code.id)),
            ...(code.says ? [rowOf(word("codeOf"), code.says.sub),
                rowOf(word("codeDay"), day(code.says.iat)),
                rowOf(word("codeFor"), word("audience-" + code.says.aud)),
                ...code.says.says.map((text) => rowOf(word("codeSays"), text))] : []),
            rowOf(word("codeSummary"), word(state))));
}
