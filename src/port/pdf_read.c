#include "pdf_read.h"

#include <string.h>

#include "flate.h"
#include "text.h"

#define OBJECTS_MAX 1000000
#define SECTIONS_MAX 256
#define NODES_MAX 400000
#define ROOM_MAX (16 << 20)
#define WORK_MIN 100000000
#define NESTING_MAX 12

enum where { NOWHERE, IN_FILE, IN_STREAM, FREED };

struct place {
    uint64_t at;    /* offset in the file, or number of the object stream */
    uint32_t index; /* in the object stream */
    uint8_t where;
};

struct object_stream {
    struct object_stream *next;
    int64_t number;
    struct mb_str bytes;
    int64_t count, first;
};

struct mb_pdf_reader {
    mb_arena *arena;
    struct mb_str bytes; /* from %PDF on */
    struct mb_error *err;
    enum mb_rc rc;
    struct mb_pdf_limits limits;
    struct place *places;
    int64_t size, entries_left;
    int nesting;
    const struct mb_pdf_value *root;
    struct object_stream *streams;
};

enum mb_rc mb_pdf_reader_rc(const mb_pdf_reader *reader)
{
    return reader->rc;
}

static void refuse(mb_pdf_reader *r, const char *what)
{
    if (r->rc == MB_OK)
        r->rc = mb_fail(r->err, MB_REFUSED, "%s", what);
}

static void damaged(mb_pdf_reader *r)
{
    if (r->limits.work < 0 || r->limits.nodes < 0 || r->limits.room < 0 || r->entries_left < 0)
        refuse(r, "the PDF is built so that reading it takes more work or memory than any honest "
                  "one; ask for the file that was attached to it instead");
    refuse(r, "the PDF is damaged or was cut short; copy it again, or ask for the file that was "
              "attached to it instead");
}

static struct mb_pdf_cursor cursor(mb_pdf_reader *r, struct mb_str bytes, uint64_t pos)
{
    struct mb_pdf_cursor at = { .arena = r->arena, .limits = &r->limits, .bytes = bytes };

    at.failed = pos > bytes.len;
    at.pos = at.failed ? bytes.len : (size_t)pos;
    return at;
}

/* ---- streams ---- */

static int paeth(int a, int b, int c)
{
    int p = a + b - c;
    int pa = p > a ? p - a : a - p, pb = p > b ? p - b : b - p, pc = p > c ? p - c : c - p;

    if (pa <= pb && pa <= pc)
        return a;
    return pb <= pc ? b : c;
}

static bool undo_row(const uint8_t *from, uint8_t *to, const uint8_t *above, size_t len, size_t bpp)
{
    uint8_t kind = *from++;

    for (size_t i = 0; i < len; i++) {
        int left = i >= bpp ? to[i - bpp] : 0, up = above ? above[i] : 0;
        int corner = i >= bpp && above ? above[i - bpp] : 0;
        int add = kind == 0   ? 0
                  : kind == 1 ? left
                  : kind == 2 ? up
                  : kind == 3 ? (left + up) / 2
                              : paeth(left, up, corner);

        to[i] = (uint8_t)(from[i] + add);
    }
    return kind <= 4;
}

/* PNG predictors, ISO 32000-2, 7.4.4.4; bytes as samples, which is what structure uses. */
static struct mb_str undo_predictor(mb_pdf_reader *r, mb_arena *arena, struct mb_str s,
                                    int64_t columns)
{
    size_t row = (size_t)columns, rows = s.len / (row + 1);
    uint8_t *out = mb_arena_get(arena, rows * row + 1);

    for (size_t i = 0; i < rows; i++)
        if (!undo_row((const uint8_t *)s.at + i * (row + 1), out + i * row,
                      i ? out + (i - 1) * row : NULL, row, 1))
            damaged(r);
    return (struct mb_str){ (const char *)out, rows * row };
}

static int64_t whole(const struct mb_pdf_value *v, int64_t otherwise)
{
    return v->type == MB_PDF_INTEGER ? v->number : otherwise;
}

/* An array of one counts as its one element, an empty one as null. */
static const struct mb_pdf_value *only(mb_pdf_reader *r, const struct mb_pdf_value *v)
{
    if (v->type != MB_PDF_ARRAY)
        return v;
    if (v->first && v->first->next)
        refuse(r, "a part of the PDF is packed more than once, which is not read here; ask for the "
                  "file that was attached to it instead");
    return v->first ? mb_pdf_resolve(r, v->first) : &mb_pdf_null;
}

