#include "readiness_text.h"

#include "wording.h"

void readiness_print(const struct screen *screen, mb_arena *arena, unsigned indent,
                     const mb_json *missing, bool full)
{
    MB_JSON_EACH(row, missing) {
        const char *title = wording_of(arena, row, "title");
        const char *about = wording_of(arena, row, "about");
        const char *state = wording_of(arena, row, "state");

        if (!full) {
            screen_say(screen, PLAIN, indent, "%s (%s): %s", title, about, state);
            continue;
        }
        screen_say(screen, PLAIN, indent, "%s (%s): %s. %s", title, about, state,
                   wording_of(arena, row, "why"));
        screen_say(screen, PLAIN, indent + 4, "%s", wording_of(arena, row, "how"));
    }
}
