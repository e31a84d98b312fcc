#!/usr/bin/env python3
"""The house rules that a compiler cannot see. Prints one line a fault; exit 1 if there is any.

Each check below is a function named after its rule, with the reason beside it. A warning is printed
but fails nothing.
"""
import bisect
import json
import os
import re
import subprocess
import sys
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
FUNCTION_LINES_MAX = 70
FILE_LINES_WARN, FILE_LINES_MAX = 600, 700
COLUMNS_MAX = 100
TOP_LEVEL = {"src", "include", "tests", "schema", "docs", "Makefile", "README.md",
             "DEVELOPERS.md", "SECURITY.md", "LICENSE"}
ASSET_ENDINGS = (".json", ".sql", ".tsv", ".css", ".html", ".js", ".txt")

# Headers of the C library and POSIX. Any other <header> belongs to a library.
SYSTEM_HEADERS = set("""
assert complex ctype errno fenv float iconv inttypes iso646 limits locale math setjmp signal
stdalign stdarg stdatomic stdbool stddef stdint stdio stdlib stdnoreturn string strings tgmath
threads time uchar wchar wctype arpa/inet dirent dlfcn endian fcntl fnmatch ftw getopt glob grp
langinfo libgen malloc netdb netinet/in netinet/tcp nl_types poll pthread pwd regex sched semaphore
spawn sys/epoll sys/eventfd sys/file sys/ioctl sys/mman sys/random sys/resource sys/select
sys/signalfd sys/socket sys/stat sys/statvfs sys/sysinfo sys/time sys/times sys/types sys/uio
sys/un sys/utsname sys/wait sys/xattr syslog termios unistd wordexp linux/fs
""".split())

# Library: what its headers begin with, and how many files of src/port may include them. A file of
# src/port knows one library; where a library needs a second file, the reason stands here.
LIBRARIES = {
    "libsodium": (r"sodium", 2),  # random.c stands alone so that a test can bring its own
    "libcrypto": (r"openssl/", 2),  # digest.c: other hashes than the ledger's own, for bags
    "sqlite3": (r"sqlite3", 1),
    "zlib": (r"zlib", 1),
    "libjpeg": (r"jpeglib|jerror|jconfig", 1),
    "cairo and pango": (r"cairo|pango/|fontconfig/|glib", 4),  # canvas*.c, canvas_priv.h
    "libqrencode": (r"qrencode", 1),
    "libqpdf": (r"qpdf/", 1),
    "libarchive": (r"archive", 1),
    "geos": (r"geos_c", 1),
    "proj": (r"proj\.h|geodesic", 1),
    "utf8proc": (r"utf8proc", 1),
    "libmicrohttpd": (r"microhttpd", 1),
}

# Calls that only some files of src/ make: (pattern, what it is, where it may stand, what instead).
CALLS = [
    (r"(?:malloc|calloc|realloc|reallocarray|free|strdup|strndup|asprintf|vasprintf)\s*\(",
     r"base/(arena|buf)\.c|port/.*\.c", "memory comes from the arena that the caller passed in"),
    (r"(?:printf|vprintf|puts|putchar|perror)\s*\(|\b(?:stdout|stderr)",
     r"cli/.*", "the library never prints: it returns text or a struct mb_error"),
    (r"(?:exit|_exit|_Exit|quick_exit|err|errx|warn|warnx)\s*\(",
     r"cli/.*", "the library never exits: it returns an enum mb_rc"),
    (r"(?:system|popen|execl|execv|execlp|execvp)\s*\(", r"", "nothing of ours starts a program"),
    (r"(?:time|gettimeofday|timespec_get|ftime)\s*\(|\bCLOCK_REALTIME",
     r"base/clock\.c",
     "the one clock is mb_now (a wait is measured with CLOCK_MONOTONIC)"),
    (r"(?:getenv|secure_getenv)\s*\(",
     r"base/clock\.c|cli/.*", "the library does not look at the environment"),
    (r"setlocale\s*\(", r"cli/.*", "the library does not change the locale"),
]

