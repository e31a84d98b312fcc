#!/usr/bin/env python3
"""Checks the kinds and vocabularies under schema/. Prints one line a fault; exit 1 if there is any.

    check_kinds.py [SCHEMA]      SCHEMA is the folder that holds kinds/ and vocab/

What the members of these files mean:

kind    kind, title, subject (prefixes it may be about), help, example (a command), changes (it
        changes what the specimen is), common (has the fields of common.json too); where needed
        writer (the command that writes it, where `record` does not), carries (correction: also
        takes the fields of its target), notFor (kinds that cannot be its target), decides (fields
        that decide what a specimen is: never narrower than `sale`); ask (fields a person is asked,
        in order), fields.
field   name, title, type, class, required: yes | answer (one of `answers` will do) | when | no.
        when: a sentence; if: its test over the same entry, {field}: that field holds a value that
        is no answer, {field, in}: it holds one of these words (in a list: any element; with
        `column`: in any row of rows).
        choices, vocab: allowed words (both: together). ref: subject prefixes. of: element of a
        list. columns: of rows. salted: elements are salted one by one. or: a second type that will
        do as well. units: one (the bare number is stored) or several ({value, unit} is stored);
        unitVocab: several, from a vocabulary; unitIn: the field or column that holds the unit.
        future: true where the day may well lie ahead; elsewhere the door refuses such a day.
        answers: stored as {"answer": word}. default, example: as typed. from: what fills it in,
        first that has a value: KIND.FIELD (of the named entry), setting.FIELD (the user's own),
        today, recorder (party of the signing key), program (computed), keeper, owner, keeperLabel,
        ownerLabel (by the record so far), and last.FIELD (this person's last entry of the kind),
        which is offered in a form and never filled in unseen. Neither default nor from fills a
        field whose `if` does not hold. A required field that nothing fills is asked behind those
        of `ask`.
        term, row: the term of an open standard and the extension row it goes to.
types   text, date, decimal, integer, choice, ref, entry ({"entry": leaf hash}), hash, digest,
        file, geometry, taxon (Latin name, no author), doi, fraction (1/2), origin, jwk, vkey, jws,
        statement, list, rows.
As typed: on a command line a list is parted by ` | `, and so are rows, their columns by `; ` as
column:value; in these files they are JSON. With `or`, the first type that fits.
"""
import json
import re
import shlex
import sys
from pathlib import Path

sys.dont_write_bytecode = True
from kinds_book import FAULTS, ID, NUMBER, Book, fault, is_words, keys, member, plain_line

TOP = Path(__file__).resolve().parents[2]
CLASSES = ("open", "sale", "science", "land", "private", "own")
REQUIRED = ("yes", "answer", "when", "no")
ANSWERS = ("not known", "not examined", "none", "does not apply")
SUBJECTS = ("ledger", "key", "party", "site", "horizon", "permission", "field-day", "dealing",
            "place", "specimen")
ROWS = ("MoF", "Rel", "Media")
WRITERS = ("found", "key", "sheet", "withdraw", "forget")
SOURCES = {"today": ("date",), "recorder": ("ref", "list"), "keeper": ("ref",), "owner": ("ref",),
           "keeperLabel": ("choice",), "ownerLabel": ("choice",), "program": None}
# Types that may stand in clear for ever: no free text, no name, nothing that places a find.
OPEN_TYPES = {"choice", "taxon", "doi", "hash", "entry", "jwk", "vkey", "jws", "digest", "origin",
              "integer", "list", "rows"}
OPEN_EXCEPTIONS = {("founding", "name"): "open text", ("key-enrolment", "holder"): "open party"}
# What decides what a specimen is can be withheld from no buyer.
DECIDING = {"identification", "division", "joining", "relation", "condition", "correction", "loss",
            "claim", "withdrawal", "certificate"}
TAKEN = set(CLASSES) | {"changes"}  # members of a body that are no fields
KIND_KEYS = ["kind", "title", "subject", "help", "example", "changes", "common", "writer",
             "carries", "notFor", "decides", "ask", "fields"]
FIELD_KEYS = ["name", "title", "type", "class", "required", "when", "if", "ref", "of", "choices",
              "vocab", "or", "units", "unitVocab", "unitIn", "min", "max", "future", "salted",
              "columns", "answers", "default", "from", "help", "example", "term", "row",
              "as", "tie", "exception", "note"]
COLUMN_KEYS = ["name", "title", "type", "required", "ref", "choices", "vocab", "or", "units",
               "unitVocab", "unitIn", "min", "max", "future", "note"]
