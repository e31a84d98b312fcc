#include "tiff.h"

#include <string.h>

#include "buf.h"

enum { PICTURES_MAX = 64, TAGS_MAX = 64, VALUES_MAX = 1 << 20 };

/* Tags, TIFF 6.0 section 8 and later */
enum { NEW_SUBFILE = 254, WIDTH = 256, COMPRESSION = 259, STRIP_AT = 273, STRIP_BYTES = 279,
       TILE_AT = 324, TILE_BYTES = 325 };

/* What pixels and their colours need, turn and resolution included. */
static const uint16_t needed[] = {
    254, 256, 257, 258, 259, 262, 263, 264, 265, 266, 273, 274, 277, 278, 279, 280, 281, 282, 283,
    284, 290, 291, 292, 293, 296, 297, 301, 317, 318, 319, 320, 321, 322, 323, 324, 325, 332, 334,
    336, 338, 339, 340, 341, 529, 530, 531, 532, 34675,
};

struct tag {
    uint16_t id, type;
    uint32_t count;
    struct mb_str value; /* count * size bytes, in the file's own order of bytes */
};

struct tiff {
    struct mb_str s;
    bool little;
    mb_arena *arena;
    struct mb_buf out;
    size_t used; /* bytes of the file that the copy needs */
    bool other;
    struct mb_error *err;
};

static uint32_t number(const struct tiff *t, const char *at, size_t len)
{
    uint32_t n = 0;

    for (size_t i = 0; i < len; i++)
        n = n << 8 | (uint8_t)at[t->little ? len - 1 - i : i];
    return n;
}

static void put_number(struct tiff *t, uint32_t n, size_t len)
{
    for (size_t i = 0; i < len; i++)
        mb_buf_add_char(&t->out, (char)(n >> 8 * (t->little ? i : len - 1 - i)));
}

static void patch(struct tiff *t, size_t at, uint32_t n)
{
    for (size_t i = 0; i < 4; i++)
        t->out.at[at + i] = (char)(n >> 8 * (t->little ? i : 3 - i));
}

static size_t size_of(uint16_t type)
{
    static const uint8_t sizes[] = { 0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4 };

    return type < sizeof sizes ? sizes[type] : 0;
}

static enum mb_rc damaged(const struct tiff *t)
{
    return mb_fail(t->err, MB_REFUSED, "the picture is damaged or was cut short on its way; copy it"
                                       " again from where it came from");
}

static bool is_needed(uint16_t id)
{
    for (size_t i = 0; i < sizeof needed / sizeof *needed; i++)
        if (needed[i] == id)
            return true;
    return false;
}

/* ---- reading one directory ---- */

/* False where a value lies outside the file, or is of a type that TIFF does not have. */
static bool read_tag(const struct tiff *t, size_t at, struct tag *tag)
{
    const char *p = t->s.at + at;
    size_t size, bytes;

    tag->id = (uint16_t)number(t, p, 2);
    tag->type = (uint16_t)number(t, p + 2, 2);
    tag->count = number(t, p + 4, 4);
    size = size_of(tag->type);
    if (size == 0 || tag->count > t->s.len / size)
        return false;
    bytes = size * tag->count;
    if (bytes <= 4) {
        tag->value = (struct mb_str){ p + 8, bytes };
        return true;
    }
    at = number(t, p + 8, 4);
    if (at > t->s.len || bytes > t->s.len - at)
        return false;
    tag->value = (struct mb_str){ t->s.at + at, bytes };
    return true;
}

static const struct tag *find(const struct tag *tags, size_t count, uint16_t id)
{
    for (size_t i = 0; i < count; i++)
        if (tags[i].id == id)
            return &tags[i];
    return NULL;
}

static uint32_t value_of(const struct tiff *t, const struct tag *tag, uint32_t i)
{
    size_t size = size_of(tag->type);

    return size > 4 ? 0 : number(t, tag->value.at + i * size, size);
}

/* The needed tags in rising order; *next the following directory. */
static enum mb_rc read_directory(struct tiff *t, size_t at, struct tag *tags, size_t *count,
                                 uint32_t *next)
{
    size_t entries;

    if (at < 8 || at > t->s.len - 2)
        return damaged(t);
    entries = number(t, t->s.at + at, 2);
    if (entries * 12 + 6 > t->s.len - at)
        return damaged(t);
    *count = 0;
    for (size_t i = 0; i < entries; i++) {
        struct tag tag;
        uint16_t id = (uint16_t)number(t, t->s.at + at + 2 + 12 * i, 2);

        if (!is_needed(id) || find(tags, *count, id)) {
            t->other = true;
            continue;
        }
        if (!read_tag(t, at + 2 + 12 * i, &tag) || *count == TAGS_MAX)
            return damaged(t);
        t->used += tag.value.len > 4 ? tag.value.len : 0;
        tags[(*count)++] = tag;
    }
    *next = number(t, t->s.at + at + 2 + 12 * entries, 4);
    t->used += entries * 12 + 6;
    return MB_OK;
}

/* ---- writing it ---- */

static void even(struct tiff *t)
{
    if (t->out.len & 1)
        mb_buf_add_char(&t->out, 0);
}

/* Copies strips or tiles, and says where each came to lie. */
static enum mb_rc copy_pieces(struct tiff *t, const struct tag *at, const struct tag *bytes,
                              uint32_t **places)
{
    if (at->count != bytes->count || at->count == 0 || at->count > VALUES_MAX)
        return damaged(t);
    *places = MB_ARRAY(t->arena, at->count, uint32_t);
    for (uint32_t i = 0; i < at->count; i++) {
        uint32_t from = value_of(t, at, i), len = value_of(t, bytes, i);

        if (from > t->s.len || len > t->s.len - from)
            return damaged(t);
        even(t);
        (*places)[i] = (uint32_t)t->out.len;
        mb_buf_add(&t->out, t->s.at + from, len);
        t->used += len;
        if (!mb_buf_ok(&t->out)) /* pieces that lie over each other could swell it */
            return damaged(t);
    }
    return MB_OK;
}