/* How a stream is packed: plainly, by Flate, by Flate over a PNG predictor with rows of so many
 * bytes. False, and refused, for anything else. */
static bool how_packed(mb_pdf_reader *r, const struct mb_pdf_value *stream, bool *flate,
                       int64_t *row)
{
    const struct mb_pdf_value *filter = only(r, mb_pdf_get(r, stream, "Filter"));
    const struct mb_pdf_value *parms = only(r, mb_pdf_get(r, stream, "DecodeParms"));
    int64_t predictor = whole(mb_pdf_get(r, parms, "Predictor"), 1);
    int64_t columns = whole(mb_pdf_get(r, parms, "Columns"), 1);
    int64_t colours = whole(mb_pdf_get(r, parms, "Colors"), 1);
    int64_t bits = whole(mb_pdf_get(r, parms, "BitsPerComponent"), 8);

    *flate = mb_pdf_name_is(filter, "FlateDecode");
    *row = predictor > 1 ? columns : 0;
    if (!stream->stream || mb_pdf_entry(stream, "F")->type != MB_PDF_NULL)
        damaged(r);
    else if ((!*flate && filter->type != MB_PDF_NULL) || (predictor != 1 && predictor < 10) ||
             columns < 1 || columns > 65536 || colours != 1 || bits != 8)
        refuse(r, "a part of the PDF is packed in a way that is not read here; ask for the file "
                  "that was attached to it instead");
    return r->rc == MB_OK;
}

static struct mb_str unpack(mb_pdf_reader *r, mb_arena *arena, const struct mb_pdf_value *stream,
                            size_t max, struct mb_error *err)
{
    struct mb_str out = stream->text;
    bool flate;
    int64_t row;

    if (!how_packed(r, stream, &flate, &row))
        return (struct mb_str){ 0 };
    if (flate)
        r->rc = mb_flate_unpack(arena, stream->text, row ? 2 * max : max, &out, err);
    if (!r->rc && flate && row)
        out = undo_predictor(r, arena, out, row);
    if (!r->rc && out.len > max)
        r->rc = mb_fail(err, MB_REFUSED, "there are more than the %zu bytes allowed", max);
    return r->rc ? (struct mb_str){ 0 } : out;
}

struct mb_str mb_pdf_unpack(mb_pdf_reader *reader, mb_arena *arena,
                            const struct mb_pdf_value *stream, size_t max)
{
    return unpack(reader, arena, stream, max, reader->err);
}

/* Structure: the room it takes is counted. */
static struct mb_str unpack_kept(mb_pdf_reader *r, const struct mb_pdf_value *stream)
{
    struct mb_str s;

    if (r->rc)
        return (struct mb_str){ 0 };
    s = unpack(r, r->arena, stream, (size_t)r->limits.room, NULL);
    r->limits.room -= (int64_t)s.len;
    r->limits.work -= (int64_t)s.len;
    if (r->limits.room < 0)
        damaged(r);
    if (r->rc)
        mb_fail(r->err, r->rc,
                "a part of the PDF cannot be unpacked, or unpacks into far more than any honest "
                "one needs; ask for the file that was attached to it instead");
    return r->rc ? (struct mb_str){ 0 } : s;
}

/* ---- objects ---- */

/* The packed bytes behind a dictionary, their length as it says, "endstream" behind them. */
static void take_stream(mb_pdf_reader *r, struct mb_pdf_cursor *at, struct mb_pdf_value *dict)
{
    int64_t len = whole(mb_pdf_get(r, dict, "Length"), -1);
    size_t from;

    at->pos += strlen("stream");
    if (at->pos < at->bytes.len && at->bytes.at[at->pos] == '\r')
        at->pos++;
    if (at->pos < at->bytes.len && at->bytes.at[at->pos] == '\n')
        at->pos++;
    from = at->pos;
    if (len < 0 || (uint64_t)len > at->bytes.len - from) {
        damaged(r);
        return;
    }
    at->pos += (size_t)len;
    if (!mb_pdf_word(at, "endstream")) {
        damaged(r);
        return;
    }
    dict->stream = true;
    dict->text = (struct mb_str){ at->bytes.at + from, (size_t)len };
}

