#include <ctype.h>
#include <string.h>

#include "plss.h"

/* The principal meridians of the public land survey (names: Bureau of Land Management, Manual of
 * Surveying Instructions; from memory, letters are common practice without a source). The other
 * forms are compared without blanks and punctuation; PM, MERIDIAN, PRINCIPAL, BASE and AND are
 * taken off first. */
static const struct {
    const char *name, *forms;
} meridians[] = {
    { "First Principal Meridian", "1ST FIRST" },
    { "Second Principal Meridian", "2ND SECOND 2D" },
    { "Third Principal Meridian", "3RD THIRD 3D" },
    { "Fourth Principal Meridian", "4TH FOURTH" },
    { "Fifth Principal Meridian", "5TH FIFTH" },
    { "Sixth Principal Meridian", "6TH SIXTH" },
    { "Extended Fourth Principal Meridian", "EXTENDED4TH 4THEXTENDED EXTENDEDFOURTH" },
    { "Black Hills Meridian", "BLACKHILLS BHM" },
    { "Boise Meridian", "BOISE BM" },
    { "Chickasaw Meridian", "CHICKASAW" },
    { "Choctaw Meridian", "CHOCTAW" },
    { "Cimarron Meridian", "CIMARRON CM" },
    { "Copper River Meridian", "COPPERRIVER CRM" },
    { "Fairbanks Meridian", "FAIRBANKS FM" },
    { "Gila and Salt River Meridian", "GILASALTRIVER GSRM GSRBM GILASALTRIVERBM" },
    { "Humboldt Meridian", "HUMBOLDT HM HBM" },
    { "Huntsville Meridian", "HUNTSVILLE" },
    { "Indian Meridian", "INDIAN IM" },
    { "Kateel River Meridian", "KATEELRIVER KRM" },
    { "Louisiana Meridian", "LOUISIANA" },
    { "Michigan Meridian", "MICHIGAN" },
    { "Principal Meridian, Montana", "MONTANA MPM PMM MONTANAMPM" },
    { "Mount Diablo Meridian", "MOUNTDIABLO MTDIABLO MDM MDBM" },
    { "Navajo Meridian", "NAVAJO" },
    { "New Mexico Principal Meridian", "NEWMEXICO NMPM NMM" },
    { "St. Helena Meridian", "STHELENA SAINTHELENA" },
    { "St. Stephens Meridian", "STSTEPHENS SAINTSTEPHENS" },
    { "Salt Lake Meridian", "SALTLAKE SLM SLBM SLBASE" },
    { "San Bernardino Meridian", "SANBERNARDINO SBM SBBM" },
    { "Seward Meridian", "SEWARD SM" },
    { "Tallahassee Meridian", "TALLAHASSEE" },
    { "Uintah Special Meridian", "UINTAH UINTAHSPECIAL USM USBM" },
    { "Umiat Meridian", "UMIAT UM" },
    { "Ute Meridian", "UTE" },
    { "Washington Meridian", "WASHINGTON" },
    { "Willamette Meridian", "WILLAMETTE WM" },
    { "Wind River Meridian", "WINDRIVER WRM" },
};

static void cut_word(char *text, const char *word)
{
    size_t len = strlen(word);
    char *at = strstr(text, word);
    if (at)
        memmove(at, at + len, strlen(at + len) + 1);
}

static const char *find(const char *plain)
{
    size_t len = strlen(plain);
    for (size_t i = 0; i < sizeof meridians / sizeof *meridians; i++)
        for (const char *at = meridians[i].forms; *at;) {
            size_t form = strcspn(at, " ");
            if (form == len && strncmp(at, plain, len) == 0)
                return meridians[i].name;
            at += form + (at[form] == ' ');
        }
    return NULL;
}

const char *mb_plss_meridian(struct mb_str text)
{
    char plain[64];
    size_t len = 0;
    for (size_t i = 0; i < text.len; i++) {
        if (!isalnum((unsigned char)text.at[i]))
            continue;
        if (len == sizeof plain - 1)
            return NULL;
        plain[len++] = (char)toupper((unsigned char)text.at[i]);
    }
    plain[len] = 0;
    const char *name = find(plain);
    if (name)
        return name;
    static const char *const fill[] = { "PRINCIPAL", "MERIDIAN", "BASE", "AND" };
    for (size_t i = 0; i < sizeof fill / sizeof *fill; i++)
        cut_word(plain, fill[i]);
    name = find(plain);
    len = strlen(plain);
    if (!name && len > 2 && strcmp(plain + len - 2, "PM") == 0) {
        plain[len - 2] = 0;
        name = find(plain);
    }
    return name;
}
