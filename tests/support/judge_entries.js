// Judges the entries of certificates by jose (Debian's node-jose) and Node's own SHA-256: each
// signature by the key that the file itself enrols, each thumbprint (RFC 7638), and that each
// disclosure's digest stands in its entry (RFC 9901). One line of JSON a file:
// {"entries":n,"disclosures":n,"wrong":["broken-signature", ...]}
//
//	judge_entries FILE...
"use strict";
const crypto = require("crypto");
const fs = require("fs");
const jose = require("jose");

const digest = (text) => crypto.createHash("sha256").update(text).digest("base64url");
const plain = (part) => JSON.parse(Buffer.from(part, "base64url"));

// All digests that an entry or a disclosure speaks of.
function digests(value, into) {
    if (Array.isArray(value))
        value.forEach((part) => digests(part, into));
    else if (value && typeof value === "object")
        for (const [name, part] of Object.entries(value))
            if (name === "_sd")
                part.forEach((one) => into.add(one));
            else if (name === "...")
                into.add(part);
            else
                digests(part, into);
    return into;
}

async function judgeEntry(sdJwt, keys, wrong) {
    const [jws, ...shown] = sdJwt.split("~");
    const payload = plain(jws.split(".")[1]);
    if (payload.kind === "founding" || payload.kind === "key-enrolment") {
        const thumbprint = await jose.calculateJwkThumbprint(payload.body.jwk);
        keys[thumbprint] = await jose.importJWK(payload.body.jwk, "EdDSA");
    }
    const kid = jose.decodeProtectedHeader(jws).kid;
    try {
        await jose.compactVerify(jws, keys[kid], { algorithms: ["EdDSA"] });
    } catch (error) {
        wrong.push(keys[kid] ? "broken-signature" : "key-unknown");
    }
    const held = digests(payload.body, new Set());
    const disclosures = shown.slice(0, -1);
    disclosures.forEach((text) => digests(plain(text).slice(-1), held));
    if (disclosures.some((text) => !held.has(digest(text))))
        wrong.push("stray-disclosure");
    return disclosures.length;
}

async function judge(path) {
    const out = { entries: 0, disclosures: 0, wrong: [] };
    try {
        const keys = {};
        for (const entry of JSON.parse(fs.readFileSync(path)).entries) {
            out.disclosures += await judgeEntry(entry.sd_jwt, keys, out.wrong);
            out.entries++;
        }
    } catch (error) {
        out.wrong.push("unreadable");
    }
    console.log(JSON.stringify(out));
}

(async () => {
    for (const path of process.argv.slice(2))
        await judge(path);
})();
