"""The lines of a statement, worked out from entries by a table: docs/format.md sections 5 and 7."""
import json

NOT_CORRECTED = {"founding", "checkpoint-key", "key-enrolment", "key-retirement", "certificate",
                 "withdrawal", "countersign", "division", "joining", "erasure"}
OF_CORRECTION = {"target", "action", "changesFacts", "why", "movedTo", "explanation", "batch",
                 "explanationForSale", "explanationForScience", "explanationForLand"}
UNKNOWABLE = object()


def same(a, b):
    return json.dumps(a, sort_keys=True) == json.dumps(b, sort_keys=True)


def apart(value):
    return [p for part in value for p in apart(part)] if isinstance(value, list) else [value]


class Story:
    """The entries in front of one certificate, with their corrections. An entry has index, leaf,
    sub, kind, fields {name: (class, value)} and hidden {digest not shown: class}."""

    def __init__(self, entries, end):
        self.chains, self.void, self.fixes, by_leaf = {}, set(), {}, {}
        for entry in (e for e in entries if e.index < end):
            self.chains.setdefault(entry.sub, []).append(entry)
            by_leaf[entry.leaf] = entry
        for entry in reversed(by_leaf.values()):  # from the newest: is it void itself?
            if entry.kind != "correction" or entry.leaf in self.void:
                continue
            target = by_leaf.get(entry.open("target", {}).get("entry"))
            if (not target or target.sub != entry.sub or target.index >= entry.index
                    or target.kind in NOT_CORRECTED):
                continue
            if entry.open("action", "").startswith("void"):
                self.void.add(target.leaf)
            elif target.kind != "correction":
                self.fixes.setdefault(target.leaf, []).append(entry)

    def entries(self, sub, kinds):
        return [e for e in self.chains.get(sub, ()) if e.kind in kinds and e.leaf not in self.void]

    def value(self, entry, cls, name):
        """(value, leaf of the entry that says it); None: not there; or UNKNOWABLE."""
        fixes = self.fixes.get(entry.leaf, [])
        if any(cls in fix.hidden.values() for fix in fixes):
            return UNKNOWABLE
        for source in fixes + [entry]:
            found = source.fields.get(name)
            here = source is entry or name not in OF_CORRECTION
            if found and here and found[0] in (cls, "open"):
                if found[1] is None and source is not entry:
                    break
                return found[1], source.leaf
        return UNKNOWABLE if cls in entry.hidden.values() else None

    def one(self, entries, cls, name):
        """Of the first of these in which the field is there."""
        for entry in entries:
            found = self.value(entry, cls, name)
            if found:
                return None if found is UNKNOWABLE else found
        return None

    def follow(self, how, sub):
        for name in how["fields"]:
            found = self.one(self.entries(sub, how["of"])[::-1], how["class"], name)
            if found and isinstance(found[0], dict) and found[0].get("ref") in self.chains:
                return found[0]["ref"], found[1]
        return None

    def work_out(self, row, entries):
        """(value, leaves) or None."""
        op, cls, name = row["op"], row.get("class"), row.get("field")
        if op in ("first", "latest"):
            found = self.one(entries if op == "first" else entries[::-1], cls, name)
            return found and (found[0], [found[1]])
        if op == "count":
            return len(entries), [e.leaf for e in entries]
        if op == "rows":
            rows, used = [], []
            for entry in entries:
                cells = {c: self.value(entry, cls, c) for c in row["columns"]}
                cells = {c: v for c, v in cells.items() if v and v is not UNKNOWABLE}
                if cells:
                    rows.append({c: v[0] for c, v in cells.items()})
                    used += [v[1] for v in cells.values()] + [entry.leaf]
            return (rows, used) if rows else None
        found = [v for v in (self.value(e, cls, name) for e in entries) if v]
        if not found or UNKNOWABLE in found:
            return None
        used = [leaf for _, leaf in found]
        if op == "sum":
            whole = all(type(v) is int for v, _ in found)
            return (sum(v for v, _ in found), used) if whole else None
        values = {json.dumps(part, sort_keys=True): part for v, _ in found for part in apart(v)}
        return list(values.values()), used

    def named(self, value, used):
        """A reference to a party becomes its name; so does each in a list."""
        if isinstance(value, list):
            return [self.named(part, used) for part in value]
        sub = value.get("ref") if isinstance(value, dict) else None
        for cls, name in ("science", "name"), ("sale", "neutralLabel"):
            found = self.one(self.entries(sub, ["party"])[::-1], cls, name)
            if found:
                used.append(found[1])
                return found[0]
        return value

    def line(self, row, specimen):
        sub, used = specimen, []
        if "follow" in row:
            followed = self.follow(row["follow"], specimen)
            if not followed:
                return None
            sub, used = followed[0], [followed[1]]
        entries = self.entries(sub, row["of"])
        found = self.work_out(row, entries)
        if found:
            value, used = found[0], used + found[1]
            value = self.named(value, used) if row.get("party") else value
        elif "else" in row and not entries:
            value = {"answer": row["else"]}
        else:
            return None
        line = {"name": row["name"], "value": value, "from": list(dict.fromkeys(used))}
        if "unit" in row and not (isinstance(value, dict) and "answer" in value):
            line["unit"] = row["unit"]
        return line

    def lines(self, table, specimen):
        worked_out = (self.line(row, specimen) for row in table if row["op"] != "attested")
        return [line for line in worked_out if line]


def compare(lines, worked_out, table):
    """(finding, name of the line) for each that is not right; "malformed" if it is no statement."""
    order = [row["name"] for row in table]
    free = {row["name"] for row in table if row["op"] == "attested"}
    wanted, last = {line["name"]: line for line in worked_out}, -1
    for line in lines:
        name = line.get("name") if isinstance(line, dict) else None
        place = order.index(name) if name in order else -1
        if name in free:
            right = set(line) == {"name", "value", "attested"} and line["attested"] is True
        else:
            right = same(line, wanted.pop(name, None))
        if not right or place <= last:
            yield "statement-differs", str(name)
        last = place
    for name in wanted:
        yield "statement-missing", name