FAULTS, WARNINGS = [], []


def fault(path, line, text):
    FAULTS.append((str(path), line, text))


def warn(text):
    WARNINGS.append(text)


class Source:
    """A file with its text, and for C a twin whose comments and literals are blanked out."""

    C_NOISE = re.compile(
        r"/\*.*?\*/|//[^\n]*|\"(?:\\.|[^\"\\\n])*\"|'(?:\\.|[^'\\\n])*'", re.S)

    def __init__(self, path, text):
        self.path, self.text = path, text
        self.lines = text.split("\n")
        self.name = Path(path).name
        self.is_c = path.endswith((".c", ".h"))
        self._starts = None
        if self.is_c:
            self.bare = self.C_NOISE.sub(self._blank, text)
            self.code = re.sub(r"^[ \t]*#(?:[^\n]*\\\n)*[^\n]*", self._blank, self.bare, flags=re.M)

    @staticmethod
    def _blank(match):
        found = match.group()
        if found[0] in "\"'":
            return found[0] + " " * (len(found) - 2) + found[-1]
        return re.sub(r"[^\n]", " ", found)

    def line_of(self, offset):
        if self._starts is None:
            self._starts = [0] + [m.end() for m in re.finditer("\n", self.text)]
        return bisect.bisect_right(self._starts, offset)


def all_files():
    """What git would commit, or where there is no git, everything but build/."""
    try:
        out = subprocess.run(["git", "ls-files", "-co", "--exclude-standard", "-z"], cwd=TOP,
                             capture_output=True, check=True).stdout.decode()
        paths = [p for p in out.split("\0") if p and (TOP / p).is_file()]
    except (OSError, subprocess.CalledProcessError):
        paths = []
        for folder, folders, names in os.walk(TOP):
            folders[:] = [f for f in folders if f not in (".git", "build", "__pycache__")]
            paths += [os.path.relpath(os.path.join(folder, n), TOP) for n in names]
    return sorted(set(paths))


def load(paths):
    sources = []
    for path in paths:
        data = (TOP / path).read_bytes()
        if b"\0" in data[:8000] or path.startswith("tests/fuzz/corpus/"):
            continue
        try:
            sources.append(Source(path, data.decode("utf-8")))
        except UnicodeDecodeError as e:
            if not path.startswith("tests/"):
                fault(path, 1, f"is not UTF-8 (byte {e.start})")
    return sources


# ---- the shape of files --------------------------------------------------------------------------

def check_top_level(paths):
    """The top of the tree is what a newcomer sees first."""
    for name in sorted({p.split("/")[0] for p in paths}):
        if name not in TOP_LEVEL and not name.startswith("."):
            fault(name, 0, "does not belong at the top level")


def check_lines(source):
    """Tabs, blanks at line ends, long lines, a missing last line end."""
    ending = Path(source.path).suffix
    wide = ending in (".c", ".h", ".py", ".sh") or source.name == "Makefile" \
        or source.path.startswith(".ci/")
    if source.text and not source.text.endswith("\n") and ending not in (".json", ".txt"):
        fault(source.path, len(source.lines), "has no line end after its last line")
    for number, line in enumerate(source.lines, 1):
        if source.is_c and "\t" in line:
            fault(source.path, number, "tab: indent with 4 spaces")
        if wide and line != line.rstrip():
            fault(source.path, number, "blanks at the end of the line")
        if wide and len(line.expandtabs(8)) > COLUMNS_MAX and "http" not in line:
            fault(source.path, number, f"{len(line.expandtabs(8))} columns, {COLUMNS_MAX} at most")


