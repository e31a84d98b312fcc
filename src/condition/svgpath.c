#include "svgpath.h"

#include <math.h>
#include <string.h>

#include "drawnum.h"

enum { CHORDS_MAX = 20000 };

struct pen {
    mb_arena *arena;
    struct mb_str rest;
    size_t length; /* of the whole data, for telling the place */
    struct mb_svgmove move;
    double flat; /* MB_SVGPATH_FLAT before the move */
    size_t corners_left;
    struct mb_svgline *first, *last;
    struct mb_xy *points; /* of the last line */
    size_t room;
    struct mb_xy at, start, control; /* control: of the curve before, for S and T */
    char before;                     /* command before, capital */
    struct mb_error *err;
};

/* ---- drawing --------------------------------------------------------------------------------- */

static enum mb_rc add_corner(struct pen *pen, struct mb_xy at)
{
    struct mb_svgline *line = pen->last;

    if (pen->corners_left == 0)
        return mb_fail(pen->err, MB_REFUSED, "it has more corners than are read in one file");
    pen->corners_left--;
    if (line->count == pen->room) {
        size_t room = pen->room ? 2 * pen->room : 16;
        struct mb_xy *points = MB_ARRAY(pen->arena, room, struct mb_xy);
        if (line->count > 0)
            memcpy(points, pen->points, line->count * sizeof *points);
        pen->points = points;
        pen->room = room;
        line->at = points;
    }
    pen->points[line->count++] = mb_svgmove_do(pen->move, at);
    return MB_OK;
}

static enum mb_rc new_line(struct pen *pen, struct mb_xy at)
{
    struct mb_svgline *line = MB_NEW(pen->arena, struct mb_svgline);

    if (pen->last)
        pen->last->next = line;
    else
        pen->first = line;
    pen->last = line;
    pen->points = NULL;
    pen->room = 0;
    pen->at = pen->start = at;
    return add_corner(pen, at);
}

/* Behind Z the pen stands at the start; drawing on from there begins a new line. */
static enum mb_rc line_to(struct pen *pen, struct mb_xy at)
{
    enum mb_rc rc = pen->last->closed ? new_line(pen, pen->start) : MB_OK;

    pen->at = at;
    return rc == MB_OK ? add_corner(pen, at) : rc;
}

static double bend(struct mb_xy a, struct mb_xy b, struct mb_xy c)
{
    return hypot(a.x - 2 * b.x + c.x, a.y - 2 * b.y + c.y);
}

static size_t chords(double wanted)
{
    return wanted < 1 ? 1 : wanted > CHORDS_MAX ? CHORDS_MAX : (size_t)ceil(wanted);
}

static enum mb_rc cubic_to(struct pen *pen, struct mb_xy p1, struct mb_xy p2, struct mb_xy p3)
{
    struct mb_xy p0 = pen->at;
    double most = fmax(bend(p0, p1, p2), bend(p1, p2, p3));
    size_t n = chords(sqrt(0.75 * most / pen->flat));
    enum mb_rc rc = MB_OK;

    for (size_t i = 1; i <= n && rc == MB_OK; i++) {
        double t = (double)i / (double)n, u = 1 - t;
        double k0 = u * u * u, k1 = 3 * u * u * t, k2 = 3 * u * t * t, k3 = t * t * t;
        struct mb_xy at = { k0 * p0.x + k1 * p1.x + k2 * p2.x + k3 * p3.x,
                            k0 * p0.y + k1 * p1.y + k2 * p2.y + k3 * p3.y };
        rc = line_to(pen, i == n ? p3 : at);
    }
    pen->control = p2;
    return rc;
}

static enum mb_rc quad_to(struct pen *pen, struct mb_xy p1, struct mb_xy p2)
{
    struct mb_xy p0 = pen->at;
    size_t n = chords(sqrt(0.25 * bend(p0, p1, p2) / pen->flat));
    enum mb_rc rc = MB_OK;

    for (size_t i = 1; i <= n && rc == MB_OK; i++) {
        double t = (double)i / (double)n, u = 1 - t;
        struct mb_xy at = { u * u * p0.x + 2 * u * t * p1.x + t * t * p2.x,
                            u * u * p0.y + 2 * u * t * p1.y + t * t * p2.y };
        rc = line_to(pen, i == n ? p2 : at);
    }
    pen->control = p1;
    return rc;
}

/* A chord over the angle a is r (1 - cos(a/2)) away from its circle. */
static size_t arc_chords(double radius, double angle, double flat)
{
    double step = radius > flat ? 2 * acos(1 - flat / radius) : M_PI;

    return chords(fabs(angle) / fmin(step, M_PI / 4));
}

