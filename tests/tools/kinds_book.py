"""The kinds and vocabularies under schema/ as check_kinds.py reads them, and what a value is that a
person typed. check_kinds.py tells what the members of the files mean.
"""
import datetime
import json
import re

PATTERNS = {
    "integer": r"0|[1-9][0-9]{0,15}",
    "entry": r"#[0-9]+|[A-Za-z0-9_-]{43}",
    "hash": r"[A-Za-z0-9_-]{43}", "digest": r"[A-Za-z0-9_-]{43}",
    "taxon": r"[A-Z][a-z-]+( \([A-Z][a-z-]+\))?( (cf\.|aff\.|sp\.|subsp\.|var\.|\?|[a-z-]+)){0,4}",
    "doi": r"10\.[0-9]{4,9}/[!-~]+", "fraction": r"[1-9][0-9]{0,3}/[1-9][0-9]{0,3}",
    "origin": r"[a-z0-9][a-z0-9.-]*(/[a-z0-9._-]+)*",
}
NUMBER = r"-?(0|[1-9][0-9]*)(\.[0-9]+)?"
ID = r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}"
# Never said of a find or a piece (SECURITY.md).
CLAIMS = re.compile(r"\b(authen" r"tic|guaran" r"teed|il" r"legal(ly)?|leg" r"al(ly)?)\b", re.I)
FAULTS = []


def fault(where, text):
    FAULTS.append(f"{where}: {text}")


# ---- reading -------------------------------------------------------------------------------------

def read(path):
    """The object in a file, or None with a fault said."""
    def pairs(members):
        names = [n for n, _ in members]
        for name in {n for n in names if names.count(n) > 1}:
            fault(where, f"member {name} stands twice")
        return dict(members)

    where = f"{path.parent.name}/{path.name}"
    try:
        value = json.loads(path.read_bytes().decode("utf-8"), object_pairs_hook=pairs)
    except ValueError as e:
        fault(where, f"is no JSON in UTF-8: {e}")
        return None
    if not isinstance(value, dict):
        fault(where, "is no object")
        return None
    return value


def keys(where, value, allowed):
    """Known members, in the order of the house."""
    for name in value:
        if name not in allowed:
            fault(where, f"unknown member {name}")
    known = [n for n in value if n in allowed]
    if known != sorted(known, key=allowed.index):
        fault(where, "members in another order than " + ", ".join(
            n for n in allowed if n in value))


def is_words(value):
    return isinstance(value, list) and value != [] and all(
        isinstance(v, str) and v == v.strip() != "" for v in value)


def member(where, value, name, kind, needed=True):
    """A member of the right JSON type, else None with a fault said."""
    if name not in value:
        if needed:
            fault(where, f"has no {name}")
        return None
    found = value[name]
    right = is_words(found) if kind == "words" else isinstance(found, kind) and (
        found != "" and (kind is not str or found == found.strip()))
    if not right:
        fault(where, f"{name} is {json.dumps(found)[:40]}, not {KIND_NAMES[kind]}")
        return None
    return found


KIND_NAMES = {str: "a text", bool: "true or false", list: "a list", dict: "an object",
              "words": "a list of words"}


def plain_line(where, text, most):
    if text is None:
        return
    if len(text) > most:
        fault(where, f"{len(text)} characters, {most} at most: {text[:30]}...")
    if CLAIMS.search(text):
        fault(where, f"says {CLAIMS.search(text).group()!r}: say what the record shows")
    if re.search(r"[\x00-\x1f\x7f]", text):
        fault(where, "holds a control character")


# ---- vocabularies and terms ----------------------------------------------------------------------

def read_vocabs(folder):
    vocabs, hazards = {}, []
    for path in sorted(folder.glob("*.json")):
        where, v = f"vocab/{path.name}", read(path)
        if v is None:
            continue
        keys(where, v, ["vocab", "title", "source", "open", "note", "terms"])
        if v.get("vocab") != path.stem:
            fault(where, f"calls itself {v.get('vocab')}")
        member(where, v, "title", str)
        member(where, v, "source", "words")
        member(where, v, "open", bool)
        ids = {}
        for n, term in enumerate(member(where, v, "terms", list) or []):
            here = f"{where}: term {n + 1}"
            if not isinstance(term, dict):
                fault(here, "is no object")
                continue
            word = member(here, term, "id", str)
            plain_line(f"{here}: title", member(here, term, "title", str), 90)
            for name, more in term.items():
                if name == "hazards" and isinstance(more, list):
                    hazards += [(f"{here}: hazards", hazard) for hazard in more]
                elif more is not True and (not isinstance(more, str) or more == ""):
                    fault(here, f"{name} is neither a text nor true")
            if word is None:
                continue
            if word.lower() in ids:
                fault(here, f"{word} stands twice")
            ids[word.lower()] = word
            if "memory" in str(term.get("source", "")) and term.get("memory") is not True:
                fault(here, f"{word}: its source says memory, it does not")
        vocabs[path.stem] = {"ids": set(ids.values()), "open": v.get("open") is True, "used": False}
    for here, hazard in hazards:
        if hazard not in vocabs.get("hazard", {"ids": ()})["ids"]:
            fault(here, f"{hazard!r} is no hazard of vocab/hazard.json")
    return vocabs


