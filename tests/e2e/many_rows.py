#!/usr/bin/python3
"""list and query of very many rows: every one is printed, in a bounded memory (128 MiB, as the
kernel counts it for the process), as JSON that Python's json reads, and as a table; sorted ones
too. A query that fails half way says so in both forms. Reading does not hold up who records."""
import json
import os
import subprocess
import sys

from _lab import PROGRAM, Claims, Lab

claims = Claims()
MOST = 128 << 10  # KiB
ROWS = 1_000_000


def run(lab, name, *words):
    """Exit code, what was printed (into a file of this name), what was said, and the peak memory
    in KiB. All that is measured runs before this script has read anything large itself: a child
    begins with its parent's peak."""
    out = lab.folder / name
    with open(out, "wb") as to, open(lab.folder / "said", "wb") as said:
        child = subprocess.Popen([PROGRAM, "-L", lab.ledger, *words], stdout=to, stderr=said,
                                 stdin=subprocess.DEVNULL, env=lab.env, cwd=lab.folder)
        _, status, usage = os.wait4(child.pid, 0)
    return (os.waitstatus_to_exitcode(status), out, (lab.folder / "said").read_text(),
            usage.ru_maxrss)


def count_to(most, columns, more=""):
    return (f"WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM c WHERE x < {most})"
            f" SELECT {columns} FROM c {more}")


with Lab("rows.example") as desk:
    desk.record("party", "party/P001", partyType="person", name="Ottoline Harrow",
                namedTo="anyone")

    query = count_to(ROWS, "x, 'a row with number ' || x AS words")
    as_json = run(desk, "json", "query", query, "--json")
    as_table = run(desk, "table", "query", query)
    as_sorted = run(desk, "sorted", "query", count_to(
        400_000, "x, 'some words to make the row as long as that of a find, and a bit ' || x",
        "ORDER BY -x"), "--json")

    code, out, said, peak = as_json
    rows = json.loads(out.read_text())
    claims("a million rows as JSON", code == 0 and len(rows["rows"]) == ROWS, (code, said))
    claims("each is right", all(row == [i + 1, f"a row with number {i + 1}"]
                                for i, row in enumerate(rows["rows"])))
    claims("with its columns", rows["columns"] == ["x", "words"] and len(rows) == 2)
    claims("within 128 MiB", peak < MOST, peak)
    del rows

    code, out, said, peak = as_table
    text = out.read_text()
    claims("a million rows as a table", code == 0 and text.startswith("   x  words\n----"),
           text[:200])
    claims("which says how many they were", text.endswith("(1,000,000 rows)\n"), text[-200:])
    words = text.split()
    numbers = [int(w) for w in words[4:-2] if w.isdigit()]
    claims("no number is broken or lost where it is wider than the first thousand",
           sorted(numbers) == [n for i in range(1, ROWS + 1) for n in (i, i)], words[:20])
    claims("within 128 MiB, too", peak < MOST, peak)
    del text, words, numbers

    code, out, said, peak = as_sorted
    rows = json.loads(out.read_text())["rows"]
    claims("sorted rows come in their order", code == 0 and rows[0][0] == 400_000
           and rows[-1][0] == 1 and len(rows) == 400_000, said)
    claims("sorted within 128 MiB", peak < MOST, peak)
    del rows

    bad = count_to(2000, "abs(iif(x = 1500, -9223372036854775808, x))")
    code, out, said, peak = run(desk, "out", "query", bad, "--json")
    answer = json.loads(out.read_text())
    claims("one that fails half way: exit 3, and the JSON says where it stopped", code == 3
           and len(answer["rows"]) == 1499 and "overflow" in answer["stopped"], (code, said))
    code, out, said, peak = run(desk, "out", "query", bad)
    claims("in words too", code == 3 and "overflow" in said
           and len(out.read_text().splitlines()) == 1499 + 2, said)
    code, out, said, peak = run(desk, "out", "query", count_to(10, "x"), "--as-of", "#1", "--json")
    claims("as of an entry", code == 0 and len(json.loads(out.read_text())["rows"]) == 10, said)
    code, out, said, peak = run(desk, "out", "query", "SELECT name FROM v_party WHERE 0", "--json")
    claims("no row at all", json.loads(out.read_text()) == {"columns": ["name"], "rows": []})

    reader = subprocess.Popen([PROGRAM, "-L", desk.ledger, "query", count_to(5_000_000, "x")],
                              stdout=subprocess.PIPE, env=desk.env)
    reader.stdout.read(1000)  # and then nobody reads on
    done = desk.run("record", "note", "party/P001", "text=while somebody reads")
    claims("who reads slowly holds nobody up", done.returncode == 0, done.stderr)
    reader.stdout.close()
    claims("a reader that goes away ends it", reader.wait(20) != 0)

sys.exit(claims.end())
