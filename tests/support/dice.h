/* Chance that is the same in each run: SplitMix64 (Steele, Lea and Flood, "Fast splittable
 * pseudorandom number generators", 2014; constants from memory). */
#ifndef MB_DICE_H
#define MB_DICE_H

#include <stddef.h>
#include <stdint.h>

struct dice {
    uint64_t state;
};

static inline size_t dice_roll(struct dice *dice, size_t sides)
{
    uint64_t z = dice->state += 0x9E3779B97F4A7C15;

    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EB;
    return (size_t)((z ^ (z >> 31)) % sides);
}

#endif
