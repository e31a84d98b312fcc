/* A folder of its own for a test, under TMPDIR. */
#ifndef MB_TEMP_FOLDER_H
#define MB_TEMP_FOLDER_H

#include <markerbed/arena.h>

/* Made, empty, with its name in the arena. Failing to make one ends the test. */
const char *temp_folder_new(mb_arena *arena);
/* With everything in it. */
void temp_folder_remove(const char *folder);

#endif