def table_lines(source):
    """Lines inside initializers at file scope."""
    count, depth, table_from = 0, 0, None
    for m in re.finditer(r"[{}]|=\s*\{", source.code):
        if m.group() == "}":
            depth -= 1
            if depth == 0 and table_from is not None:
                count += source.line_of(m.start()) - table_from
                table_from = None
        else:
            if depth == 0 and len(m.group()) > 1:
                table_from = source.line_of(m.start())
            depth += 1
    return count


def check_file_length(source):
    """A file has one purpose; a long one usually has two. Tables of data may be long."""
    ours = source.is_c or source.path.endswith((".py", ".sh"))
    count = len(source.lines) - 1
    if not ours or count <= FILE_LINES_WARN:
        return
    if source.is_c and table_lines(source) > count / 2:
        return
    if count > FILE_LINES_MAX:
        fault(source.path, count, f"{count} lines, {FILE_LINES_MAX} at most")
    else:
        warn(f"{source.path} has {count} lines: look for a second purpose in it")


def functions(source):
    """(name, first line, last line) of each function body at file scope."""
    depth, begun, last = 0, 0, ""
    for m in re.finditer(r"[{};)]", source.code):
        c = m.group()
        if c == "{":
            if depth == 0:
                body = last == ")" and source.code[begun:m.start()].rstrip().endswith(")")
                opened = m.start()
            depth += 1
        elif c == "}":
            depth -= 1
            if depth == 0:
                if body:
                    head = source.code[begun:opened]
                    name = re.search(r"(\w+)\s*\(", head)
                    first = begun + len(head) - len(head.lstrip())
                    yield (name.group(1) if name else "?", source.line_of(first),
                           source.line_of(m.start()))
                begun = m.end()
        elif c == ";" and depth == 0:
            begun = m.end()
        last = c


def check_function_length(source):
    """A function that does not fit a screen is hard to check by eye."""
    if source.path.endswith(".py"):
        starts = [(i, len(l) - len(l.lstrip()), l) for i, l in enumerate(source.lines)
                  if re.match(r"\s*def ", l)]
        for start, indent, line in starts:
            end = start + 1
            while end < len(source.lines) and (
                    not source.lines[end].strip()
                    or len(source.lines[end]) - len(source.lines[end].lstrip()) > indent):
                end += 1
            while not source.lines[end - 1].strip():
                end -= 1
            if end - start > FUNCTION_LINES_MAX:
                fault(source.path, start + 1, f"{line.split('(')[0].split()[-1]} has {end - start} "
                                              f"lines, {FUNCTION_LINES_MAX} at most")
        return
    for name, first, last in functions(source):
        if last - first + 1 > FUNCTION_LINES_MAX:
            fault(source.path, first, f"{name} has {last - first + 1} lines, "
                                      f"{FUNCTION_LINES_MAX} at most")


def check_unique_names(paths):
    """Includes are bare names, so one name is one file; grep likes it too."""
    seen = {}
    for path in paths:
        if path.startswith(("src/", "include/", "tests/")) and path.endswith((".c", ".h")):
            name = Path(path).name
            if name in seen:
                fault(path, 0, f"has the name of {seen[name]}")
            seen[name] = path


# ---- includes ------------------------------------------------------------------------------------

INCLUDE = re.compile(r"^[ \t]*#[ \t]*include[ \t]*([<\"])([^>\"\n]+)[>\"]", re.M)


def includes(source):
    """(bracket, header, line) of each, but none that stands in a comment."""
    for m in INCLUDE.finditer(source.text):
        if source.bare[m.start(1) - 1:m.start(1)].strip() != "" \
                or "include" in source.bare[m.start():m.start(1)]:
            yield m.group(1), m.group(2), source.line_of(m.start(1))


