#!/usr/bin/python3
"""Tables in other columns than those of real_finds.py, and tables with faults.

- The samples of RFC 4180, section 2, one for each rule, through intake and back.
- A table as a German-speaking collector's spreadsheet saves it: byte order mark, CRLF, quotes,
  commas, line ends and letters of several scripts in its cells; its columns bear other names.
- Twenty planted faults: all are told in one pass, each with its line and column, nothing is
  recorded, and the good and the faulty rows come apart so that together they are the table.

What arrived is read from certificates without the program's help, and held against what Python's
csv module reads."""

import csv
import io
import json
import pathlib
import re
import sys

from _lab import Claims, Lab, shown_by_subject

# RFC 4180, section 2, its own samples; each gets the header line of rule 3.
SAMPLES = {
    1: 'aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n',
    2: 'aaa,bbb,ccc\r\nzzz,yyy,xxx',
    4: 'aaa,bbb,ccc\r\n',
    5: '"aaa","bbb","ccc"\r\nzzz,yyy,xxx\r\n',
    6: '"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx\r\n',
    7: '"aaa","b""bb","ccc"\r\n',
}
HEADER = "field_name,field_two,field_three\r\n"

ARRIVAL = {
    "receivedOn": "2024-03-01", "receivedFrom": "party/P001", "fromLabel": "us",
    "reason": "storage", "owner": "not known", "ownerShownBy": "not asked",
    "objectForm": "single", "objectQuantity": "1", "materialClass": "not examined",
    "labelLink": "list by number", "labelPhotos": "none", "countryOfDiscovery": "not known",
    "earlierWork": "not examined", "arrivedDamaged": "not examined",
    "hazardsSeen": "not examined", "leftThatCountryOn": "not known", "exportPaper": "not known",
}


def write(lab, name, data):
    path = pathlib.Path(lab.path(name))
    path.write_bytes(data if isinstance(data, bytes) else
                     data.encode() if isinstance(data, str) else json.dumps(data).encode())
    return path


def read_back(lab, ids, name):
    """What an institution's certificates show of these pieces."""
    out = lab.path(name)
    lab.do("sheet", *ids, "--to", "bearer", "--audience", "institution", "--out", out)
    return {piece: shown_by_subject(json.loads(
        (pathlib.Path(out) / f"{piece}.certificate.json").read_text()))[f"specimen/{piece}"]
        for piece in ids}


def as_kept(cell):
    """A line end inside a cell is one character; blanks at the ends of a cell say nothing."""
    return cell.replace("\r\n", "\n").strip()


def check_samples(claims, lab):
    for rule, sample in SAMPLES.items():
        table = HEADER + sample
        path = write(lab, f"rule{rule}.csv", table)
        chart = write(lab, f"rule{rule}.map", {"format": "markerbed-map/1", "entries": [
            {"kind": "arrival", "subject": f"specimen/R{rule}-{{field_name}}",
             "fields": ARRIVAL, "rest": "verbatimLabel"}]})
        rows = list(csv.DictReader(io.StringIO(table, newline="")))
        done = lab.run("intake", path, "--map", chart)
        claims(f"rule {rule}: the sample is taken", done.returncode == 0, done.stderr)
        shown = read_back(lab, [f"R{rule}-{row['field_name']}" for row in rows], f"out{rule}")
        for row in rows:
            claims(f"rule {rule}: {row['field_name']} arrived as Python reads it",
                   shown[f"R{rule}-{row['field_name']}"].get("verbatimLabel")
                   == "\n".join(f"{k}: {as_kept(v)}" for k, v in row.items()
                                if k != "field_name"), shown)


# ---- another table ----