def read_terms(path):
    """Names of the terms of open standards, from the file that says where they are from."""
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, ValueError) as e:
        fault(f"vocab/{path.name}", f"cannot be read: {e}")
        return set()
    if not any(l.startswith("#") and "ource" in l for l in lines):
        fault(f"vocab/{path.name}", "does not say where it is from")
    rows = [l.split("\t") for l in lines if not l.startswith("#")]
    if not rows or rows[0][0] != "term":
        fault(f"vocab/{path.name}", "its first column is not `term`")
    return {r[0] for r in rows[1:]}


# ---- values as typed -----------------------------------------------------------------------------

def day_of(text):
    """First day of 2026, 2026-05 or 2026-05-02; None if there is no such day."""
    if not re.fullmatch(r"[12][0-9]{3}(-[0-9]{2}(-[0-9]{2})?)?", text):
        return None
    parts = [int(p) for p in text.split("-")] + [1, 1]
    try:
        return datetime.date(*parts[:3])
    except ValueError:
        return None


def date_ok(text):
    first, slash, last = text.partition("/")
    if slash and re.fullmatch(r"[0-9]{2}", last):
        last = first[:8] + last
    days = [day_of(first)] + ([day_of(last)] if slash else [])
    return None not in days and days == sorted(days)


class Book:
    """All kinds, vocabularies and terms, and what is right for each."""

    def __init__(self, schema):
        self.vocabs = read_vocabs(schema / "vocab")
        self.terms = read_terms(schema / "vocab" / "dwc-terms.tsv")
        self.kinds, self.common = {}, {}
        for path in sorted((schema / "kinds").glob("*.json")):
            value = read(path)
            if value is None:
                continue
            if value.get("kind") != path.stem:
                fault(f"kinds/{path.name}", f"calls itself {value.get('kind')}")
            fields = value.get("fields")
            if not isinstance(fields, list) or not all(
                    isinstance(f, dict) and isinstance(f.get("name"), str) for f in fields):
                fault(f"kinds/{path.name}", "fields is no list of objects with names")
                continue
            self.kinds[path.stem] = value
        self.base = self.kinds.pop("common", {"fields": []})

    def fields(self, kind):
        """Its fields by name, with those of every kind where it has them."""
        value = self.kinds[kind]
        both = value["fields"] + (self.base["fields"] if value.get("common") is True else [])
        return {f["name"]: f for f in both}

    def words(self, field):
        """The words a choice allows."""
        vocab = field.get("vocab")
        ids = self.vocabs[vocab]["ids"] if vocab in self.vocabs else set()
        return set(field.get("choices") or []) | ids

    def unit_words(self, field):
        if "unitVocab" in field:
            return self.words({"vocab": field["unitVocab"]})
        return set(field.get("units") or [])

    def decimal_fault(self, field, text):
        number, _, unit = text.partition(" ")
        units = self.unit_words(field)
        if not re.fullmatch(NUMBER, number):
            return f"{text!r} is no decimal number"
        if len(units) > 1 and unit not in units:
            return f"{text!r} has none of the units {', '.join(sorted(units)[:8])}"
        if len(units) < 2 and unit:
            return f"{text!r} has a unit; the bare number is wanted"
        return self.limit_fault(field, number)

    @staticmethod
    def limit_fault(field, number):
        if "min" in field and float(number) < float(field["min"]):
            return f"{number} is below {field['min']}"
        if "max" in field and float(number) > float(field["max"]):
            return f"{number} is above {field['max']}"
        return None

    def typed_fault(self, field, value):
        """Why a value as typed is none for the field; None if it is one."""
        if isinstance(value, str) and value in (field.get("answers") or []):
            return None
        found = self.type_fault(field, value)
        if found and "or" in field:
            second = dict(field, type=field["or"])
            return None if self.type_fault(second, value) is None else found
        return found

    def type_fault(self, field, value):
        kind = field.get("type")
        if kind == "rows":
            return self.rows_fault(field, value)
        if kind == "list":
            of = field.get("of", {})
            if not isinstance(value, list) or value == []:
                return f"{json.dumps(value)[:60]} is no list"
            return next((f for f in (self.typed_fault(of, v) for v in value) if f), None)
        if not isinstance(value, str) or value == "":
            return f"{json.dumps(value)[:60]} is no text"
        if kind == "date":
            return None if date_ok(value) else f"{value!r} is no date"
        if kind == "decimal":
            return self.decimal_fault(field, value)
        if kind == "choice":
            return None if value in self.words(field) else f"{value!r} is none of its words"
        if kind == "ref":
            prefix, _, ident = value.partition("/")
            ok = prefix in field.get("ref", []) and re.fullmatch(ID, ident)
            return None if ok else f"{value!r} is none of {', '.join(field.get('ref', []))}"
        if kind in PATTERNS and not re.fullmatch(PATTERNS[kind], value):
            return f"{value!r} is no {kind}"
        return self.limit_fault(field, value) if kind == "integer" else None

    def rows_fault(self, field, value):
        if not isinstance(value, list) or value == []:
            return f"{json.dumps(value)[:60]} is no list of records"
        columns = {c.get("name"): c for c in field.get("columns", [])}
        for row in value:
            if not isinstance(row, dict):
                return f"{json.dumps(row)[:60]} is no record"
            for name, cell in row.items():
                if name not in columns:
                    return f"no column {name}"
                found = self.typed_fault(columns[name], cell)
                if found:
                    return f"column {name}: {found}"
            for name, column in columns.items():
                if column.get("required") == "yes" and name not in row:
                    return f"column {name} is required"
        return None