static uint32_t put_value(struct tiff *t, const struct tag *tag, const uint32_t *places)
{
    uint32_t at;

    even(t);
    at = (uint32_t)t->out.len;
    if (places)
        for (uint32_t i = 0; i < tag->count; i++)
            put_number(t, places[i], 4);
    else
        mb_buf_add_str(&t->out, tag->value);
    return at;
}

static void put_entry(struct tiff *t, const struct tag *tag, const uint32_t *places, uint32_t at)
{
    size_t len = places ? 4 * (size_t)tag->count : tag->value.len;

    put_number(t, tag->id, 2);
    put_number(t, places ? 4 : tag->type, 2);
    put_number(t, tag->count, 4);
    if (len > 4) {
        put_number(t, at, 4);
    } else if (places) {
        put_number(t, places[0], 4);
    } else {
        mb_buf_add_str(&t->out, tag->value);
        for (size_t i = len; i < 4; i++)
            mb_buf_add_char(&t->out, 0);
    }
}

/* Appends one picture; *link is where the number of its directory goes, and then of the next. */
static enum mb_rc put_picture(struct tiff *t, const struct tag *tags, size_t count, size_t *link)
{
    bool tiles = find(tags, count, TILE_AT) != NULL;
    const struct tag *at = find(tags, count, tiles ? TILE_AT : STRIP_AT);
    const struct tag *bytes = find(tags, count, tiles ? TILE_BYTES : STRIP_BYTES);
    uint32_t *places = NULL, *values = MB_ARRAY(t->arena, count, uint32_t);
    enum mb_rc rc = at && bytes && find(tags, count, WIDTH) ? copy_pieces(t, at, bytes, &places)
                                                            : damaged(t);

    if (rc)
        return rc;
    for (size_t i = 0; i < count; i++)
        if (&tags[i] == at ? at->count > 1 : tags[i].value.len > 4)
            values[i] = put_value(t, &tags[i], &tags[i] == at ? places : NULL);
    even(t);
    patch(t, *link, (uint32_t)t->out.len);
    put_number(t, (uint32_t)count, 2);
    for (size_t i = 0; i < count; i++)
        put_entry(t, &tags[i], &tags[i] == at ? places : NULL, values[i]);
    *link = t->out.len;
    put_number(t, 0, 4);
    return mb_buf_ok(&t->out) ? MB_OK : damaged(t);
}

static bool is_smaller_copy(const struct tiff *t, const struct tag *tags, size_t count)
{
    const struct tag *subfile = find(tags, count, NEW_SUBFILE);

    return subfile && subfile->count && (value_of(t, subfile, 0) & 1);
}

/* 6 and 7 are JPEG inside TIFF. */
static bool has_jpeg(const struct tiff *t, const struct tag *tags, size_t count)
{
    const struct tag *how = find(tags, count, COMPRESSION);
    uint32_t code = how && how->count ? value_of(t, how, 0) : 1;

    return code == 6 || code == 7;
}

static enum mb_rc copy_all(struct tiff *t)
{
    uint32_t next = number(t, t->s.at + 4, 4);
    size_t link = 4, pictures = 0;
    enum mb_rc rc = MB_OK;

    for (int round = 0; !rc && next; round++) {
        struct tag tags[TAGS_MAX];
        size_t count = 0;

        if (round == PICTURES_MAX)
            return mb_fail(t->err, MB_REFUSED,
                           "the TIFF holds more than %d pictures; save them one by one",
                           PICTURES_MAX);
        rc = read_directory(t, next, tags, &count, &next);
        if (rc)
            return rc;
        if (is_smaller_copy(t, tags, count) && pictures > 0) {
            t->other = true;
            continue;
        }
        if (has_jpeg(t, tags, count))
            return mb_fail(t->err, MB_REFUSED,
                           "the TIFF holds its picture as JPEG, which cannot be cleaned here; save"
                           " it as an ordinary JPEG or TIFF");
        rc = put_picture(t, tags, count, &link);
        pictures++;
    }
    return rc || pictures ? rc : damaged(t);
}

enum mb_rc mb_tiff_clean(mb_arena *arena, struct mb_str bytes, struct mb_str *out, bool *other,
                         struct mb_error *err)
{
    struct tiff t = { .s = bytes, .arena = arena, .err = err, .used = 8 };
    enum mb_rc rc;

    if (bytes.len < 14 || (memcmp(bytes.at, "II", 2) != 0 && memcmp(bytes.at, "MM", 2) != 0))
        return damaged(&t);
    t.little = bytes.at[0] == 'I';
    if (number(&t, bytes.at + 2, 2) != 42)
        return mb_fail(err, MB_REFUSED,
                       "this kind of TIFF cannot be cleaned here; save it as an ordinary TIFF");
    mb_buf_init(&t.out, bytes.len + PICTURES_MAX * 1024);
    mb_buf_add(&t.out, bytes.at, 4);
    put_number(&t, 0, 4);
    rc = copy_all(&t);
    /* what no tag names may hold anything; a byte to make numbers even is none */
    *other = t.other || bytes.len > t.used + 2 * PICTURES_MAX;
    if (!rc)
        *out = *other ? mb_arena_str(arena, mb_buf_str(&t.out)) : bytes;
    mb_buf_done(&t.out);
    return rc;
}