/* SVG 1.1 F.6.5 and F.6.6: from two ends, radii and flags to centre and angles. */
static enum mb_rc arc_to(struct pen *pen, double rx, double ry, double degrees, bool large,
                         bool sweep, struct mb_xy to)
{
    struct mb_xy from = pen->at;
    double s = sin(degrees * (M_PI / 180)), c = cos(degrees * (M_PI / 180));
    double hx = (from.x - to.x) / 2, hy = (from.y - to.y) / 2;
    double x = c * hx + s * hy, y = -s * hx + c * hy, over, k, cx, cy, a, turn;
    size_t n;
    enum mb_rc rc = MB_OK;

    rx = fabs(rx);
    ry = fabs(ry);
    if (from.x == to.x && from.y == to.y)
        return MB_OK;
    if (rx == 0 || ry == 0)
        return line_to(pen, to);
    over = x * x / (rx * rx) + y * y / (ry * ry);
    if (over > 1) {
        rx *= sqrt(over);
        ry *= sqrt(over);
        over = 1;
    }
    k = sqrt(fmax(0, 1 / over - 1)) * (large == sweep ? -1 : 1);
    cx = k * rx * y / ry;
    cy = -k * ry * x / rx;
    a = atan2((y - cy) / ry, (x - cx) / rx);
    turn = atan2((-y - cy) / ry, (-x - cx) / rx) - a;
    if (sweep && turn < 0)
        turn += 2 * M_PI;
    if (!sweep && turn > 0)
        turn -= 2 * M_PI;
    n = arc_chords(fmax(rx, ry), turn, pen->flat);
    for (size_t i = 1; i <= n && rc == MB_OK; i++) {
        double angle = a + turn * (double)i / (double)n;
        double ex = cx + rx * cos(angle), ey = cy + ry * sin(angle);
        struct mb_xy at = { c * ex - s * ey + (from.x + to.x) / 2,
                            s * ex + c * ey + (from.y + to.y) / 2 };
        rc = line_to(pen, i == n ? to : at);
    }
    return rc;
}

/* ---- reading --------------------------------------------------------------------------------- */

static void skip_blanks(struct pen *pen)
{
    while (pen->rest.len > 0 && memchr(" \t\r\n,\f", pen->rest.at[0], 6)) {
        pen->rest.at++;
        pen->rest.len--;
    }
}

static size_t place(const struct pen *pen)
{
    return pen->length - pen->rest.len + 1;
}

static enum mb_rc numbers(struct pen *pen, double *out, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        size_t len;

        skip_blanks(pen);
        len = mb_drawnum_at(pen->rest, &out[i]);
        if (len == 0 || fabs(out[i]) > MB_DRAWN_MAX)
            return mb_fail(pen->err, MB_REFUSED,
                           "the path data have no number up to %.0f at character %zu", MB_DRAWN_MAX,
                           place(pen));
        pen->rest.at += len;
        pen->rest.len -= len;
    }
    return MB_OK;
}

/* Flags are one digit each and may stand without blanks: "a5 5 0 01 3 3". */
static enum mb_rc flag(struct pen *pen, bool *out)
{
    skip_blanks(pen);
    if (pen->rest.len == 0 || (pen->rest.at[0] != '0' && pen->rest.at[0] != '1'))
        return mb_fail(pen->err, MB_REFUSED, "the path data have no flag 0 or 1 at character %zu",
                       place(pen));
    *out = pen->rest.at[0] == '1';
    pen->rest.at++;
    pen->rest.len--;
    return MB_OK;
}

static struct mb_xy place_of(const struct pen *pen, const double *n, bool relative)
{
    return relative ? (struct mb_xy){ pen->at.x + n[0], pen->at.y + n[1] }
                    : (struct mb_xy){ n[0], n[1] };
}

/* The control point that continues the curve before, if that was of the same sort. */
static struct mb_xy mirrored(const struct pen *pen, const char *sorts)
{
    if (!pen->before || !strchr(sorts, pen->before))
        return pen->at;
    return (struct mb_xy){ 2 * pen->at.x - pen->control.x, 2 * pen->at.y - pen->control.y };
}

static enum mb_rc straight(struct pen *pen, char command, bool relative)
{
    double n[2];
    struct mb_xy to = pen->at;
    enum mb_rc rc = numbers(pen, n, command == 'M' || command == 'L' ? 2 : 1);

    if (rc != MB_OK)
        return rc;
    if (command == 'H')
        to.x = relative ? to.x + n[0] : n[0];
    else if (command == 'V')
        to.y = relative ? to.y + n[0] : n[0];
    else
        to = place_of(pen, n, relative);
    return command == 'M' ? new_line(pen, to) : line_to(pen, to);
}

static enum mb_rc curved(struct pen *pen, char command, bool relative)
{
    double n[6];
    struct mb_xy first = mirrored(pen, command == 'S' ? "CS" : "QT");
    enum mb_rc rc = numbers(pen, n, command == 'C' ? 6 : command == 'T' ? 2 : 4);

