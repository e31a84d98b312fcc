#include "picture.h"

#include <string.h>

#include "buf.h"
#include "text.h"

#define SCANS_MAX 100
#define SCAN_PIXELS_MAX 2000000000 /* scans * pixels: what a decoder may be made to do */

/* JPEG markers, ITU-T T.81 table B.1 */
enum { SOF0 = 0xC0, SOF2 = 0xC2, DHT = 0xC4, JPG = 0xC8, DAC = 0xCC, SOF15 = 0xCF, RST0 = 0xD0,
       RST7 = 0xD7, SOI = 0xD8, EOI = 0xD9, SOS = 0xDA, APP0 = 0xE0, APP1 = 0xE1, APP2 = 0xE2,
       APP14 = 0xEE, APP15 = 0xEF, COM = 0xFE };

struct segment {
    int marker;
    struct mb_str body;  /* without the two bytes of its length */
    struct mb_str whole; /* from the FF on; of a scan, its pixel data too */
};

struct walk {
    struct mb_str bytes;
    size_t pos;
};

static const uint8_t *byte_at(struct mb_str s, size_t pos)
{
    return (const uint8_t *)s.at + pos;
}

static unsigned be16(struct mb_str s, size_t pos)
{
    return (unsigned)byte_at(s, pos)[0] << 8 | byte_at(s, pos)[1];
}

static uint32_t be32(struct mb_str s, size_t pos)
{
    return (uint32_t)be16(s, pos) << 16 | be16(s, pos + 2);
}

static struct mb_str part(struct mb_str s, size_t from, size_t to)
{
    return (struct mb_str){ s.at + from, to - from };
}

/* ---- JPEG ---- */

/* Where the pixel data that begins at pos ends: at the next marker that is not part of it. */
static size_t scan_end(struct mb_str s, size_t pos)
{
    while (pos + 1 < s.len) {
        const uint8_t *ff = memchr(s.at + pos, 0xFF, s.len - 1 - pos);
        uint8_t next;

        if (!ff)
            return s.len;
        pos = (size_t)(ff - (const uint8_t *)s.at);
        next = *byte_at(s, pos + 1);
        if (next == 0xFF)
            pos++;
        else if (next == 0 || (next >= RST0 && next <= RST7))
            pos += 2;
        else
            return pos;
    }
    return s.len;
}

/* False at the end of the bytes, or where no marker stands. */
static bool next_segment(struct walk *w, struct segment *out)
{
    struct mb_str s = w->bytes;
    size_t from = w->pos, pos = from;
    size_t len;

    if (pos >= s.len || *byte_at(s, pos) != 0xFF)
        return false;
    while (pos < s.len && *byte_at(s, pos) == 0xFF)
        pos++;
    if (pos >= s.len)
        return false;
    out->marker = *byte_at(s, pos++);
    if (out->marker == EOI || out->marker == SOI) {
        out->body = part(s, pos, pos);
    } else {
        if (s.len - pos < 2 || (len = be16(s, pos)) < 2 || len > s.len - pos)
            return false;
        out->body = part(s, pos + 2, pos + len);
        pos += len;
        if (out->marker == SOS)
            pos = scan_end(s, pos);
    }
    out->whole = part(s, from, pos);
    w->pos = pos;
    return true;
}

static bool body_starts(const struct segment *seg, const char *word, size_t len)
{
    return seg->body.len >= len && memcmp(seg->body.at, word, len) == 0;
}

static bool is_exif(const struct segment *seg)
{
    return seg->marker == APP1 && body_starts(seg, "Exif\0\0", 6);
}

/* JFIF 1.02: 14 bytes, and behind them a small copy of the picture, which may be of what it was
 * before it was cut or painted over. Adobe's segment has 12. */
enum { JFIF_BYTES = 14, ADOBE_BYTES = 12 };

static bool is_jfif(const struct segment *seg)
{
    return seg->marker == APP0 && body_starts(seg, "JFIF\0", 5);
}

static bool is_adobe(const struct segment *seg)
{
    return seg->marker == APP14 && body_starts(seg, "Adobe", 5);
}

static bool tells_more(const struct segment *seg)
{
    if (seg->marker == COM)
        return true;
    if (seg->marker < APP0 || seg->marker > APP15)
        return false;
    if (is_jfif(seg))
        return seg->body.len > JFIF_BYTES;
    if (is_adobe(seg))
        return seg->body.len > ADOBE_BYTES;
    return !(seg->marker == APP2 && body_starts(seg, "ICC_PROFILE\0", 12));
}

static unsigned tiff16(struct mb_str t, size_t pos, bool little)
{
    const uint8_t *p = byte_at(t, pos);

    return little ? p[0] | (unsigned)p[1] << 8 : be16(t, pos);
}