/* "12 0 obj ..." at an offset of the file; number -1 stands for any. */
static const struct mb_pdf_value *object_at(mb_pdf_reader *r, uint64_t offset, int64_t number)
{
    struct mb_pdf_cursor at = cursor(r, r->bytes, offset);
    int64_t found, generation;
    const struct mb_pdf_value *v;
    struct mb_pdf_value *copy;

    if (at.failed || !mb_pdf_number(&at, &found) || !mb_pdf_number(&at, &generation) ||
        !mb_pdf_word(&at, "obj") || (number >= 0 && found != number)) {
        damaged(r);
        return &mb_pdf_null;
    }
    v = mb_pdf_parse(&at);
    if (!at.failed && v->type == MB_PDF_DICT && mb_pdf_sees(&at, "stream")) {
        copy = MB_NEW(r->arena, struct mb_pdf_value);
        *copy = *v;
        take_stream(r, &at, copy);
        v = copy;
    }
    if (at.failed)
        damaged(r);
    return r->rc ? &mb_pdf_null : v;
}

static const struct object_stream *object_stream(mb_pdf_reader *r, int64_t number)
{
    const struct mb_pdf_value *v;
    struct object_stream *s;

    for (s = r->streams; s; s = s->next)
        if (s->number == number)
            return s;
    if (number <= 0 || number >= r->size || r->places[number].where != IN_FILE) {
        damaged(r);
        return NULL;
    }
    v = object_at(r, r->places[number].at, number);
    if (!mb_pdf_name_is(mb_pdf_get(r, v, "Type"), "ObjStm")) {
        damaged(r);
        return NULL;
    }
    s = MB_NEW(r->arena, struct object_stream);
    s->number = number;
    s->count = whole(mb_pdf_get(r, v, "N"), -1);
    s->first = whole(mb_pdf_get(r, v, "First"), -1);
    s->bytes = unpack_kept(r, v);
    if (s->count < 0 || s->first < 0 || (uint64_t)s->first > s->bytes.len) {
        damaged(r);
        return NULL;
    }
    s->next = r->streams;
    r->streams = s;
    return s;
}

static const struct mb_pdf_value *object_in(mb_pdf_reader *r, const struct place *place,
                                            int64_t number)
{
    const struct object_stream *s = object_stream(r, (int64_t)place->at);
    struct mb_pdf_cursor at;
    int64_t found = -1, offset = 0;
    const struct mb_pdf_value *v;

    if (!s)
        return &mb_pdf_null;
    at = cursor(r, s->bytes, 0);
    for (uint32_t i = 0; i <= place->index && !at.failed; i++)
        if (!mb_pdf_number(&at, &found) || !mb_pdf_number(&at, &offset))
            break;
    if (at.failed || found != number || (int64_t)place->index >= s->count) {
        damaged(r);
        return &mb_pdf_null;
    }
    at = cursor(r, s->bytes, (uint64_t)s->first + (uint64_t)offset);
    v = mb_pdf_parse(&at);
    if (at.failed)
        damaged(r);
    return r->rc ? &mb_pdf_null : v;
}

const struct mb_pdf_value *mb_pdf_resolve(mb_pdf_reader *reader, const struct mb_pdf_value *value)
{
    const struct mb_pdf_value *v = value;
    const struct place *place;

    for (int steps = 0; v->type == MB_PDF_REF && !reader->rc; steps++) {
        if (steps >= NESTING_MAX || reader->nesting >= NESTING_MAX) {
            damaged(reader);
            break;
        }
        if (v->number <= 0 || v->number >= reader->size)
            return &mb_pdf_null;
        place = &reader->places[v->number];
        if (place->where != IN_FILE && place->where != IN_STREAM)
            return &mb_pdf_null;
        reader->nesting++;
        v = place->where == IN_FILE ? object_at(reader, place->at, v->number)
                                    : object_in(reader, place, v->number);
        reader->nesting--;
    }
    return reader->rc ? &mb_pdf_null : v;
}

const struct mb_pdf_value *mb_pdf_get(mb_pdf_reader *reader, const struct mb_pdf_value *dict,
                                      const char *key)
{
    return mb_pdf_resolve(reader, mb_pdf_entry(dict, key));
}