SHEET = [
    ["Nr.", "Fundort", "Was", "Stück", "Gefunden am", "Größe (cm)", "Gewicht", "Notiz",
     "Wo liegt's?", "leer"],
    ["17", "Steinbruch am Bach", 'Ammonit "Perisphinctes"', "1", "2023-04-30", "12,5", "1.25 kg",
     "zwei Teile,\r\ngeklebt", "Regal 3, links", ""],
    ["18", "Steinbruch am Bach", "Belemnit; Spitze fehlt", "4", "2023-05", "", "", "", "Regal 3",
     ""],
    ["19a", "Küste bei Ø", "зуб акулы", "2", "2021/2022", "1,1", "12 g", "=SUM(A1:A2)", "", ""],
    ["20/b", "Küste bei Ø", "アンモナイト, klein", "1", "2022-08-01/2022-08-03", "", "0.30 kg",
     "Etikett: „Slg. Oma“", "Dose", ""],
    ["", "", "", "", "", "", "", "", "", ""],
    ["21", "Steinbruch am Bach", "-", "1", "2020", "", "", "+49 ist kein Datum", "Regal 1", ""],
]
SHEET_MAP = {"format": "markerbed-map/1", "entries": [
    {"kind": "site", "subject": "site/F-{Fundort|id}", "once": True, "when": {"column": "Fundort"},
     "fields": {"siteName": "{Fundort}", "countryCode": "DE", "stateProvince": "not given",
                "county": "not known", "decimalLatitude": "not known",
                "decimalLongitude": "not known", "coordinateUncertaintyInMeters": "not known",
                "placeHeldBackBy": "us"}},
    {"kind": "collecting", "subject": "specimen/K{Nr.|id}", "when": {"column": "Nr."},
     "fields": {"recordNumber": "{Nr.}", "site": "site/F-{Fundort|id}",
                "eventDate": "{Gefunden am}",
                "verbatimIdentification": "{Was}", "objectQuantity": "{Stück}",
                "objectForm": {"from": "{Stück}", "values": {"1": "single"}, "else": "lot"},
                "quantityHow": "counted", "materialClass": "not known", "horizon": "not known",
                "inPlace": "not known", "permission": "not known", "purpose": "personal",
                "tools": "not known", "recordedBy": "party/P001", "mass": "{Gewicht}",
                "massHow": {"from": "{Gewicht}", "values": {"": ""}, "else": "weighed"},
                "massWithMatrix": {"from": "{Gewicht}", "values": {"": ""}, "else": "not known"},
                "fieldTreatment": "not known", "container": "{Wo liegt's?}"},
     "rest": "fieldNotes"}]}


def save_sheet():
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\r\n").writerows(SHEET)
    return b"\xef\xbb\xbf" + text.getvalue().encode()


def check_sheet(claims, lab):
    path = write(lab, "sammlung.csv", save_sheet())
    chart = write(lab, "sammlung.map", SHEET_MAP)
    rows = [row for row in csv.DictReader(io.StringIO(save_sheet().decode("utf-8-sig"),
                                                      newline="")) if row["Nr."]]
    taken = lab.ask("intake", path, "--map", chart)
    claims("the other table is taken", taken.get("kinds") == {"site": 2, "collecting": len(rows)},
           taken)
    claims("and a second time adds nothing", lab.ask("intake", path, "--map", chart)
           ["entries"] == 0)
    listed = json.dumps(lab.ask("list", "specimens"), ensure_ascii=False)
    ids = sorted(set(re.findall(r'"(?:specimen/)?(K[A-Za-z0-9._-]+)"', listed)))
    claims("each piece has a number", len(ids) == len(rows), ids)
    shown = read_back(lab, ids, "sammlung")
    by_number = {fields["recordNumber"]: fields for fields in shown.values()}
    for row in rows:
        fields = by_number.get(row["Nr."], {})
        claims(f"{row['Nr.']}: what, when, how many",
               (fields.get("verbatimIdentification"), fields.get("eventDate"),
                fields.get("objectQuantity"))
               == (row["Was"], row["Gefunden am"], int(row["Stück"])), fields)
        rest = "\n".join(f"{k}: {as_kept(row[k])}" for k in ("Größe (cm)", "Notiz") if row[k])
        claims(f"{row['Nr.']}: the rest word for word", fields.get("fieldNotes", "") == rest,
               (fields.get("fieldNotes"), rest))


