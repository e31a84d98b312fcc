#!/usr/bin/python3
"""Each rule of the audit, asked of a case for each of its answers (tests/e2e/_land.py), and what no
rule may say. The numbers of the regulations stand there beside their citation."""
import csv
import json
import re
import sys

import _land
from _lab import TOP, Claims, Lab

FORBIDDEN = re.compile(
    r"\b(il)?legal(ly|ity)?\b|\b(un)?lawful(ly)?\b|\btrespass\w*|\btheft\b|\bcomplian\w*"
    r"|\bcleared?\b|\bclean\b|\bviolat\w*|\bauthentic\w*|\bguarantee\w*|\bgenuine\b|\bverified\b"
    r"|probability inside|you broke|failed to", re.I)


def said_of(text):
    return [m.group() for m in FORBIDDEN.finditer(text)]


def check_words(claims):
    for path in sorted((TOP / "schema/rules").glob("*.json")):
        data = json.loads(path.read_text())
        # a query may ask for a word that is on record; what it says is told by judge()
        text = json.dumps({k: v for k, v in data.items() if k != "query"})
        claims(f"{path.name} says no word that it must not", not FORBIDDEN.search(text),
               said_of(text))
        if not path.name[0].isdigit():
            continue
        claims(f"{path.name}: how to mend is told, and is never to change an entry",
               data["mend"] and not re.search(r"(change|edit|delete|remove) the entry",
                                              data["mend"], re.I), data["mend"])
        claims(f"{path.name}: what rests on a text says how much of it was read",
               ("citation" in data) <= (data.get("confidence") in ("read", "part", "heading",
                                                                   "memory")))
        claims(f"{path.name}: it says when it was written down",
               re.fullmatch(r"\d{4}-\d\d-\d\d", data["writtenDown"]))


JUDGED = []


def judge(claims, lab, rule, where, answer, reason):
    JUDGED.append((rule, where, answer, reason))
    kind, name = where.split("/")
    told = lab.ask("audit", f"--{kind}", name)
    if "rules" not in told:
        claims(f"rule {rule} of {where}", False, told)
        return
    counts = next(r for r in told["rules"] if r["id"] == rule)
    said = ("does not fit" if counts["doesNotFit"] else "cannot tell" if counts["cannotTell"]
            else "fits" if counts["fits"] else "does not apply")
    found = [f for f in told["findings"] if f["rule"] == rule]
    claims(f"rule {rule} of {where}: {answer}", said == answer, (counts, found))
    if reason:
        claims(f"rule {rule} of {where}: because {reason}",
               any(f["reason"] == reason for f in found), found)
    claims(f"rule {rule} of {where}: a finding is told where it does not fit",
           (said in ("does not fit", "cannot tell")) == bool(found), (said, found))
    claims(f"{where}: no forbidden word", not FORBIDDEN.search(
        json.dumps([told["findings"], told["opening"], told["cautions"], told["standing"]])),
           said_of(json.dumps(told["findings"])))


def check_papers(claims, lab):
    """A file that is there, changed, gone: by its hash."""
    paper = lab.folder / "lease.txt"
    paper.write_text("Lease of the cut, signed.\n")
    lab.record("document", "site/P", docType="lease", title="Lease", docDate="2023-12-01",
               issuedBy="party/OWNER", file=str(paper))
    seq = lab.entries() - 1
    lab.record("permission", "permission/LPAPER", permissionType="lease", grantor="party/OWNER",
               grantorCapacity="owner", holder="party/P001", signedOn="2023-12-01",
               validFrom="2024-01-01", validUntil="2024-12-31", sites="site/P", area="none",
               materials="any", methods="hand tools", supervisedAllowed="yes", saleAllowed="yes",
               titlePasses="on collecting", placeMayBePublished="yes", document=f"#{seq}")
    judge(claims, lab, "36", "permission/LPAPER", "fits", None)
    stored = next(p for p in (lab.folder / "ledger/files").glob("*/*")
                  if p.read_bytes() == paper.read_bytes())
    whole = stored.read_bytes()
    stored.chmod(0o600)
    stored.write_bytes(whole[:-1] + b"!")
    judge(claims, lab, "36", "permission/LPAPER", "does not fit", "changed")
    stored.unlink()
    judge(claims, lab, "36", "permission/LPAPER", "does not fit", "not here")
    stored.write_bytes(whole)


OWN = {"id": "own-1", "title": "A field book page is named", "severity": "note",
       "mend": "Write the page down.", "query":
       "SELECT sub AS subject, seq AS entries, 'cannot tell' AS answer FROM v_find"}
