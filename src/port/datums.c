#include "datums.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

#include "text.h"

const struct mb_datum_name mb_datum_names[] = {
    { "WGS84", "EPSG:4326" },
    { "WGS1984", "EPSG:4326" },
    { "WORLDGEODETICSYSTEM1984", "EPSG:4326" },
    { "WGS72", "EPSG:4322" },
    { "NAD27", "EPSG:4267" },
    { "NAD1927", "EPSG:4267" },
    { "NORTHAMERICAN1927", "EPSG:4267" },
    { "NORTHAMERICANDATUM1927", "EPSG:4267" },
    { "NAD83", "EPSG:4269" },
    { "NAD1983", "EPSG:4269" },
    { "NORTHAMERICAN1983", "EPSG:4269" },
    { "NORTHAMERICANDATUM1983", "EPSG:4269" },
    { "NAD83HARN", "EPSG:4152" },
    { "NAD832011", "EPSG:6318" },
    { "NAD83CSRS", "EPSG:4617" },
    { "OLDHAWAIIAN", "EPSG:4135" },
    { "ETRS89", "EPSG:4258" },
    { "ED50", "EPSG:4230" },
    { "EUROPEANDATUM1950", "EPSG:4230" },
    { "OSGB36", "EPSG:4277" },
    { "OSGB1936", "EPSG:4277" },
    { "NTF", "EPSG:4275" },
    { "RGF93", "EPSG:4171" },
    { "DHDN", "EPSG:4314" },
    { "CH1903", "EPSG:4149" },
    { "MERCHICH", "EPSG:4261" },
    { "PULKOVO1942", "EPSG:4284" },
    { "BEIJING1954", "EPSG:4214" },
    { "XIAN1980", "EPSG:4610" },
    { "CGCS2000", "EPSG:4490" },
    { "TOKYO", "EPSG:4301" },
    { "JGD2000", "EPSG:4612" },
    { "JGD2011", "EPSG:6668" },
    { "AGD66", "EPSG:4202" },
    { "AGD84", "EPSG:4203" },
    { "GDA94", "EPSG:4283" },
    { "GDA2020", "EPSG:7844" },
    { "NZGD49", "EPSG:4272" },
    { "NZGD2000", "EPSG:4167" },
    { "SAD69", "EPSG:4618" },
    { "SIRGAS2000", "EPSG:4674" },
    { "CAPE", "EPSG:4222" },
    { "ARC1950", "EPSG:4209" },
    { "HARTEBEESTHOEK94", "EPSG:4148" },
};
const size_t mb_datum_name_count = sizeof mb_datum_names / sizeof *mb_datum_names;

static const char *const unknown[] = { "",        "NOTRECORDED", "NOTKNOWN",
                                       "UNKNOWN", "NOTGIVEN",    "NOTSTATED" };

static char *plain(mb_arena *arena, struct mb_str text)
{
    char *out = mb_arena_get(arena, text.len + 1);
    size_t len = 0;
    for (size_t i = 0; i < text.len; i++)
        if (isalnum((unsigned char)text.at[i]))
            out[len++] = (char)toupper((unsigned char)text.at[i]);
    return out;
}

static enum mb_rc no_such_name(mb_arena *arena, struct mb_str text, const char *name,
                               struct mb_error *err)
{
    const char **allowed = MB_ARRAY(arena, mb_datum_name_count, const char *);
    for (size_t i = 0; i < mb_datum_name_count; i++)
        allowed[i] = mb_datum_names[i].plain;
    const char *nearest =
        strlen(name) <= 60 ? mb_nearest(mb_str_of(name), allowed, mb_datum_name_count) : NULL;
    if (nearest)
        return mb_fail(err, MB_REFUSED,
                       "datum \"%.*s\" is not known; did you mean %s? Write a name such as NAD27, "
                       "an EPSG code, or \"not recorded\"",
                       MB_STR_ARG(text), nearest);
    return mb_fail(err, MB_REFUSED,
                   "datum \"%.*s\" is not known; write a name such as WGS84, NAD83 or NAD27, an "
                   "EPSG code such as EPSG:4267, or \"not recorded\"",
                   MB_STR_ARG(text));
}

enum mb_rc mb_datum_code(mb_arena *arena, struct mb_str text, const char **code,
                         struct mb_error *err)
{
    text = mb_str_trim(text);
    char *name = plain(arena, text);
    for (size_t i = 0; i < sizeof unknown / sizeof *unknown; i++)
        if (strcmp(name, unknown[i]) == 0)
            return MB_NO;
    for (size_t i = 0; i < mb_datum_name_count; i++)
        if (strcmp(name, mb_datum_names[i].plain) == 0) {
            *code = mb_datum_names[i].code;
            return MB_OK;
        }
    if (strncmp(name, "EPSG", 4) == 0) {
        size_t digits = strspn(name + 4, "0123456789");
        if (digits >= 4 && digits <= 6 && !name[4 + digits]) {
            *code = mb_arena_printf(arena, "EPSG:%s", name + 4);
            return MB_OK;
        }
    }
    return no_such_name(arena, text, name, err);
}