def check_mapped_fault(claims, lab):
    """Through a map a fault names the table's column, not only the field that it became."""
    text = save_sheet().replace(b"2023-05,", b"im Mai,").replace(b"17,Stein", b"27,Stein")
    path = write(lab, "sammlung2.csv", text)
    told = lab.ask("intake", path, "--map", lab.path("sammlung.map"))
    claims("the column of a fault is the table's",
           [fault.get("column") for fault in told["faults"]] == ["Gefunden am"], told["faults"])


# ---- faults ----

COLUMNS = ["kind", "subject", "recordNumber", "eventDate", "site", "horizon", "permission",
           "verbatimIdentification", "objectForm", "objectQuantity", "quantityHow",
           "materialClass", "inPlace", "purpose", "tools", "recordedBy", "mass", "massHow",
           "massWithMatrix", "decimalLatitude", "decimalLongitude", "geodeticDatum",
           "coordinateUncertaintyInMeters"]


def row(n, **cells):
    good = dict(zip(COLUMNS, ["collecting", f"specimen/P{n:03}", f"T-{n}", "2024-05-02",
                              "site/S001", "not known", "not known", "ammonite", "single", "1",
                              "counted", "invertebrate", "in place", "personal", "surface",
                              "party/P001", "", "", "", "", "", "", ""]))
    good.update(cells)
    return [good[c] for c in COLUMNS]


# What is wrong, and the column that the fault names. None: the row is told of as a whole, and the
# sentence says which value it is about.
PLANTED = [
    ("a day that there is not", {"eventDate": "2024-02-30"}, "eventDate"),
    ("a day in the future", {"eventDate": "2999-01-01"}, "eventDate"),
    ("a day as some write it", {"eventDate": "5/2/24"}, "eventDate"),
    ("a place that nobody recorded", {"site": "site/S01"}, "site"),
    ("a word beside the list", {"objectForm": "slad"}, "objectForm"),
    ("a number in words", {"objectQuantity": "twelve"}, "objectQuantity"),
    ("fewer than none", {"objectQuantity": "-3"}, "objectQuantity"),
    ("half a piece", {"objectQuantity": "1.5"}, "objectQuantity"),
    ("a unit that is none", {"mass": "3 stone", "massHow": "weighed", "massWithMatrix": "no"},
     "mass"),
    ("a decimal comma", {"mass": "3,5 kg", "massHow": "weighed", "massWithMatrix": "no"}, "mass"),
    ("nothing where something is needed: verbatimIdentification", {"verbatimIdentification": ""},
     None),
    ("a kind that is none: colecting", {"kind": "colecting"}, None),
    ("a number with a blank in it: P 12", {"subject": "specimen/P 12"}, None),
    ("a subject of another kind: site/S009", {"subject": "site/S009"}, None),
    ("the same number twice, and something else said: P001", {"subject": "specimen/P001"}, None),
    ("a person that nobody recorded", {"recordedBy": "party/P009"}, "recordedBy"),
    ("a latitude off the earth", {"decimalLatitude": "91", "decimalLongitude": "10",
                                  "geodeticDatum": "EPSG:4326",
                                  "coordinateUncertaintyInMeters": "10"}, "decimalLatitude"),
    ("an uncertainty of nothing", {"decimalLatitude": "41", "decimalLongitude": "10",
                                   "geodeticDatum": "EPSG:4326",
                                   "coordinateUncertaintyInMeters": "0"},
     "coordinateUncertaintyInMeters"),
    ("a cell too many", None, None),
    ("bytes that are no UTF-8", None, None),
]


