/* Fuzzing the reader of photo files: what is accepted stays the same photo when it is cleaned, and
 * nothing that tells more is left in it; then libjpeg reads it through. */
#include <stdint.h>
#include <stdlib.h>

#include "fuzz.h"
#include "jpeg.h"
#include "picture.h"
#include "text.h"

#define PIXELS_MAX 1000000 /* more would only be slow here */

static void must(bool holds)
{
    if (!holds)
        abort();
}

static void clean(mb_arena *arena, const struct mb_picture *p, bool keep_turn)
{
    struct mb_str bytes = mb_picture_clean(arena, p, keep_turn);
    bool turned = keep_turn && p->form == MB_PICTURE_JPEG && p->turn != 1;
    struct mb_error err = { 0 };
    struct mb_picture again;

    must(mb_picture_look(bytes, &again, &err) == MB_OK);
    must(again.form == p->form && again.width_px == p->width_px);
    must(again.height_px == p->height_px && again.scans == p->scans);
    must(again.turn == (turned ? p->turn : 1) && again.metadata == turned);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t len)
{
    mb_arena *arena = mb_arena_new();
    struct mb_error err = { 0 };
    struct mb_picture p;
    enum mb_rc rc = mb_picture_look((struct mb_str){ (const char *)bytes, len }, &p, &err);

    if (rc == MB_OK) {
        must(err.code == MB_OK && p.width_px > 0 && p.height_px > 0);
        clean(arena, &p, false);
        clean(arena, &p, true);
        if (p.form == MB_PICTURE_JPEG && (int64_t)p.width_px * p.height_px <= PIXELS_MAX)
            rc = mb_jpeg_check(&p, &err);
    }
    must(rc == MB_OK || (rc == err.code && err.text[0] != '\0'));
    must(rc == MB_OK || mb_text_allowed(mb_str_of(err.text), false));
    mb_arena_free(arena);
    return 0;
}