def check_includes(source, names, homes):
    """Own header first; no ".."; a library's headers only in its own file of src/port."""
    found = list(includes(source))
    for bracket, header, line in found:
        if ".." in header:
            fault(source.path, line, "'..' in an include: name the file alone")
        if bracket == '"' and "/" in header:
            fault(source.path, line, "a folder in an include: name the file alone")
        if header.endswith("_priv.h") and not source.name.startswith(header[:-len("_priv.h")]):
            fault(source.path, line, f"{header} is for {header[:-len('_priv.h')]}*.c alone")
        if source.path.startswith(("src/", "include/")):
            check_foreign(source, bracket, header, line, homes)
    if source.path.startswith("src/") and source.path.endswith(".c"):
        own = source.name[:-2] + ".h"
        if own in names:
            wanted = ("<markerbed/" + own + ">" if names[own].startswith("include/")
                      else '"' + own + '"')
            first = "" if not found else (
                f"<{found[0][1]}>" if found[0][0] == "<" else f'"{found[0][1]}"')
            if first != wanted:
                fault(source.path, found[0][2] if found else 1, f"include {wanted} first")


def check_foreign(source, bracket, header, line, homes):
    if bracket != "<" or header.startswith("markerbed/") or header[:-2] in SYSTEM_HEADERS:
        return
    library = next((name for name, (begins, _) in LIBRARIES.items()
                    if re.match(begins, header)), None)
    if not re.fullmatch(r"src/port/(\w+\.c|\w+_priv\.h)", source.path):
        fault(source.path, line, f"<{header}> outside src/port: a library's types stay in its file")
    elif library is None:
        fault(source.path, line, f"<{header}> is of no library in docs/dependencies.md and tidy.py")
    else:
        homes.setdefault(library, {})[source.path] = line


def check_homes(homes):
    """One library a file, and one file a library."""
    by_file = {}
    for library, files in homes.items():
        allowed = LIBRARIES[library][1]
        if len(files) > allowed:
            fault(sorted(files)[-1], files[sorted(files)[-1]],
                  f"{library} is known to {', '.join(sorted(files))}: {allowed} at most")
        for path in files:
            by_file.setdefault(path, []).append(library)
    for path, libraries in by_file.items():
        if len(libraries) > 1:
            fault(path, 1, f"knows {' and '.join(sorted(libraries))}: one library a file")


# ---- calls and names -----------------------------------------------------------------------------

def banned_names():
    """The names that src/base/banned.h forbids, so that there is one list."""
    text = (TOP / "src/base/banned.h").read_text()
    names = re.findall(r"#pragma GCC poison ([^\n]+)", text)
    names += re.findall(r"__attribute__\(\(error\([^)]*\)\)\) \w+ (\w+)\(", text)
    return " ".join(names).split()


def check_calls(source, banned, calls):
    """Calls that are not safe, or that only one floor makes."""
    if source.name == "banned.h":
        return
    for m in banned.finditer(source.code):
        fault(source.path, source.line_of(m.start()),
              f"{m.group(1)} is not used here: see src/base/banned.h")
    if not source.path.startswith("src/"):
        return
    for pattern, where, instead in calls:
        if where and re.fullmatch(where, source.path[len("src/"):]):
            continue
        for m in pattern.finditer(source.code):
            fault(source.path, source.line_of(m.start()), f"{m.group().rstrip(' (')}: {instead}")


DECLARED_ALONE = re.compile(r"(?:struct|union|enum)\s+(\w+)\s*(?=[{;])")
ENUM_BODY = re.compile(r"\benum\b[^{};()]*\{([^}]*)\}")


def top_statements(code):
    """Declarations at file scope with what stands in braces left out: (offset, text)."""
    depth, begun, text = 0, 0, ""
    for m in re.finditer(r"[^{};]+|[{};]", code):
        piece = m.group()
        if piece == "{":
            depth += 1
        elif piece == "}":
            depth -= 1
            if depth == 0 and re.search(r"\)\s*$", text):
                yield begun, text  # an inline function
                text = ""
        elif depth == 0 and piece == ";":
            yield begun, text
            text = ""
        elif depth == 0:
            if not text.strip():
                begun = m.start() + len(piece) - len(piece.lstrip())
            text += piece


