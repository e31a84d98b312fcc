#include "seen.h"

#include <string.h>

enum { ROOM_FIRST = 64 };

static struct mb_seen_text *place_of(const struct mb_seen *seen, const struct mb_hash *digest)
{
    size_t at;

    memcpy(&at, digest->b, sizeof at);
    for (at &= seen->room - 1; seen->texts[at].there; at = (at + 1) & (seen->room - 1))
        if (mb_hash_equal(&seen->texts[at].digest, digest))
            break;
    return &seen->texts[at];
}

static void make_room(struct mb_seen *seen)
{
    struct mb_seen old = *seen;

    seen->room = old.room ? 2 * old.room : ROOM_FIRST;
    seen->texts = MB_ARRAY(seen->arena, seen->room, struct mb_seen_text);
    for (size_t i = 0; i < old.room; i++)
        if (old.texts[i].there)
            *place_of(seen, &old.texts[i].digest) = old.texts[i];
}

const mb_json **mb_seen_at(struct mb_seen *seen, struct mb_str text, bool *known)
{
    struct mb_hash digest = mb_sha256(text.at, text.len);
    struct mb_seen_text *place;

    if (2 * seen->count >= seen->room)
        make_room(seen);
    place = place_of(seen, &digest);
    *known = place->there;
    if (!place->there) {
        *place = (struct mb_seen_text){ digest, NULL, true };
        seen->count++;
    }
    return &place->value;
}
