#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "coord.h"
#include "coord_words.h"
#include "text.h"

/* A grid position while it is put together. */
struct grid {
    struct mb_coord_text *text;
    const struct mb_coord_token *left[MB_COORD_TOKENS_MAX]; /* what is not yet understood */
    size_t count;
    const struct mb_coord_token *easting, *northing;
    int zone;
    char letter;       /* band, or N or S */
    bool north, south; /* said in a word */
};

#define FILLER "utm zone grid m metres meters metre meter hemisphere"
#define EAST "e me east easting"
#define NORTH "n mn north northing"

bool mb_coord_band(char band, double *south, double *north)
{
    static const char letters[] = "CDEFGHJKLMNPQRSTUVWX";
    const char *at = band ? strchr(letters, band) : NULL;
    if (!at)
        return false;
    *south = -80 + 8 * (double)(at - letters);
    *north = band == 'X' ? 84 : *south + 8;
    return true;
}

static void drop(struct grid *grid, size_t index, size_t count)
{
    memmove(grid->left + index, grid->left + index + count,
            (grid->count - index - count) * sizeof *grid->left);
    grid->count -= count;
}

static bool is_number(const struct grid *grid, size_t index)
{
    return index < grid->count && grid->left[index]->word == MB_WORD_NUMBER;
}

static bool is_word(const struct grid *grid, size_t index, const char *words)
{
    return index < grid->count && mb_coord_is(grid->left[index], words);
}

static enum mb_rc gather(struct grid *grid)
{
    const struct mb_coord_text *text = grid->text;
    for (size_t i = 0; i < text->count; i++) {
        const struct mb_coord_token *token = &text->at[i];
        if (token->word == MB_WORD_NUMBER || token->word == MB_WORD_LETTERS) {
            if (!mb_coord_is(token, FILLER))
                grid->left[grid->count++] = token;
        } else if (token->word == MB_WORD_MINUS || token->word == MB_WORD_HYPHEN) {
            return mb_coord_refuse(grid->text, "eastings and northings carry no sign or dash");
        } else if (token->word != MB_WORD_BREAK) {
            return mb_coord_refuse(grid->text,
                                   "marks of degrees together with a number of six or "
                                   "more digits; write either degrees or a grid position");
        }
    }
    return MB_OK;
}

/* Are the tokens from index on, and no others, a letter for the axis and a number, twice? */
static bool axes_follow(const struct grid *grid, size_t index)
{
    return grid->count == index + 4 && is_number(grid, index + 1) && is_number(grid, index + 3) &&
           ((is_word(grid, index, EAST) && is_word(grid, index + 2, NORTH)) ||
            (is_word(grid, index, NORTH) && is_word(grid, index + 2, EAST)));
}

/* The zone and its letter, which stands behind it or follows as a word. */
static enum mb_rc take_zone(struct grid *grid)
{
    size_t at = grid->count;
    for (size_t i = grid->count; i-- > 0;)
        if (is_number(grid, i) && grid->left[i]->whole <= 2 && !grid->left[i]->places)
            at = i;
    if (at == grid->count)
        return mb_coord_refuse(grid->text,
                               "no zone is given; write a grid position such as 13T 492000 "
                               "5228000, and degrees with their parts apart");
    grid->zone = (int)grid->left[at]->value;
    if (grid->zone < 1 || grid->zone > 60)
        return mb_coord_refuse(grid->text, "zone %d does not exist; zones are 1 to 60", grid->zone);
    drop(grid, at, 1);
    if (at == grid->count || is_number(grid, at) || axes_follow(grid, at))
        return MB_OK;
    const struct mb_coord_token *word = grid->left[at];
    double south, north;
    if (word->text.len == 1) {
        grid->letter = (char)toupper((unsigned char)word->text.at[0]);
        if (!mb_coord_band(grid->letter, &south, &north))
            return mb_coord_refuse(grid->text,
                                   "%c is no latitude band; bands are C to X without I "
                                   "and O",
                                   grid->letter);
    } else if (is_word(grid, at, "north northern")) {
        grid->north = true;
    } else if (is_word(grid, at, "south southern")) {
        grid->south = true;
    } else {
        return MB_OK; /* said with the easting and northing, or not at all */
    }
    drop(grid, at, 1);
    return MB_OK;
}

static enum mb_rc give(struct grid *grid, const struct mb_coord_token *number, bool east)
{
    const struct mb_coord_token **place = east ? &grid->easting : &grid->northing;
    if (*place)
        return mb_coord_refuse(grid->text, "two %ss", east ? "easting" : "northing");
    *place = number;
    return MB_OK;
}

static enum mb_rc take_axes(struct grid *grid)
{
    bool before = axes_follow(grid, 0);
    if (grid->count == 2 && is_number(grid, 0) && is_number(grid, 1)) {
        grid->easting = grid->left[0];
        grid->northing = grid->left[1];
        return MB_OK;
    }
    for (size_t i = 0; i + 1 < grid->count; i += 2) {
        size_t number = before ? i + 1 : i, word = before ? i : i + 1;
        bool east = is_word(grid, word, EAST), north = is_word(grid, word, NORTH);
        if (!is_number(grid, number) || (!east && !north))
            break;
        enum mb_rc rc = give(grid, grid->left[number], east);
        if (rc != MB_OK)
            return rc;
    }
    if (grid->count == 4 && grid->easting && grid->northing)
        return MB_OK;
    for (size_t i = 0; i < grid->count; i++)
        if (!is_number(grid, i) && !is_word(grid, i, EAST " " NORTH))
            return mb_coord_refuse(grid->text,
                                   "\"%.*s\" is not understood; write a grid position such as 13T "
                                   "492000 5228000, the datum in its own field",
                                   MB_STR_ARG(grid->left[i]->text));
    return mb_coord_refuse(grid->text, "a grid position is a zone, an easting and a northing, such "
                                       "as 13T 492000 5228000");
}