def declared_name(text):
    """The name that a declaration at file scope brings."""
    text = re.sub(r"__attribute__\s*\(\(.*?\)\)", " ", text, flags=re.S)
    text = re.sub(r"\bMB_PRINTF\s*\([^)]*\)", " ", text)
    if re.match(r"\s*(_Static_assert|static_assert)\b", text):
        return None
    text = text.split("=")[0]
    pointer = re.search(r"\(\s*\*\s*(?:const\s+)?(\w+)", text)
    call = re.search(r"(\w+)\s*\(", text)
    if pointer and (not call or call.start() >= pointer.start() - 1 or "typedef" in text):
        return pointer.group(1)
    if call:
        return call.group(1)
    words = re.findall(r"\w+", re.sub(r"\[[^\]]*\]", " ", text))
    if len(words) == 2 and words[0] in ("struct", "union", "enum"):
        return words[1]
    if words and words[0] in ("struct", "union", "enum") and len(words) < 2:
        return None
    return words[-1] if words else None


def check_public_names(source):
    """include/markerbed is used beside other libraries: every name says whose it is."""
    if not source.path.startswith("include/"):
        return
    found = [(m.start(1), m.group(1)) for m in
             re.finditer(r"^[ \t]*#[ \t]*define[ \t]+(\w+)", source.bare, re.M)]
    found += [(m.start(1), m.group(1)) for m in DECLARED_ALONE.finditer(source.code)]
    for m in ENUM_BODY.finditer(source.code):
        found += [(m.start(1) + n.start(1), n.group(1))
                  for n in re.finditer(r"(?:^|,)\s*(\w+)", m.group(1))]
    for offset, text in top_statements(source.code):
        name = declared_name(text)
        if name:
            found.append((offset, name))
    for offset, name in found:
        if not re.match(r"mb_|MB_|MARKERBED_", name):
            fault(source.path, source.line_of(offset), f"{name}: a public name begins with mb_")


# ---- words, links, schema ------------------------------------------------------------------------

def words(*parts):
    """A pattern put together, so that this file does not hold the word."""
    return "".join(parts)


FORBIDDEN = [
    (re.compile(words(r"\b(TO", r"DO|FIX", r"ME|XX", r"X|HA", r"CK)\b")),
     "a mark for later: do it, or say it in DEVELOPERS.md"),
    (re.compile(words(r"\btran", r"script|\bseed doc", r"ument"), re.I), "has no place here"),
    (re.compile(words(r"(^|[^\w.-])/(wo", r"rk|fa", r"rm|ro", r"ot)/|[.]lib", r"rary/")),
     "a path of one machine"),
    (re.compile(words(r"(^|[^\w.}-])/t", r"mp/\w")), "a fixed temporary path: use mktemp"),
    (re.compile(words(r"https?://[^\s]*(np", r"m|deb", r"ian|py", r"pi)"), re.I),
     "the address of a package registry"),
]
# What we print never says so of a find (SECURITY.md).
CLAIMS = re.compile(words(r"\b(authen", r"tic|guaran", r"teed|ille", r"gal(?:ly)?|leg", r"ally|leg",
                          r"al(?! advice))\b"), re.I)
STRING = re.compile(r'"(?:\\.|[^"\\\n])*"')


def check_words(source):
    for pattern, reason in FORBIDDEN:
        for m in pattern.finditer(source.text):
            fault(source.path, source.line_of(m.start()),
                  f"{m.group().strip()!r}: {reason}")
    if source.path.startswith("src/") and source.is_c:
        for m in STRING.finditer(source.text):
            claim = CLAIMS.search(m.group())
            if claim and source.bare[m.start()] == '"':
                fault(source.path, source.line_of(m.start()),
                      f"{claim.group()!r} is never printed: say what the record shows")


def anchor(title):
    """How a web host names a heading."""
    title = re.sub(r"[`*]|\[([^\]]*)\]\([^)]*\)", r"\1", title.strip()).lower()
    return re.sub(r"[^\w\- ]", "", title).replace(" ", "-")