# Members that belong to a type, and whether it needs them.
SHAPE = {"ref": {"ref": True}, "choice": {"choices": None, "vocab": None}, "list": {"of": True,
         "salted": False}, "rows": {"columns": True, "salted": False}, "integer": {"min": False,
         "max": False}, "decimal": {"units": None, "unitVocab": None, "unitIn": None, "min": False,
         "max": False}, "date": {"future": False}}
SHAPELESS = {"text", "entry", "hash", "digest", "file", "geometry", "taxon", "doi",
             "fraction", "origin", "jwk", "vkey", "jws", "statement"}
NEEDS_EXAMPLE = {"text", "date", "decimal", "integer", "ref", "entry", "taxon", "doi", "fraction",
                 "list", "rows", "file", "geometry"}
NAME = r"[a-z][A-Za-z0-9]*"


class Checker(Book):
    """All kinds, each checked by itself and against the others."""

    # ---- one field -------------------------------------------------------------------------------

    def check_shape(self, where, field, beside):
        """The members that its type needs or allows. `beside`: names that unitIn may name."""
        kind = field.get("type")
        types = [kind] + ([field["or"]] if "or" in field else [])
        for t in types:
            if t not in SHAPE and t not in SHAPELESS:
                fault(where, f"unknown type {t}")
                return
        allowed = {m: need for t in types for m, need in SHAPE.get(t, {}).items()}
        for m in {m for shape in SHAPE.values() for m in shape}:
            if m in field and m not in allowed:
                fault(where, f"{m} does not go with type {kind}")
            if m not in field and allowed.get(m):
                fault(where, f"type {kind} needs {m}")
        if "choice" in types and not ({"choices", "vocab"} & set(field)):
            fault(where, "a choice needs choices or vocab")
        if "decimal" in types and len({"units", "unitVocab", "unitIn"} & set(field)) != 1:
            fault(where, "a decimal needs one of units, unitVocab, unitIn")
        self.check_words(where, field, beside)
        if "of" in field and isinstance(field["of"], dict):
            keys(f"{where}: of", field["of"], ["type", "ref", "choices", "vocab", "or"])
            self.check_shape(f"{where}: of", field["of"], beside)
        for column in field.get("columns") or []:
            self.check_column(where, field, column)

    def check_words(self, where, field, beside):
        for name in ("choices", "ref", "units"):
            if name in field and not is_words(field[name]):
                fault(where, f"{name} is no list of words")
        for name in ("vocab", "unitVocab"):
            if name in field:
                if field[name] not in self.vocabs:
                    fault(where, f"no vocabulary {field[name]}")
                else:
                    self.vocabs[field[name]]["used"] = True
        for word in sorted(self.words(field)):
            if re.search(r" \| |;", str(word)):
                fault(where, f"{word!r} holds what parts words when they are typed")
        if len(set(field.get("choices") or [])) != len(field.get("choices") or []):
            fault(where, "a choice stands twice")
        for word in set(field.get("choices") or []) & self.words({"vocab": field.get("vocab")}):
            fault(where, f"{word} stands in choices and in {field['vocab']}")
        for prefix in field.get("ref") or []:
            if prefix not in SUBJECTS:
                fault(where, f"no subject {prefix}/ID")
        for unit in field.get("units") or []:
            if "unit" in self.vocabs and unit not in self.vocabs["unit"]["ids"]:
                fault(where, f"no unit {unit} in vocab/unit.json")
        if "unitIn" in field and field["unitIn"] not in beside:
            fault(where, f"unitIn names {field['unitIn']}, which is not beside it")
        for name in ("min", "max"):
            if name in field and not re.fullmatch(NUMBER, str(field[name])):
                fault(where, f"{name} is no decimal number in a text")

    def check_column(self, where, field, column):
        if not isinstance(column, dict) or not re.fullmatch(NAME, str(column.get("name"))):
            fault(where, f"a column without a proper name: {json.dumps(column)[:50]}")
            return
        here = f"{where}: column {column['name']}"
        keys(here, column, COLUMN_KEYS)
        names = [c.get("name") for c in field["columns"] if isinstance(c, dict)]
        if names.count(column["name"]) > 1:
            fault(here, "stands twice")
        plain_line(f"{here}: title", member(here, column, "title", str), 45)
        if column.get("required") not in ("yes", "no"):
            fault(here, "required is neither yes nor no")
        if column.get("type") in ("list", "rows", "geometry"):
            fault(here, f"type {column['type']} cannot stand in a row")
        self.check_shape(here, column, names)

    def open_fault(self, field, exception=""):
        """Why a field may not be in clear; None if it may."""
        types = [field.get("type")] + ([field["or"]] if "or" in field else [])
        for t in types:
            if t not in OPEN_TYPES and exception not in ("open text", "open party"):
                return f"type {t} can place a find or name a person"
        vocab = field.get("vocab")
        if vocab in self.vocabs and not self.vocabs[vocab]["open"]:
            return f"vocabulary {vocab} is not marked open"
        inner = ([field["of"]] if isinstance(field.get("of"), dict) else []) \
            + [c for c in field.get("columns") or [] if isinstance(c, dict)]
        return next((f for f in (self.open_fault(i) for i in inner) if f), None)

    def check_class(self, where, kind, field):
        if field.get("class") not in CLASSES:
            fault(where, f"unknown class {field.get('class')}")
        exception = OPEN_EXCEPTIONS.get((kind, field["name"]))
        if field.get("exception") != exception:
            fault(where, f"exception is {field.get('exception')}, not {exception}")
        if field.get("class") == "open":
            found = self.open_fault(field, exception or "")
            if found:
                fault(where, f"open: {found}")
        if field.get("class") == "own" and kind != "certificate":
            fault(where, "class own is for certificates alone")

    def check_required(self, where, field, fields):
        need, answers = field.get("required"), field.get("answers", [])
        if need not in REQUIRED:
            fault(where, f"unknown required {need}")
        if ("when" in field) != (need == "when") or ("if" in field and need != "when"):
            fault(where, "`when` and `if` go with required when, and it needs a `when`")
        if answers and (not is_words(answers) or set(answers) - set(ANSWERS)):
            fault(where, f"answers are not among {', '.join(ANSWERS)}")
            answers = []
        for word in set(answers) & self.words(field):
            fault(where, f"{word} is a choice already")
        if need == "answer" and not answers and not set(ANSWERS) & self.words(field):
            fault(where, "must be answered, but has no answer that says nothing is there")
        if "if" in field:
            self.check_if(where, field["if"], fields)

    def check_if(self, where, test, fields):
        if not isinstance(test, dict) or set(test) - {"field", "column", "in"}:
            fault(where, "if is not {field, column, in}")
            return
        if "in" in test and not is_words(test["in"]):
            fault(where, "if: `in` is no list of words")
        other = fields.get(test.get("field"))
        if other is None:
            fault(where, f"if names {test.get('field')}, which is no field of it")
            return
        if "column" in test:
            found = [c for c in other.get("columns") or [] if c["name"] == test["column"]]
            if not found or "in" not in test:
                fault(where, f"if: no column {test['column']} in {test['field']}, or no `in`")
                return
            other = found[0]
        words = self.words(other) | (self.words(other["of"]) if "of" in other else set())
        for word in test.get("in", []):
            if word not in words:
                fault(where, f"if: {word!r} is no word of {test['field']}")

    def check_sources(self, where, kind, field, fields):
        for source in field.get("from", []):
            head, dot, name = str(source).partition(".")
            if not dot:
                if source not in SOURCES:
                    fault(where, f"from: unknown source {source}")
                elif SOURCES[source] and field.get("type") not in SOURCES[source]:
                    fault(where, f"from: {source} does not fill a {field.get('type')}")
                continue
            if head in ("last", "setting"):
                other = fields.get(name)
            else:
                named = any(f.get("ref") == [head] for f in fields.values())
                other = self.fields(head).get(name) if head in self.kinds and named else None
            if other is None:
                fault(where, f"from: {source} leads to no field")
            elif other.get("type") != field.get("type") or self.words(other) != self.words(field):
                fault(where, f"from: {source} is of another type")

    def check_field(self, kind, field, fields):
        where = f"kinds/{kind}.json: {field['name']}"
        keys(where, field, FIELD_KEYS)
        if not re.fullmatch(NAME, field["name"]) or field["name"] in TAKEN:
            fault(where, "cannot be the name of a field")
        plain_line(f"{where}: title", member(where, field, "title", str), 45)
        text = member(where, field, "help", str)
        plain_line(f"{where}: help", text, 170)
        if text and not text.endswith((".", "?")):
            fault(where, "help does not end as a sentence")
        for name, right in (("when", str), ("note", str), ("from", "words"), ("salted", bool),
                            ("future", bool), ("answers", "words")):
            member(where, field, name, right, needed=False)
        self.check_shape(where, field, fields)
        self.check_class(where, kind, field)
        self.check_required(where, field, fields)
        self.check_sources(where, kind, field, fields)
        for name in ("default", "example"):
            found = self.typed_fault(field, field[name]) if name in field else None
            if found:
                fault(where, f"{name}: {found}")
        if "example" not in field and field.get("from") != ["program"] \
                and field.get("type") in NEEDS_EXAMPLE:
            fault(where, f"type {field['type']} needs an example")
        if "term" in field and field["term"] not in self.terms:
            fault(where, f"{field['term']} stands in no list of terms")
        if "row" in field and field["row"] not in ROWS:
            fault(where, f"unknown row {field['row']}")
        self.check_words_for_others(where, field)

    def check_words_for_others(self, where, field):
        """`as`: our words in those of the term's standard, each of them; `tie`: what a piece is to
        the one that the field names, where the kind has no field that says it."""
        words = member(where, field, "as", dict, needed=False)
        if words is not None:
            if "term" not in field:
                fault(where, "as: without a term there is nothing to say it for")
            for word in set(words) - self.words(field) - set(field.get("answers") or []):
                fault(where, f"as: {word} is none of its words")
        if member(where, field, "tie", str, needed=False) and field.get("row") != "Rel" \
                and field.get("term") != "dwc:relatedResourceID":
            fault(where, "tie: the field names no other piece")

    # ---- one kind --------------------------------------------------------------------------------

    def check_kind(self, kind):
        value, where = self.kinds[kind], f"kinds/{kind}.json"
        keys(where, value, KIND_KEYS)
        plain_line(f"{where}: title", member(where, value, "title", str), 45)
        plain_line(f"{where}: help", member(where, value, "help", str), 200)
        member(where, value, "changes", bool)
        member(where, value, "common", bool)
        for name, right in (("carries", str), ("decides", "words"), ("notFor", "words")):
            member(where, value, name, right, needed=False)
        for prefix in member(where, value, "subject", "words") or []:
            if prefix not in SUBJECTS:
                fault(where, f"no subject {prefix}")
        fields = self.fields(kind)
        names = [f["name"] for f in value["fields"]] + (
            [f["name"] for f in self.base["fields"]] if value.get("common") is True else [])
        for name in sorted({n for n in names if names.count(n) > 1}):
            fault(where, f"field {name} stands twice (fields of every kind counted)")
        for field in value["fields"]:
            self.check_field(kind, field, fields)
        self.check_ask(where, value, fields)
        self.check_decides(where, kind, value, fields)
        if "writer" in value and value["writer"] not in WRITERS:
            fault(where, f"unknown writer {value['writer']}")
        if "writer" in value and value.get("common") is not False:
            fault(where, "is written by a command of its own: it has no fields of every kind")
        if isinstance(value.get("example"), str):
            plain_line(f"{where}: example", value["example"], 2000)
            self.check_example(where, kind, value, fields)
        else:
            fault(where, "has no example")

    def check_ask(self, where, value, fields):
        ask = value.get("ask")
        if not isinstance(ask, list) or len(set(map(str, ask))) != len(ask):
            fault(where, "ask is no list of different names")
            return
        for name in ask:
            if name not in fields:
                fault(where, f"asks for {name}, which is no field of it")
        for field in value["fields"]:
            filled = field["name"] in ask or "default" in field or "from" in field
            if field.get("required") in ("yes", "answer") and not filled and "writer" not in value:
                fault(where, f"{field['name']} is required, not asked, and filled from nowhere")

    def check_decides(self, where, kind, value, fields):
        decides = value.get("decides", [])
        if (kind in DECIDING or value.get("changes") is True) and not decides:
            fault(where, "decides what a specimen is, but says not by which fields")
        for name in decides:
            if name not in fields:
                fault(where, f"decides by {name}, which is no field of it")
            elif fields[name].get("class") not in ("open", "sale"):
                fault(where, f"{name} decides what a specimen is and is {fields[name]['class']}: "
                             "sale at least")

    # ---- its example -----------------------------------------------------------------------------

    @staticmethod
    def typed(field, text):
        """The value that a word of a command line stands for."""
        kind = field.get("type")
        if kind not in ("list", "rows") or text in field.get("answers", []) \
                or text in field.get("choices", []):
            return text
        parts = [part.strip() for part in text.split(" | ")]
        if kind == "list":
            return parts
        cells = [[cell.partition(":") for cell in part.split(";")] for part in parts]
        return [{name.strip(): word.strip() for name, _, word in row} for row in cells]

    def holds(self, test, fields, given):
        """Whether an `if` holds for the values given, defaults included."""
        field = fields.get(test.get("field"), {})
        value = given.get(test.get("field"), field.get("default"))
        if value is None or value in field.get("answers", []):
            return False
        if "column" in test:
            value = [r.get(test["column"]) for r in value if isinstance(r, dict)]
        values = value if isinstance(value, list) else [value]
        return "in" not in test or any(v in test["in"] for v in values)

    def check_example(self, where, kind, value, fields):
        words = shlex.split(value["example"])
        if "writer" in value:
            if words[:2] != ["markerbed", value["writer"]]:
                fault(where, f"its example does not begin with markerbed {value['writer']}")
            return
        prefix = words[3].partition("/")[0] if len(words) > 3 else ""
        if words[:3] != ["markerbed", "record", kind] or prefix not in value.get("subject", []):
            fault(where, f"its example is no markerbed record {kind} SUBJECT")
            return
        if prefix != "ledger" and not re.fullmatch(ID, words[3].partition("/")[2]):
            fault(where, f"its example has no proper subject: {words[3]}")
        targets = [k for k in self.kinds if k not in value.get("notFor", [])]
        carried = {n: f for k in targets for n, f in self.fields(k).items()} \
            if "carries" in value else {}
        given = {}
        for word in words[4:]:
            name, equals, text = word.partition("=")
            field = fields.get(name, carried.get(name))
            if not equals or field is None:
                fault(where, f"its example names {name}, which is no field of it")
                continue
            given[name] = self.typed(field, text)
            found = self.typed_fault(field, given[name])
            if found:
                fault(where, f"its example: {name}: {found}")
        self.check_complete(where, fields, given)

    def check_complete(self, where, fields, given):
        """An example is accepted by an empty ledger that knows what it names."""
        linked = {p for n, f in fields.items() if n in given for p in f.get("ref") or []}
        for name, field in fields.items():
            need = field.get("required")
            if need == "no" or need == "when" and (
                    "if" not in field or not self.holds(field["if"], fields, given)):
                continue
            sure = [s for s in field.get("from", []) if s in ("today", "recorder", "program")
                    or s.partition(".")[0] in linked]
            if name not in given and "default" not in field and not sure:
                fault(where, f"its example lacks {name}, which is required")

    # ---- all of them -----------------------------------------------------------------------------

    def check_correction(self):
        """A correction carries fields of other kinds: its own names must be none of theirs, but for
        the batch, which nobody corrects."""
        value = self.kinds.get("correction")
        if value is None:
            fault("kinds", "no correction.json")
            return
        for kind in value.get("notFor", []):
            if str(kind) not in self.kinds:
                fault("kinds/correction.json", f"notFor names {kind}, which is no kind")
        own = {f["name"] for f in value["fields"]}
        for kind in self.kinds:
            if kind in value.get("notFor", []):
                continue
            for name in sorted(own & set(self.fields(kind)) - {"batch"}):
                fault(f"kinds/{kind}.json", f"{name} is a field of correction itself")

    def check_common(self):
        fields = {f["name"]: f for f in self.base["fields"]}
        if not fields:
            fault("kinds", "no common.json")
        for field in self.base["fields"]:
            self.check_field("common", field, fields)

    def check_all(self):
        for kind in ["common"] + sorted(self.kinds):
            try:
                self.check_common() if kind == "common" else self.check_kind(kind)
            except (AttributeError, KeyError, TypeError, ValueError) as e:
                fault(f"kinds/{kind}.json", f"is of another shape than told above: {e!r}")
        self.check_correction()
        keyed = {k for k in self.kinds if self.kinds[k].get("writer") not in ("found", "key")}
        grants = self.words({"vocab": "kind"})
        for word in sorted(grants ^ (keyed | {"enrol"})):
            fault("vocab/kind.json", f"{word} is a kind or a right, but not both here and there")
        for name, vocab in self.vocabs.items():
            if not vocab["used"]:
                fault(f"vocab/{name}.json", "is used by no field")


def main():
    schema = Path(sys.argv[1]) if len(sys.argv) > 1 else TOP / "schema"
    book = Checker(schema)
    if not book.kinds:
        fault(str(schema), "holds no kinds")
    else:
        book.check_all()
    for line in FAULTS:
        print(line)
    count = sum(len(k["fields"]) for k in book.kinds.values()) + len(book.base["fields"])
    print(f"{len(book.kinds)} kinds, {count} fields, {len(book.vocabs)} vocabularies looked at, "
          f"{len(FAULTS)} faults")
    return 1 if FAULTS else 0


if __name__ == "__main__":
    sys.exit(main())