WRONG = {
    "writes": ("DELETE FROM v_find", "may only read"),
    "writes a table of its own": ("CREATE TABLE x AS SELECT 1", "may only read"),
    "attaches": ("ATTACH 'x.db' AS x", "may only read"),
    "reads the log itself": ("SELECT jws AS subject, 'fits' AS answer FROM log", "may only read"),
    "reads what is withheld": ("SELECT 1 AS subject, 'fits' AS answer FROM disclosures",
                               "may only read"),
    "reads the schema": ("SELECT name AS subject, 'fits' AS answer FROM sqlite_schema",
                         "may only read"),
    "asks a pragma": ("SELECT * FROM pragma_database_list", "prohibited"),
    "loads": ("SELECT load_extension('x') AS subject, 'fits' AS answer", "not authorized"),
    "is two": ("SELECT 1 AS subject, 'fits' AS answer; SELECT 2", "nothing behind it"),
    "loops for ever": ("WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n)"
                       " SELECT max(i) AS subject, 'fits' AS answer FROM n", "stopped"),
    "loops for ever in rows": ("WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n)"
                               " SELECT i AS subject, 'fits' AS answer FROM n", "stopped"),
    "makes a blob of a gigabyte": ("SELECT hex(zeroblob(400000000)) AS subject, 'fits' AS answer",
                                   "larger than it may"),
    "fills the memory": ("SELECT replace(hex(zeroblob(2000000)), '0', hex(zeroblob(2000000))) AS"
                         " subject, 'fits' AS answer", "larger than it may"),
    "asks for a tokenizer": ("SELECT fts3_tokenizer('simple') AS subject, 'fits' AS answer",
                             "not authorized"),
    "counts the log": ("SELECT count(*) AS subject, 'fits' AS answer FROM log", "may only read"),
    "counts what is withheld": ("SELECT count(*) AS subject, 'fits' AS answer FROM DISCLOSURES",
                                "may only read"),
    "answers otherwise": ("SELECT sub AS subject, 'perhaps' AS answer FROM v_find", "perhaps"),
    "has no subject": ("SELECT 'fits' AS answer", '"subject"'),
    "is no SQL": ("SELEC 1", "not understood"),
}


def check_own(claims, lab):
    folder = lab.folder / "own"
    folder.mkdir()
    rule = folder / "one.json"
    rule.write_text(json.dumps(OWN))
    told = lab.ask("audit", "--specimen", "C01F", "--rules", folder)
    own = [r for r in told["rules"] if r["own"]]
    claims("a rule of one's own is asked", len(own) == 1 and own[0]["cannotTell"] == 1, own)
    claims("and found", any(f["rule"] == "own-1" and f["subject"] == "specimen/C01F"
                            for f in told["findings"]), told["findings"])
    for sign in "=+-@\t":
        query = ("SELECT sub AS subject, 'cannot tell' AS answer,"
                 f" '{sign}SUM(A1)' AS sentence FROM v_find")
        rule.write_text(json.dumps({**OWN, "query": query}))
        rows = csv.DictReader(lab.run("audit", "--specimen", "C01F", "--csv", "--rules",
                                      folder).stdout.splitlines())
        cells = [row["sentence"] for row in rows if row["rule"] == "own-1"]
        claims(f"a spreadsheet does not take {sign!r} for a formula",
               cells == [f"'{sign}SUM(A1)"], cells)
    rule.write_text(json.dumps({**OWN, "query": "WITH f AS (SELECT sub FROM v_find) SELECT"
                                " 'specimen/C01F' AS subject, 'does not fit' AS answer,"
                                " count(*) || ' finds' AS reason FROM f"}))
    told = lab.ask("audit", "--specimen", "C01F", "--rules", folder)
    claims("it may count what it made itself", any(f["rule"] == "own-1"
           and f["reason"].endswith(" finds") for f in told["findings"]), told["findings"])
    # lists that would take for ever to compare are no lists
    rule.write_text(json.dumps({**OWN, "query": "SELECT 'specimen/C01F' AS subject, CASE WHEN"
                                " other_words(replace(hex(zeroblob(200000)), '0', 'a; '),"
                                " replace(hex(zeroblob(200000)), '0', 'b; ')) IS NULL THEN 'fits'"
                                " ELSE 'cannot tell' END AS answer"}))
    told = lab.ask("audit", "--specimen", "C01F", "--rules", folder)
    claims("and a list beyond all lists is none", [r["fits"] for r in told["rules"] if r["own"]]
           == [1], told["rules"][-1:])
    before = lab.entries()
    for what, (query, words) in WRONG.items():
        rule.write_text(json.dumps({**OWN, "query": query}))
        done = lab.run("audit", "--rules", folder)
        claims(f"a rule that {what} is refused in one sentence",
               done.returncode == 2 and done.stdout == "" and done.stderr.count("\n") == 1
               and words in done.stderr and "own-1" in done.stderr,
               (done.returncode, done.stderr))
    for what, text, words in (("is no JSON", "{", "one.json"),
                              ("has no severity", {**OWN, "severity": "grave"}, "severity"),
                              ("has no ID", {**OWN, "id": ""}, '"id"'),
                              ("has the ID of another", {**OWN, "id": "04"}, "rule 04"),
                              ("names an act that is none", {**OWN, "acts": ["lying"]}, "lying")):
        rule.write_text(text if isinstance(text, str) else json.dumps(text))
        done = lab.run("audit", "--rules", folder)
        claims(f"a rule that {what} is refused", done.returncode == 2 and words in done.stderr
               and done.stderr.count("\n") == 1, done.stderr)
    claims("and nothing has changed", lab.entries() == before
           and lab.run("verify", lab.ledger).returncode == 3)