static uint32_t tiff32(struct mb_str t, size_t pos, bool little)
{
    return little ? tiff16(t, pos, true) | (uint32_t)tiff16(t, pos + 2, true) << 16 : be32(t, pos);
}

/* Tag 0x0112 of the first directory (Exif 2.3, TIFF 6.0); 1 where it is absent or odd. */
static int exif_turn(struct mb_str tiff)
{
    bool little;
    uint32_t at;
    unsigned count;

    if (tiff.len < 14)
        return 1;
    little = tiff.at[0] == 'I';
    if (memcmp(tiff.at, little ? "II" : "MM", 2) != 0 || tiff16(tiff, 2, little) != 42)
        return 1;
    at = tiff32(tiff, 4, little);
    if (at < 8 || at > tiff.len - 2)
        return 1;
    count = tiff16(tiff, at, little);
    for (size_t entry = at + 2; count-- > 0 && entry + 12 <= tiff.len; entry += 12)
        if (tiff16(tiff, entry, little) == 0x0112) {
            unsigned turn = tiff16(tiff, entry + 8, little);

            return tiff16(tiff, entry + 2, little) == 3 && turn >= 1 && turn <= 8 ? (int)turn : 1;
        }
    return 1;
}

static enum mb_rc cut_short(struct mb_error *err)
{
    return mb_fail(err, MB_REFUSED,
                   "the photo is damaged or was cut short on its way; copy it again from where "
                   "it came from");
}

static enum mb_rc too_large(const struct mb_picture *p, int64_t limit, struct mb_error *err)
{
    return mb_fail(err, MB_REFUSED,
                   "the photo has %d x %d pixels, more than the %lld million that are allowed; "
                   "save it smaller",
                   p->width_px, p->height_px, (long long)(limit / 1000000));
}

struct jpeg_facts {
    int64_t blocks;      /* 8 x 8 blocks over all channels */
    uint64_t data_bytes; /* all scans */
    bool framed;
};

static enum mb_rc read_frame(const struct segment *seg, struct mb_picture *p,
                             struct jpeg_facts *facts, struct mb_error *err)
{
    struct mb_str b = seg->body;
    int64_t across = 0, down = 0;
    unsigned h_max = 1, v_max = 1;

    if (facts->framed || b.len < 6 || b.len != 6 + 3u * *byte_at(b, 5))
        return cut_short(err);
    p->height_px = (int)be16(b, 1);
    p->width_px = (int)be16(b, 3);
    p->channels = *byte_at(b, 5);
    if (seg->marker > SOF2 || *byte_at(b, 0) != 8 || (p->channels != 1 && p->channels != 3))
        return mb_fail(err, MB_REFUSED,
                       "the photo is a rare kind of JPEG (CMYK, 12-bit, lossless or arithmetic "
                       "coding); save it as an ordinary RGB JPEG");
    if (p->width_px == 0 || p->height_px == 0)
        return mb_fail(err, MB_REFUSED, "the photo says that it is %d x %d pixels; save it again",
                       p->width_px, p->height_px);
    if ((int64_t)p->width_px * p->height_px > MB_PICTURE_JPEG_PIXELS_MAX)
        return too_large(p, MB_PICTURE_JPEG_PIXELS_MAX, err);
    for (int pass = 0; pass < 2; pass++)
        for (int i = 0; i < p->channels; i++) {
            unsigned both = *byte_at(b, 7 + 3 * (size_t)i), h = both >> 4, v = both & 15;

            if (h < 1 || h > 4 || v < 1 || v > 4)
                return cut_short(err);
            h_max = h > h_max ? h : h_max;
            v_max = v > v_max ? v : v_max;
            across = ((int64_t)p->width_px * h + 8 * h_max - 1) / (8 * h_max);
            down = ((int64_t)p->height_px * v + 8 * v_max - 1) / (8 * v_max);
            facts->blocks += pass == 1 ? across * down : 0;
        }
    facts->framed = true;
    return MB_OK;
}

static enum mb_rc read_segment(const struct segment *seg, struct mb_picture *p,
                               struct jpeg_facts *facts, struct mb_error *err)
{
    int m = seg->marker;

    if (m == SOI || m < SOF0 || (m >= RST0 && m <= RST7))
        return cut_short(err);
    if (m >= SOF0 && m <= SOF15 && m != DHT && m != JPG && m != DAC)
        return read_frame(seg, p, facts, err);
    if (m == SOS) {
        if (!facts->framed)
            return cut_short(err);
        facts->data_bytes += seg->whole.len - seg->body.len;
        if (++p->scans > SCANS_MAX ||
            (int64_t)p->scans * p->width_px * p->height_px > SCAN_PIXELS_MAX)
            return mb_fail(err, MB_REFUSED,
                           "the photo is stored in too many layers; save it as an ordinary JPEG");
    }
    if (is_exif(seg) && p->turn == 1)
        p->turn = exif_turn(part(seg->body, 6, seg->body.len));
    p->metadata |= tells_more(seg);
    return MB_OK;
}