/* ---- cross-reference sections, newest first ---- */

static void note_place(mb_pdf_reader *r, int64_t number, struct place place)
{
    if (r->entries_left-- <= 0) {
        damaged(r);
        return;
    }
    if (number >= 0 && number < r->size && r->places[number].where == NOWHERE)
        r->places[number] = place;
}

/* Trailer or dictionary of a cross-reference stream: size first, for the table hangs on it. */
static void read_trailer(mb_pdf_reader *r, const struct mb_pdf_value *t)
{
    int64_t size = whole(mb_pdf_entry(t, "Size"), -1);

    if (mb_pdf_entry(t, "Encrypt")->type != MB_PDF_NULL)
        refuse(r, "the PDF is protected by a password or against changes, so what is attached "
                  "to it cannot be read; save it without protection");
    if (!r->places) {
        if (size < 1 || size > OBJECTS_MAX) {
            damaged(r);
            return;
        }
        r->size = size;
        r->places = MB_ARRAY(r->arena, (size_t)size, struct place);
    }
    if (!r->root && mb_pdf_entry(t, "Root")->type == MB_PDF_REF)
        r->root = mb_pdf_entry(t, "Root");
}

static void read_table_rows(mb_pdf_reader *r, struct mb_pdf_cursor *at)
{
    int64_t start, count, offset, generation;

    while (!r->rc && !mb_pdf_sees(at, "trailer")) {
        if (!mb_pdf_number(at, &start) || !mb_pdf_number(at, &count))
            break;
        for (int64_t i = 0; i < count && !r->rc; i++) {
            bool used;

            if (!mb_pdf_number(at, &offset) || !mb_pdf_number(at, &generation))
                break;
            used = mb_pdf_sees(at, "n");
            if (!used && !mb_pdf_sees(at, "f")) {
                damaged(r);
                break;
            }
            at->pos++;
            note_place(r, start + i,
                       (struct place){ (uint64_t)offset, 0, used ? IN_FILE : FREED });
        }
        if (at->failed)
            break;
    }
}

/* The trailer stands behind the rows, but has the size that they need. */
static const struct mb_pdf_value *read_table(mb_pdf_reader *r, struct mb_pdf_cursor at)
{
    struct mb_pdf_cursor rows;
    const struct mb_pdf_value *t;

    mb_pdf_word(&at, "xref");
    rows = at;
    while (!at.failed && !r->rc && !mb_pdf_sees(&at, "trailer")) {
        int64_t ignored;

        if (mb_pdf_sees(&at, "n") || mb_pdf_sees(&at, "f"))
            at.pos++;
        else
            mb_pdf_number(&at, &ignored);
    }
    mb_pdf_word(&at, "trailer");
    t = mb_pdf_parse(&at);
    if (at.failed || t->type != MB_PDF_DICT) {
        damaged(r);
        return &mb_pdf_null;
    }
    read_trailer(r, t);
    read_table_rows(r, &rows);
    if (rows.failed)
        damaged(r);
    return t;
}

static uint64_t field(const uint8_t **at, int64_t width, uint64_t otherwise)
{
    uint64_t value = 0;

    if (width == 0)
        return otherwise;
    while (width-- > 0)
        value = value << 8 | *(*at)++;
    return value;
}

static bool widths(const struct mb_pdf_value *w, int64_t out[3])
{
    int i = 0;

    for (const struct mb_pdf_value *v = w->first; v && i < 3; v = v->next)
        out[i++] = whole(v, -1);
    return i == 3 && out[0] >= 0 && out[0] <= 8 && out[1] >= 1 && out[1] <= 8 && out[2] >= 0 &&
           out[2] <= 8;
}

static void read_stream_rows(mb_pdf_reader *r, struct mb_str rows, const int64_t w[3],
                             const struct mb_pdf_value *index)
{
    const uint8_t *at = (const uint8_t *)rows.at, *end = at + rows.len;
    const struct mb_pdf_value *v = index->first;
    int64_t start = 0, count = r->size, row = w[0] + w[1] + w[2];

    do {
        if (index->type == MB_PDF_ARRAY) {
            if (!v || !v->next)
                return;
            start = whole(v, 0);
            count = whole(v->next, 0);
            v = v->next->next;
        }
        for (int64_t i = 0; i < count && end - at >= row && !r->rc; i++) {
            uint64_t kind = field(&at, w[0], 1), a = field(&at, w[1], 0), b = field(&at, w[2], 0);
            enum where where = kind == 1 ? IN_FILE : kind == 2 ? IN_STREAM : FREED;

            note_place(r, start + i, (struct place){ a, (uint32_t)(b & UINT32_MAX), where });
        }
    } while (v && !r->rc);
}