def check_links(source, texts):
    """Each relative link of a document leads to something."""
    if not source.path.endswith(".md"):
        return
    prose = re.sub(r"^```.*?^```|`[^`\n]*`", lambda m: re.sub(r"[^\n]", " ", m.group()),
                   source.text, flags=re.S | re.M)
    for m in re.finditer(r"\]\(\s*<?([^)\s>]+)", prose):
        target, _, heading = m.group(1).partition("#")
        if re.match(r"\w+:", target):
            continue
        path = os.path.normpath(os.path.join(os.path.dirname(source.path), target)) \
            if target else source.path
        line = source.line_of(m.start())
        if path.startswith("..") or not (TOP / path).exists():
            fault(source.path, line, f"link to {m.group(1)}, which is not there")
        elif heading and path in texts and path.endswith(".md"):
            titles = re.findall(r"^#+ +(.*)$", texts[path], re.M)
            if heading not in {anchor(t) for t in titles}:
                fault(source.path, line, f"link to {m.group(1)}: no such heading")


def check_schema(path, text):
    """Everything under schema/ is built in, under a name that the build can carry."""
    if Path(path).suffix not in ASSET_ENDINGS:
        fault(path, 0, "is not built in: its name ends in none of " + " ".join(ASSET_ENDINGS))
    if re.search(r"[^A-Za-z0-9._/-]", path):
        fault(path, 0, "name it with letters, digits, '.', '_' and '-' alone")
    if path.endswith(".json"):
        try:
            json.loads(text)
        except ValueError as e:
            fault(path, getattr(e, "lineno", 1), f"is no JSON: {e}")


def check_unit_tests(paths):
    """Not a fault, but worth knowing: modules that no unit test is named after."""
    named = {Path(p).stem[len("test_"):] for p in paths if p.startswith("tests/unit/")}
    bare = []
    for path in paths:
        parts = Path(path).stem.split("_")
        stems = {"_".join(parts[:n]) for n in range(1, len(parts) + 1)}  # test_json: json_read.c
        if re.fullmatch(r"src/(?!cli/)\w+/\w+\.c", path) and not stems & named:
            bare.append(path[len("src/"):])
    if bare:
        more = f" and {len(bare) - 8} more" if len(bare) > 8 else ""
        warn("no unit test of their own: " + " ".join(bare[:8]) + more)


def main():
    paths = all_files()
    sources = load(paths)
    texts = {s.path: s.text for s in sources}
    names = {Path(p).name: p for p in paths if p.startswith(("src/", "include/"))}
    banned = re.compile(r"\b(" + "|".join(banned_names()) + r")\s*\(")
    calls = [(re.compile(r"(?<![\w.>])(?:" + p + ")"), where, instead)
             for p, where, instead in CALLS]
    homes = {}

    check_top_level(paths)
    check_unique_names(paths)
    for source in sources:
        check_lines(source)
        check_words(source)
        check_links(source, texts)
        check_file_length(source)
        if source.is_c:
            check_includes(source, names, homes)
            check_calls(source, banned, calls)
            check_public_names(source)
        if source.is_c or source.path.endswith(".py"):
            check_function_length(source)
        if source.path.startswith("schema/"):
            check_schema(source.path, source.text)
    check_homes(homes)
    check_unit_tests(paths)
    for path in (".ci/run", ".ci/need"):
        if not os.access(TOP / path, os.X_OK):
            fault(path, 0, "has no run bit")

    for path, line, text in sorted(set(FAULTS)):
        print(f"{path}:{line}: {text}" if line else f"{path}: {text}")
    for text in WARNINGS:
        print(f"warning: {text}")
    print(f"{len(sources)} files looked at, {len(set(FAULTS))} faults")
    return 1 if FAULTS else 0


if __name__ == "__main__":
    sys.exit(main())
