/*
 * A lab's records by chance: people, places, finds, work, handing over, dividing, joining, losing,
 * counting again, papers, certificates, and corrections of all of it: changed fields, voids, voids
 * of voids, some that correct nothing. They go past the door, so that what no form would let
 * through is among them. The same dice give the same story.
 */
#ifndef MB_RANDOM_STORY_H
#define MB_RANDOM_STORY_H

#include "dice.h"
#include "temp_ledger.h"

struct random_story {
    struct temp_ledger *ledger;
    struct dice dice;
    struct told_of {
        const char *sub, *kind, *leaf;
    } *entries;
    size_t count, room;
    int specimens;
};

void random_story_begin(struct random_story *s, struct temp_ledger *ledger, uint64_t seed);
/* One act: an entry, or those that belong together; inside the open group. */
void random_story_act(struct random_story *s);

#endif