def check_codes(claims, lab):
    for limit, code in (("bar", 0), ("conflict", 0), ("gap", 1), ("note", 1)):
        done = lab.run("audit", "--specimen", "C07S", "--fail-on", limit)
        claims(f"--fail-on {limit} ends with {code}", done.returncode == code,
               (done.returncode, done.stdout[:500]))
    done = lab.run("audit", "--specimen", "C19B")
    claims("a bar ends with 1", done.returncode == 1)
    text = " ".join(lab.run("audit", "--specimen", "C38F", "--from", "1990").stdout.split())
    claims("the report opens as it must", text.startswith("This is what one ledger records. It is"
           " not a finding of law or of fact by any authority."), text[:200])
    rows = list(csv.DictReader(lab.run("audit", "--csv").stdout.splitlines()))
    told = lab.ask("audit")
    claims("the spreadsheet has the findings", len(rows) == len(told["findings"])
           and rows[0]["sentence"] == told["findings"][0]["sentence"], len(rows))
    claims("no word that it must not say, anywhere", not FORBIDDEN.search(
        json.dumps({k: v for k, v in told.items() if k != "sites"})), said_of(json.dumps(told)))
    claims("worst first", [f["severity"] for f in told["findings"]] == sorted(
        (f["severity"] for f in told["findings"]),
        key=["bar", "conflict", "gap", "note"].index))
    text = lab.run("audit").stdout
    claims("nor on the terminal", not FORBIDDEN.search(text), said_of(text))
    done = lab.run("audit", "--as-of", "1990-01-01")
    claims("before anything was recorded there is nothing to find",
           done.returncode == 0 and "No findings among 0 finds; 0 could not be checked." in
           done.stdout, done.stdout[:300])


def check_sheets(claims, lab):
    """What a bar stops, and what it does not."""
    before = lab.entries()
    for name, what in (("C13F", "a casual find from public land"), ("C19C", "a part of such a lot"),
                       ("C19A", "a piece that came in from such land")):
        done = lab.run("sheet", name, "--to", "bearer", "--out", lab.path("sheets"))
        claims(f"no sheet for a sale of {what}", done.returncode == 2 and done.stdout == ""
               and done.stderr.count("\n") == 1 and "no sheet for a sale is made of " + name
               in done.stderr, (done.returncode, done.stderr))
    claims("nothing was recorded by it", lab.entries() == before)
    done = lab.run("sheet", "C13F", "--to", "AGENCY", "--audience", "auditor", "--out",
                   lab.path("sheets"))
    claims("for the land manager there is one", done.returncode == 0, done.stderr)
    done = lab.run("sheet", "C01F", "--to", "bearer", "--unmarked", "--out", lab.path("sheets"))
    claims("and of a find on private land", done.returncode == 0, done.stderr)
    story = lab.ask("show", "C13F")
    claims("its story tells the standing of each act", [
        (s["act"], s["standing"]) for s in story["standing"]][2] == ("selling", "in question"),
           story.get("standing"))


def correct(lab, subject, seq, **fields):
    lab.do("record", "correction", subject, f"target=#{seq}", "action=change fields",
           "why=new evidence", "changesFacts=yes", *(f"{k}={v}" for k, v in fields.items()))