/* Each block takes at least one bit for its first value and one to say that the rest is nothing;
 * only the first is sure in a progressive file (T.81, F.1.2 and G.1.2). */
static bool can_fill(const struct mb_picture *p, const struct jpeg_facts *facts)
{
    uint64_t bits = (uint64_t)facts->blocks * (p->scans > 1 ? 1 : 2);

    return facts->data_bytes >= bits / 8;
}

static enum mb_rc lies(const struct mb_picture *p, uint64_t data_bytes, struct mb_error *err)
{
    return mb_fail(err, MB_REFUSED,
                   "the photo says that it is %d x %d pixels, but its %llu bytes of picture cannot "
                   "fill them; save it again",
                   p->width_px, p->height_px, (unsigned long long)data_bytes);
}

static enum mb_rc look_jpeg(struct mb_picture *p, struct mb_error *err)
{
    struct walk w = { p->bytes, 2 };
    struct jpeg_facts facts = { 0 };
    struct segment seg = { 0 };
    enum mb_rc rc = MB_OK;

    p->form = MB_PICTURE_JPEG;
    while (!rc && seg.marker != EOI) {
        if (!next_segment(&w, &seg))
            return cut_short(err);
        if (seg.marker != EOI)
            rc = read_segment(&seg, p, &facts, err);
    }
    if (rc)
        return rc;
    if (p->scans == 0)
        return cut_short(err);
    p->metadata |= w.pos < p->bytes.len;
    return can_fill(p, &facts) ? MB_OK : lies(p, facts.data_bytes, err);
}

/* ---- PNG ---- */

static const char png_sign[8] = { '\x89', 'P', 'N', 'G', '\r', '\n', '\x1a', '\n' };
static const char *const png_needs[] = { "IHDR", "PLTE", "tRNS", "cHRM", "gAMA", "sRGB", "iCCP",
                                         "sBIT", "pHYs", "IDAT", "IEND" };

struct chunk {
    char name[5];
    struct mb_str body, whole;
};

static bool next_chunk(struct walk *w, struct chunk *out)
{
    struct mb_str s = w->bytes;
    size_t pos = w->pos;
    uint32_t len;

    if (pos > s.len || s.len - pos < 12 || (len = be32(s, pos)) > s.len - pos - 12)
        return false;
    memcpy(out->name, s.at + pos + 4, 4);
    out->name[4] = 0;
    out->body = part(s, pos + 8, pos + 8 + len);
    w->pos = pos + 12 + len;
    out->whole = part(s, pos, w->pos);
    return true;
}

static bool chunk_needed(const struct chunk *chunk)
{
    for (size_t i = 0; i < sizeof png_needs / sizeof *png_needs; i++)
        if (strcmp(chunk->name, png_needs[i]) == 0)
            return true;
    return false;
}

static enum mb_rc read_header(const struct chunk *chunk, struct mb_picture *p, uint64_t *raw_bytes,
                              struct mb_error *err)
{
    static const int channels_of[7] = { 1, 0, 3, 1, 2, 0, 4 };
    uint32_t width, height;
    int depth, colour;

    if (strcmp(chunk->name, "IHDR") != 0 || chunk->body.len != 13)
        return cut_short(err);
    width = be32(chunk->body, 0);
    height = be32(chunk->body, 4);
    depth = *byte_at(chunk->body, 8);
    colour = *byte_at(chunk->body, 9);
    if (width == 0 || height == 0 || width > INT32_MAX || height > INT32_MAX || colour > 6 ||
        channels_of[colour] == 0 || depth == 0 || depth > 16)
        return cut_short(err);
    p->width_px = (int)width;
    p->height_px = (int)height;
    p->channels = channels_of[colour];
    if ((uint64_t)width * height > MB_PICTURE_PNG_PIXELS_MAX || width > 32767 || height > 32767)
        return mb_fail(err, MB_REFUSED,
                       "the photo has %u x %u pixels, more than a PNG may have here (%d million, "
                       "32767 a side); save it as JPEG, or smaller",
                       width, height, MB_PICTURE_PNG_PIXELS_MAX / 1000000);
    *raw_bytes = ((uint64_t)width * (unsigned)p->channels * (unsigned)depth / 8) * height;
    return MB_OK;
}

static enum mb_rc look_png(struct mb_picture *p, struct mb_error *err)
{
    struct walk w = { p->bytes, sizeof png_sign };
    struct chunk chunk = { 0 };
    uint64_t raw_bytes = 0, packed_bytes = 0;
    enum mb_rc rc;