static enum mb_rc check_range(struct grid *grid)
{
    const struct mb_coord_token *e = grid->easting, *n = grid->northing;
    if (e->whole == 7 && n->whole == 6 && n->value < 1000000)
        return mb_coord_refuse(grid->text, "the easting (six digits) comes first");
    if (e->value < 100000 || e->value >= 1000000)
        return mb_coord_refuse(grid->text,
                               "an easting has six digits in front of the point, %.*s "
                               "has not; write it in full",
                               MB_STR_ARG(e->text));
    if (n->value > 10000000)
        return mb_coord_refuse(grid->text, "a northing is at most 10000000, %.*s is more",
                               MB_STR_ARG(n->text));
    return MB_OK;
}

/* Rough latitude of a northing: good to 0.4 degree, enough to tell bands eight degrees wide. */
static double rough_lat(double northing_m, bool south)
{
    return (south ? northing_m - 10000000 : northing_m) / 0.9996 / 111133;
}

static bool fits_band(double lat, char band, double slack)
{
    double south, north;
    return mb_coord_band(band, &south, &north) && lat >= south - slack && lat <= north + slack;
}

static enum mb_rc settle_hemisphere(struct grid *grid, struct mb_coord *out)
{
    double northing = grid->northing->value;
    if (grid->north || grid->south || grid->letter == 'N') {
        out->south = grid->south;
    } else if (grid->letter == 'S' && fits_band(rough_lat(northing, false), 'S', 0.5)) {
        out->band = 'S';
        out->reading = "S was read as the latitude band S (32 to 40 degrees north), where this "
                       "northing lies";
    } else if (grid->letter == 'S') {
        out->south = true;
        out->reading = "S was read as the southern hemisphere, because this northing does not lie "
                       "in the latitude band S";
    } else if (grid->letter) {
        out->band = grid->letter;
        out->south = grid->letter < 'N';
    } else {
        return mb_coord_refuse(grid->text,
                               "write the hemisphere or the latitude band with the "
                               "zone, such as %dN or %dT",
                               grid->zone, grid->zone);
    }
    double lat = rough_lat(northing, out->south);
    if (out->band && !fits_band(lat, out->band, 0.5))
        return mb_coord_refuse(grid->text,
                               "the northing %.*s lies near latitude %.0f, which is not "
                               "in the band %c",
                               MB_STR_ARG(grid->northing->text), lat, out->band);
    return MB_OK;
}

enum mb_rc mb_coord_read_utm(struct mb_coord_text *text, struct mb_coord *out)
{
    struct grid grid = { .text = text };
    enum mb_rc rc = gather(&grid);
    if (rc == MB_OK)
        rc = take_zone(&grid);
    if (rc == MB_OK)
        rc = take_axes(&grid);
    if (rc == MB_OK)
        rc = check_range(&grid);
    if (rc == MB_OK)
        rc = settle_hemisphere(&grid, out);
    if (rc != MB_OK)
        return rc;
    const struct mb_coord_token *e = grid.easting, *n = grid.northing;
    int places = e->places < n->places ? e->places : n->places;
    out->form = MB_COORD_UTM;
    out->zone = grid.zone;
    out->easting = mb_arena_copy(text->arena, e->text.at, e->text.len);
    out->northing = mb_arena_copy(text->arena, n->text.at, n->text.len);
    out->easting_m = e->value;
    out->northing_m = n->value;
    out->precision_m = pow(10, -places);
    out->precision_text = places ? mb_arena_printf(text->arena, "0.%0*d m", places, 1) : "1 m";
    out->maybe_padded = e->text.at[e->text.len - 1] == '0' && n->text.at[n->text.len - 1] == '0' &&
                        fmod(e->value, 1000) == 0 && fmod(n->value, 1000) == 0;
    return MB_OK;
}

enum mb_rc mb_coord_utm(mb_arena *arena, mb_earth *earth, const struct mb_ellipsoid *e,
                        struct mb_coord *coord, struct mb_error *err)
{
    if (coord->form != MB_COORD_UTM)
        return MB_OK;
    mb_plane *plane;
    struct mb_latlon at;
    enum mb_rc rc = mb_plane_utm(earth, e, coord->zone, coord->south, &plane, err);
    if (rc != MB_OK)
        return rc;
    bool there = mb_plane_back(plane, coord->easting_m, coord->northing_m, &at);
    mb_plane_free(plane);
    if (!there)
        return mb_fail(err, MB_REFUSED,
                       "coordinates \"%s\": no place has this easting and northing",
                       coord->verbatim);
    if (coord->band && !fits_band(at.lat, coord->band, 0.001))
        return mb_fail(err, MB_REFUSED,
                       "coordinates \"%s\": the place is at latitude %.4f, which is not in the "
                       "band %c",
                       coord->verbatim, at.lat, coord->band);
    coord->lat = mb_arena_printf(arena, "%.7f", at.lat);
    coord->lon = mb_arena_printf(arena, "%.7f", at.lon);
    coord->lat_deg = strtod(coord->lat, NULL);
    coord->lon_deg = strtod(coord->lon, NULL);
    return MB_OK;
}