def table_with_faults():
    """The bytes; {line: (what, column)}; how many rows; the lines of the rows without a fault."""
    out, planted, good = io.BytesIO(), {}, []
    line, number = 1, 0

    def put(cells, spoil=None):
        nonlocal line
        text = io.StringIO(newline="")
        csv.writer(text, lineterminator="\r\n").writerow(cells)
        data = text.getvalue().encode()
        out.write(spoil(data) if spoil else data)
        line += data.count(b"\n")

    put(COLUMNS)
    for what, cells, column in PLANTED:
        number += 1
        good.append(number)
        put(row(number, verbatimIdentification="a good one,\r\nin two lines"))
        number += 1
        planted[line] = (what, column)
        if cells is not None:
            put(row(number, **cells))
        elif what.startswith("a cell"):
            put(row(number) + ["more"])
        else:
            put(row(number), lambda data: data.replace(b"ammonite", b"ammonit\xe9"))
    return out.getvalue(), planted, number, good


def check_faults(claims, lab):
    data, planted, count, good = table_with_faults()
    path = write(lab, "faulty.csv", data)
    before = lab.entries()
    done = lab.run("intake", path, "--json")
    told = json.loads(done.stdout)
    claims("the table is refused", done.returncode == 2, done.returncode)
    claims("in one sentence", done.stderr.count("\n") == 1, done.stderr)
    claims("every row was read", told["rows"] == count, told["rows"])
    by_line = {}
    for fault in told["faults"]:
        by_line.setdefault(fault["line"], []).append(fault)
    for line, (what, column) in planted.items():
        faults = by_line.pop(line, [])
        if claims(f"line {line}: {what} is told", faults, sorted(by_line)):
            if column:
                claims(f"line {line}: {what}, in column {column}",
                       any(f.get("column") == column for f in faults), faults)
            elif ": " in what:
                claims(f"line {line}: {what}, in words",
                       any(what.split(": ")[1] in f["text"] for f in faults), faults)
            claims(f"line {line}: in a sentence", all(20 < len(f["text"]) < 400 for f in faults),
                   faults)
    claims("no other line is blamed", not by_line, by_line)
    claims("and nothing is recorded", lab.entries() == before)
    check_split(claims, lab, path, data, planted, count, good)


def records(data):
    """The raw records of a table, without its header: each as the bytes that csv takes for one."""
    text = data.decode("latin-1")
    lines, out, held = text.split("\r\n"), [], ""
    for piece in lines:
        held = held + "\r\n" + piece if held else piece
        if held.count('"') % 2 == 0:
            if held:
                out.append(held)
            held = ""
    return out[0], out[1:]


def check_split(claims, lab, path, data, planted, count, good):
    before = lab.entries()
    lab.run("intake", path, "--split")
    well, badly = (pathlib.Path(str(path) + end).read_bytes() for end in
                   (".good.csv", ".faulty.csv"))
    head, all_rows = records(data)
    good_head, good_rows = records(well)
    bad_head, bad_rows = records(badly)
    claims("both files have the header", good_head == bad_head == head, (good_head, bad_head))
    claims("together they are the table", sorted(good_rows + bad_rows) == sorted(all_rows),
           (len(good_rows), len(bad_rows), count))
    claims("the faulty ones are the planted ones", len(bad_rows) == len(planted), len(bad_rows))
    claims("nothing is recorded by parting them", lab.entries() == before)
    taken = lab.ask("intake", str(path) + ".good.csv")
    claims("the good rows are taken by themselves", taken["entries"] == len(good), taken)
    again = lab.run("intake", str(path) + ".faulty.csv")
    claims("the faulty ones are not", again.returncode == 2)
    claims("and no row of theirs", lab.entries() == before + len(good))


def main():
    claims = Claims()
    with Lab("tables.example") as lab:
        lab.record("party", "party/P001", partyType="person", name="Ottoline Harrow",
                   namedTo="anyone", neutralLabel="the lab's owner")
        lab.record("site", "site/S001", siteName="Sallow Draw", countryCode="US",
                   stateProvince="Kansas", county="Gove", decimalLatitude="not known",
                   decimalLongitude="not known", coordinateUncertaintyInMeters="not known",
                   placeHeldBackBy="us")
        check_samples(claims, lab)
        check_sheet(claims, lab)
        check_mapped_fault(claims, lab)
        check_faults(claims, lab)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