    p->form = MB_PICTURE_PNG;
    if (!next_chunk(&w, &chunk))
        return cut_short(err);
    rc = read_header(&chunk, p, &raw_bytes, err);
    if (rc)
        return rc;
    while (strcmp(chunk.name, "IEND") != 0) {
        if (!next_chunk(&w, &chunk))
            return cut_short(err);
        if (strcmp(chunk.name, "IDAT") == 0)
            packed_bytes += chunk.body.len;
        p->metadata |= !chunk_needed(&chunk);
    }
    p->metadata |= w.pos < p->bytes.len;
    /* Deflate gives at most 1032 bytes for one (zlib's documentation). */
    if (packed_bytes == 0 || packed_bytes * 1032 < raw_bytes)
        return lies(p, packed_bytes, err);
    return MB_OK;
}

/* ---- both ---- */

enum mb_rc mb_picture_look(struct mb_str bytes, struct mb_picture *out, struct mb_error *err)
{
    struct mb_picture p = { .bytes = bytes, .turn = 1 };
    enum mb_rc rc;

    if (bytes.len == 0)
        return mb_fail(err, MB_REFUSED, "the photo is an empty file; copy it again");
    if (bytes.len > MB_PICTURE_BYTES_MAX)
        return mb_fail(err, MB_REFUSED,
                       "the photo takes %zu MiB, more than the %d MiB that are allowed; save it "
                       "smaller",
                       bytes.len >> 20, MB_PICTURE_BYTES_MAX >> 20);
    if (mb_str_starts(bytes, "\xFF\xD8"))
        rc = look_jpeg(&p, err);
    else if (bytes.len >= sizeof png_sign && memcmp(bytes.at, png_sign, sizeof png_sign) == 0)
        rc = look_png(&p, err);
    else
        return mb_fail(err, MB_REFUSED,
                       "the file is neither a JPEG nor a PNG photo; save it as JPEG");
    if (!rc)
        *out = p;
    return rc;
}

void mb_picture_upright(const struct mb_picture *picture, int *width_px, int *height_px)
{
    bool lying = picture->turn >= 5;

    *width_px = lying ? picture->height_px : picture->width_px;
    *height_px = lying ? picture->width_px : picture->height_px;
}

static void add_turn(struct mb_buf *buf, int turn)
{
    static const char head[] = "\xFF\xE1\x00\x22" "Exif\0\0" "MM\0\x2A\0\0\0\x08" "\0\x01"
                               "\x01\x12" "\0\x03" "\0\0\0\x01" "\0";

    mb_buf_add(buf, head, sizeof head - 1);
    mb_buf_add_char(buf, (char)turn);
    mb_buf_add(buf, "\0\0\0\0\0\0", 6);
}

/* A segment cut to what its standard says, of JFIF without the size of a small picture. */
static void add_head_of(struct mb_buf *buf, const struct segment *seg)
{
    bool jfif = is_jfif(seg);
    size_t len = jfif ? JFIF_BYTES : ADOBE_BYTES, whole = jfif ? len - 2 : len;

    mb_buf_add_char(buf, '\xFF');
    mb_buf_add_char(buf, (char)seg->marker);
    mb_buf_add_char(buf, 0);
    mb_buf_add_char(buf, (char)(len + 2));
    mb_buf_add(buf, seg->body.at, whole);
    if (jfif)
        mb_buf_add(buf, "\0\0", 2);
}

struct mb_str mb_picture_clean(mb_arena *arena, const struct mb_picture *picture, bool keep_turn)
{
    MB_BUF_AUTO struct mb_buf buf;
    struct walk w = { picture->bytes, picture->form == MB_PICTURE_JPEG ? 2 : sizeof png_sign };
    struct segment seg = { 0 };
    struct chunk chunk = { 0 };

    mb_buf_init(&buf, picture->bytes.len + 64);
    mb_buf_add(&buf, picture->bytes.at, w.pos);
    if (picture->form == MB_PICTURE_JPEG) {
        bool pending = keep_turn && picture->turn != 1;

        while (seg.marker != EOI && next_segment(&w, &seg)) {
            /* JFIF stands first where there is one; the turn follows it. */
            if (pending && !is_jfif(&seg)) {
                add_turn(&buf, picture->turn);
                pending = false;
            }
            if (!tells_more(&seg))
                mb_buf_add_str(&buf, seg.whole);
            else if (is_jfif(&seg) || is_adobe(&seg))
                add_head_of(&buf, &seg);
        }
    } else {
        while (strcmp(chunk.name, "IEND") != 0 && next_chunk(&w, &chunk))
            if (chunk_needed(&chunk))
                mb_buf_add_str(&buf, chunk.whole);
    }
    return mb_arena_str(arena, mb_buf_str(&buf));
}