    if (rc != MB_OK)
        return rc;
    switch (command) {
    case 'C':
        return cubic_to(pen, place_of(pen, n, relative), place_of(pen, n + 2, relative),
                        place_of(pen, n + 4, relative));
    case 'S':
        return cubic_to(pen, first, place_of(pen, n, relative), place_of(pen, n + 2, relative));
    case 'Q':
        return quad_to(pen, place_of(pen, n, relative), place_of(pen, n + 2, relative));
    default:
        return quad_to(pen, first, place_of(pen, n, relative));
    }
}

static enum mb_rc arc(struct pen *pen, bool relative)
{
    double n[3], to[2];
    bool large = false, sweep = false;
    enum mb_rc rc = numbers(pen, n, 3);

    if (rc == MB_OK)
        rc = flag(pen, &large);
    if (rc == MB_OK)
        rc = flag(pen, &sweep);
    if (rc == MB_OK)
        rc = numbers(pen, to, 2);
    if (rc == MB_OK)
        rc = arc_to(pen, n[0], n[1], n[2], large, sweep, place_of(pen, to, relative));
    return rc;
}

static enum mb_rc one_command(struct pen *pen, char command, bool relative)
{
    enum mb_rc rc;

    if (command == 'Z') {
        pen->last->closed = true;
        pen->at = pen->start;
        rc = MB_OK;
    } else if (command == 'A') {
        rc = arc(pen, relative);
    } else if (strchr("CSQT", command)) {
        rc = curved(pen, command, relative);
    } else {
        rc = straight(pen, command, relative);
    }
    pen->before = command;
    return rc;
}

/* A letter, or another set of numbers for the command before. */
static enum mb_rc next_command(struct pen *pen, char *command, bool *relative)
{
    char c = pen->rest.at[0], capital = c >= 'a' && c <= 'z' ? (char)(c - 32) : c;

    if (capital >= 'A' && capital <= 'Z') {
        if (!strchr("MLHVCSQTAZ", capital))
            return mb_fail(pen->err, MB_REFUSED,
                           "the path data have the command '%c' at character %zu, which is not "
                           "one that is read here (M L H V C S Q T A Z)",
                           c, place(pen));
        if (!pen->first && capital != 'M')
            return mb_fail(pen->err, MB_REFUSED, "the path data do not begin with M");
        *relative = c != capital;
        *command = capital;
        pen->rest.at++;
        pen->rest.len--;
        return MB_OK;
    }
    if (*command == 0 || *command == 'Z')
        return mb_fail(pen->err, MB_REFUSED, "the path data have no command at character %zu",
                       place(pen));
    if (*command == 'M')
        *command = 'L';
    return MB_OK;
}

/* The largest factor by which a move makes lengths longer. */
static double stretch(struct mb_svgmove m)
{
    double sum = m.a * m.a + m.b * m.b + m.c * m.c + m.d * m.d;
    double det = m.a * m.d - m.b * m.c;

    return sqrt((sum + sqrt(fmax(0, sum * sum - 4 * det * det))) / 2);
}

static enum mb_rc pen_init(struct pen *pen, struct mb_svgmove move)
{
    double factor = stretch(move);

    if (!isfinite(factor) || !(factor > 0))
        return mb_fail(pen->err, MB_REFUSED, "its transform leaves nothing to see");
    pen->move = move;
    pen->flat = MB_SVGPATH_FLAT / factor;
    return MB_OK;
}

enum mb_rc mb_svgpath_read(mb_arena *arena, struct mb_str data, struct mb_svgmove move,
                           size_t corners_max, const struct mb_svgline **out, struct mb_error *err)
{
    struct pen pen = {
        .arena = arena, .rest = data, .length = data.len, .corners_left = corners_max, .err = err
    };
    char command = 0;
    bool relative = false;
    enum mb_rc rc = pen_init(&pen, move);

    for (skip_blanks(&pen); rc == MB_OK && pen.rest.len > 0; skip_blanks(&pen)) {
        rc = next_command(&pen, &command, &relative);
        if (rc == MB_OK)
            rc = one_command(&pen, command, relative);
    }
    if (rc == MB_OK)
        *out = pen.first;
    return rc;
}

enum mb_rc mb_svgpath_ellipse(mb_arena *arena, struct mb_xy centre, double rx, double ry,
                              struct mb_svgmove move, size_t corners_max,
                              const struct mb_svgline **out, struct mb_error *err)
{
    struct pen pen = { .arena = arena, .corners_left = corners_max, .err = err };
    enum mb_rc rc = pen_init(&pen, move);
    struct mb_xy from = { centre.x + rx, centre.y }, over = { centre.x - rx, centre.y };

    if (rc == MB_OK)
        rc = new_line(&pen, from);
    if (rc == MB_OK)
        rc = arc_to(&pen, rx, ry, 0, false, true, over);
    if (rc == MB_OK)
        rc = arc_to(&pen, rx, ry, 0, false, true, from);
    if (rc == MB_OK) {
        pen.last->closed = true;
        *out = pen.first;
    }
    return rc;
}
