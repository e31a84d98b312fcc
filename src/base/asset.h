/*
 * The files under schema/, built into the program: kinds, rules, vocabularies, SQL, page texts.
 *
 * A path is relative to schema/ ("kinds/collecting.json"). The data is the file byte for byte, with
 * a zero behind it that size does not count. Nothing here needs freeing or can fail; a program
 * never looks for these files on disk.
 */
#ifndef MB_ASSET_H
#define MB_ASSET_H

#include <stddef.h>

struct mb_asset {
    const char *path;
    const char *data;
    size_t size; /* bytes, without the zero behind them */
};

/* NULL if there is no such file. */
const struct mb_asset *mb_asset_find(const char *path);

/* All of them, sorted by the bytes of their paths; mb_asset_at gives NULL past the end. */
size_t mb_asset_count(void);
const struct mb_asset *mb_asset_at(size_t index);

/* The table itself, made by the build (see the Makefile); read it through the functions. */
extern const struct mb_asset mb_assets[];
extern const size_t mb_assets_count;

#endif
