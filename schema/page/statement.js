// The lines of a statement, worked out from entries by a table: docs/format.md sections 5 and 7.

const NOT_CORRECTED = ["founding", "checkpoint-key", "key-enrolment", "key-retirement",
    "certificate", "withdrawal", "countersign", "division", "joining", "erasure"];
const OF_CORRECTION = ["target", "action", "changesFacts", "why", "movedTo", "explanation",
    "explanationForSale", "explanationForScience", "explanationForLand", "batch"];
const UNKNOWABLE = Symbol("unknowable");

const hides = (entry, cls) => [...entry.hidden.values()].includes(cls);
const apart = (value) => isList(value) ? value.flatMap(apart) : [value];

class Story {
    constructor(entries, end) {
        this.chains = new Map();
        this.voided = new Set();
        this.fixes = new Map();
        const below = entries.filter((entry) => entry.index < end);
        const byLeaf = new Map(below.map((entry) => [entry.leaf, entry]));
        for (const entry of below)
            this.chains.set(entry.sub, [...this.chains.get(entry.sub) || [], entry]);
        for (const entry of below.reverse()) // from the newest: is it void itself?
            if (entry.kind === "correction" && !this.voided.has(entry.leaf))
                this.correct(entry, byLeaf.get(entryOf(entry.open("target"))));
    }

    correct(entry, target) {
        if (!target || target.sub !== entry.sub || target.index >= entry.index
            || NOT_CORRECTED.includes(target.kind))
            return;
        if (String(entry.open("action")).startsWith("void"))
            this.voided.add(target.leaf);
        else if (target.kind !== "correction")
            this.fixes.set(target.leaf, [...this.fixes.get(target.leaf) || [], entry]);
    }

    entries(sub, kinds) {
        return (this.chains.get(sub) || []).filter(
            (entry) => kinds.includes(entry.kind) && !this.voided.has(entry.leaf));
    }

    // [value, leaf of the entry that says it]; null: not there; or UNKNOWABLE.
    value(entry, cls, name) {
        const fixes = this.fixes.get(entry.leaf) || [];
        if (fixes.some((fix) => hides(fix, cls)))
            return UNKNOWABLE;
        for (const source of [...fixes, entry]) {
            const found = source.fields.get(name);
            if (!found || (found[0] !== cls && found[0] !== "open")
                || (source !== entry && OF_CORRECTION.includes(name)))
                continue;
            if (found[1] === null && source !== entry)
                break;
            return [found[1], source.leaf];
        }
        return hides(entry, cls) ? UNKNOWABLE : null;
    }

    // Of the first of these in which the field is there.
    one(entries, cls, name) {
        for (const entry of entries) {
            const found = this.value(entry, cls, name);
            if (found)
                return found === UNKNOWABLE ? null : found;
        }
        return null;
    }

    follow(how, sub) {
        for (const name of how.fields) {
            const found = this.one(this.entries(sub, how.of).reverse(), how.class, name);
            if (found && this.chains.has(refOf(found[0])))
                return [refOf(found[0]), found[1]];
        }
        return null;
    }

    rows(row, entries) {
        const rows = [], used = [];
        for (const entry of entries) {
            const cells = row.columns.map((name) => [name, this.value(entry, row.class, name)])
                .filter(([, value]) => value && value !== UNKNOWABLE);
            if (cells.length === 0)
                continue;
            rows.push(Object.fromEntries(cells.map(([column, value]) => [column, value[0]])));
            used.push(...cells.map(([, value]) => value[1]), entry.leaf);
        }
        return rows.length ? [rows, used] : null;
    }

    workOut(row, entries) {
        if (row.op === "first" || row.op === "latest") {
            const found = this.one(row.op === "first" ? entries : [...entries].reverse(),
                row.class, row.field);
            return found && [found[0], [found[1]]];
        }
        if (row.op === "count")
            return [entries.length, entries.map((entry) => entry.leaf)];
        if (row.op === "rows")
            return this.rows(row, entries);
        const found = entries.map((entry) => this.value(entry, row.class, row.field))
            .filter(Boolean);
        if (found.length === 0 || found.includes(UNKNOWABLE))
            return null;
        const used = found.map(([, leaf]) => leaf), values = found.map(([value]) => value);
        if (row.op === "sum")
            return values.every(Number.isInteger) ? [values.reduce((a, b) => a + b), used] : null;
        return [[...new Map(apart(values).map((part) => [canon(part), part])).values()], used];
    }

    // A reference to a party becomes its name; so does each in a list.
    named(value, used) {
        if (isList(value))
            return value.map((part) => this.named(part, used));
        for (const [cls, name] of [["science", "name"], ["sale", "neutralLabel"]]) {
            const found = this.one(this.entries(refOf(value), ["party"]).reverse(), cls, name);
            if (found) {
                used.push(found[1]);
                return found[0];
            }
        }
        return value;
    }

    line(row, specimen) {
        const followed = row.follow ? this.follow(row.follow, specimen) : [specimen, null];
        if (!followed)
            return null;
        const entries = this.entries(followed[0], row.of), found = this.workOut(row, entries);
        const used = followed[1] ? [followed[1]] : [];
        let value;
        if (found) {
            used.push(...found[1]);
            value = row.party ? this.named(found[0], used) : found[0];
        } else if ("else" in row && entries.length === 0) {
            value = { answer: row.else };
        } else {
            return null;
        }
        const line = { name: row.name, value, from: [...new Set(used)] };
        if ("unit" in row && !(isObject(value) && "answer" in value))
            line.unit = row.unit;
        return line;
    }

    lines(table, specimen) {
        return table.filter((row) => row.op !== "attested")
            .map((row) => this.line(row, specimen)).filter(Boolean);
    }
}

// Each line said with whether it is right, and the names of those that are missing.
function compareLines(lines, workedOut, table) {
    const order = table.map((row) => row.name), wanted = new Map(workedOut.map((l) => [l.name, l]));
    let last = -1;
    const said = lines.map((line) => {
        const name = isObject(line) ? line.name : null, place = order.indexOf(name);
        const attested = place >= 0 && table[place].op === "attested";
        const right = attested
            ? hasMembers(line, ["name", "value", "attested"]) && line.attested === true
            : wanted.has(name) && canon(line) === canon(wanted.get(name));
        const inOrder = place > last;
        last = place;
        wanted.delete(name);
        return { line, attested, right: right && inOrder };
    });
    return { said, missing: [...wanted.values()] };
}