def check_issued(claims, lab):
    """What was put on a sheet: a place finer than it is allowed by now, facts that changed."""
    def fresh(number, where):
        lab.record("collecting", f"specimen/{number}", eventDate="2024-06-10", site=where,
                   horizon="not known", inPlace="in place", recordedBy="party/P001",
                   permission="permission/LP", purpose="personal", tools="hand tools",
                   recordNumber="none", verbatimIdentification="a shell", objectForm="single",
                   objectQuantity=1, quantityHow="counted", materialClass="invertebrate",
                   mass="1 kg", massHow="weighed", massWithMatrix="yes")
        lab.do("sheet", number, "--to", "bearer", "--unmarked", "--out", lab.path(f"s{number}"))
        return lab.entries() - 1

    for number in ("C35A", "C35B"):
        lab.record("site", f"site/{number}", siteName="Ground", countryCode="US",
                   stateProvince="Kansas", county="Gove", decimalLatitude="not known",
                   decimalLongitude="not known", placeHeldBackBy="nobody",
                   placeFinestAllowed="county")
        fresh(number, f"site/{number}")
        judge(claims, lab, "35", f"specimen/{number}", "fits", None)
        judge(claims, lab, "39", f"specimen/{number}", "fits", None)
    # 16 USC 470aaa-8: the place of a find on federal land is told no finer than the state
    lab.record("land-status", "site/C35A", **{"from": "1990-01-01"}, landCategory="BLM",
               surfaceOwner="not known", landManager="party/AGENCY", fossilOwner="not known",
               mineralsSevered="no", landEvidence="agency map", evidenceDate="2023-01-01",
               casualCollecting="open")
    judge(claims, lab, "35", "specimen/C35A", "does not fit", "finer than allowed")
    lab.record("document", "site/C35A", docType="agency release", title="Release", file="none",
               docDate="2024-07-01", issuedBy="party/AGENCY")
    judge(claims, lab, "35", "specimen/C35A", "fits", None)
    site = next(e for e in lab.ask("show", "site/C35B")["entries"] if e["kind"] == "site")
    correct(lab, "site/C35B", site["seq"], placeFinestAllowed="state")
    judge(claims, lab, "35", "specimen/C35B", "does not fit", "finer than allowed")
    find = next(e for e in lab.ask("show", "C35B")["entries"] if e["kind"] == "collecting")
    correct(lab, "specimen/C35B", find["seq"], eventDate="2024-06-11")
    judge(claims, lab, "39", "specimen/C35B", "does not fit", "changed since")
    fresh("C39W", "site/P")
    sheet = next(e for e in lab.ask("show", "C39W")["entries"] if e["kind"] == "certificate")
    find = next(e for e in lab.ask("show", "C39W")["entries"] if e["kind"] == "collecting")
    correct(lab, "specimen/C39W", find["seq"], objectQuantity=2)
    lab.do("withdraw", sheet["leaf"], "--why", "error in facts")
    judge(claims, lab, "39", "specimen/C39W", "does not fit", "changed since, sheet withdrawn")
    told = lab.ask("audit", "--specimen", "C39W")
    claims("the sheet that was withdrawn leaves a note", [f["severity"] for f in told["findings"]
           if f["rule"] == "39"] == ["note"], told["findings"])


# answers that need a field erased: tests/e2e/audit_forgotten.py
FORGOTTEN = {"24", "25", "27", "35"}


def check_answers(claims):
    """Each rule says in its file which answers it can give; each of them was given above, and no
    other."""
    seen = {}
    for rule, _, answer, _ in _land.EXPECTED + JUDGED:
        seen.setdefault(rule, set()).add(answer)
    page = (TOP / "docs/rules.md").read_text()
    for path in sorted((TOP / "schema/rules").glob("[0-9]*.json")):
        data = json.loads(path.read_text())
        wanted = set(data["answers"]) - ({"cannot tell"} if data["id"] in FORGOTTEN else set())
        claims(f"rule {data['id']} gave each of its answers, and no other",
               seen.get(data["id"]) == wanted, (seen.get(data["id"]), wanted))
        lacks = {"fits", "does not fit", "cannot tell"} - set(data["answers"])
        row = next(r for r in page.splitlines() if r.startswith(f"| {data['id']} "))
        claims(f"docs/rules.md says what rule {data['id']} never answers",
               all(f"never \"{word}\"" in row for word in lacks)
               and row.count('never "') == len(lacks), row)


def check_page(claims):
    page = (TOP / "docs/rules.md").read_text()
    for path in sorted((TOP / "schema/rules").glob("[0-9]*.json")):
        data = json.loads(path.read_text())
        claims(f"docs/rules.md tells of rule {data['id']} as it is",
               f"| {data['id']} {data['name']} | {data['title']} | {data['severity']}" in page)


def check_rules(claims):
    with Lab("rules.example") as lab:
        lab.record("party", "party/P001", partyType="person", name="A B", namedTo="anyone",
                   neutralLabel="the lab")
        (lab.folder / "cases.json").write_text(json.dumps(_land.build()))
        lab.do("record", "--from", lab.path("cases.json"))
        for case in _land.EXPECTED:
            judge(claims, lab, *case)
        check_papers(claims, lab)
        check_own(claims, lab)
        check_codes(claims, lab)
        check_sheets(claims, lab)
        check_issued(claims, lab)
    check_answers(claims)


def main():
    claims = Claims()
    check_words(claims)
    check_page(claims)
    check_rules(claims)
    return claims.end()


if __name__ == "__main__":
    sys.exit(main())