static const struct mb_pdf_value *read_xref_stream(mb_pdf_reader *r, uint64_t offset)
{
    const struct mb_pdf_value *v = object_at(r, offset, -1);
    int64_t w[3];
    struct mb_str rows;

    if (!mb_pdf_name_is(mb_pdf_entry(v, "Type"), "XRef") || !widths(mb_pdf_entry(v, "W"), w)) {
        damaged(r);
        return &mb_pdf_null;
    }
    read_trailer(r, v);
    rows = unpack_kept(r, v);
    if (!r->rc)
        read_stream_rows(r, rows, w, mb_pdf_entry(v, "Index"));
    return v;
}

static void read_sections(mb_pdf_reader *r, uint64_t offset)
{
    uint64_t seen[SECTIONS_MAX];
    size_t count = 0;

    while (!r->rc) {
        struct mb_pdf_cursor at = cursor(r, r->bytes, offset);
        const struct mb_pdf_value *trailer, *also, *previous;

        for (size_t i = 0; i < count; i++)
            if (seen[i] == offset)
                damaged(r);
        if (count == SECTIONS_MAX)
            damaged(r);
        if (r->rc)
            return;
        seen[count++] = offset;
        trailer = !at.failed && mb_pdf_sees(&at, "xref") ? read_table(r, at)
                                                         : read_xref_stream(r, offset);
        also = mb_pdf_entry(trailer, "XRefStm");
        if (also->type == MB_PDF_INTEGER && !r->rc)
            read_xref_stream(r, (uint64_t)also->number);
        previous = mb_pdf_entry(trailer, "Prev");
        if (previous->type != MB_PDF_INTEGER)
            return;
        offset = (uint64_t)previous->number;
    }
}

/* The offset behind the last "startxref" of the file; -1 if there is none. */
static int64_t newest_section(mb_pdf_reader *r)
{
    static const char word[] = "startxref";
    size_t len = sizeof word - 1, from = r->bytes.len > 65536 ? r->bytes.len - 65536 : 0;
    struct mb_pdf_cursor at;
    int64_t offset;

    for (size_t pos = r->bytes.len; pos-- > from;)
        if (r->bytes.len - pos >= len && memcmp(r->bytes.at + pos, word, len) == 0) {
            at = cursor(r, r->bytes, pos + len);
            return mb_pdf_number(&at, &offset) ? offset : -1;
        }
    return -1;
}

enum mb_rc mb_pdf_open(mb_arena *arena, struct mb_str pdf, mb_pdf_reader **out,
                       struct mb_error *err)
{
    const char *head = NULL;
    mb_pdf_reader *r;
    int64_t offset;

    if (pdf.len > 0)
        head = memmem(pdf.at, pdf.len < 1024 ? pdf.len : 1024, "%PDF-", 5);
    if (!head)
        return mb_fail(err, MB_REFUSED, pdf.len == 0 ? "the PDF is an empty file; copy it again"
                                                     : "the file is not a PDF");
    r = MB_NEW(arena, mb_pdf_reader);
    r->arena = arena;
    r->err = err;
    r->bytes = (struct mb_str){ head, pdf.len - (size_t)(head - pdf.at) };
    r->limits = (struct mb_pdf_limits){ .work = WORK_MIN + 4 * (int64_t)pdf.len,
                                        .nodes = NODES_MAX, .room = ROOM_MAX };
    r->entries_left = 2 * OBJECTS_MAX;
    offset = newest_section(r);
    if (offset < 0)
        damaged(r);
    else
        read_sections(r, (uint64_t)offset);
    if (!r->rc && !r->root)
        damaged(r);
    *out = r;
    return r->rc;
}

const struct mb_pdf_value *mb_pdf_root(mb_pdf_reader *reader)
{
    return mb_pdf_resolve(reader, reader->root);
}
