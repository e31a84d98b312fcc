/*
 * Draws what a camera would have seen in the demo: slabs, a fish, a skull, a tray of teeth, an old
 * label, papers with signatures.
 *
 *     draw FOLDER
 *
 * Pieces whose shares stand on a sheet are measured too (scene.h).
 */
#include <math.h>
#include <stdio.h>
#include <unistd.h>

#include "scene.h"

static const struct mb_ink chalk = { 0xD9D2C3, 0 }, shale = { 0x7E8184, 0 };
static const struct mb_ink filler = { 0x9A8F80, 0 }, putty = { 0x84705A, 0 };
static const struct mb_ink enamel = { 0x3B3F49, 0 }, blue = { 0x27408B, 0 };

/* A crown: arms that spread from a cup. Each arm has a middle, so that its tip can be a region of
 * its own whose edges are those of the whole. */
static void crown(struct ring *whole, struct ring *tip, int of_arm, double x, double y, double size)
{
    enum { ARMS = 9 };

    for (int i = 0; i < ARMS; i++) {
        double turn = -70 + 140.0 * i / (ARMS - 1), length = size * (0.85 + 0.15 * cos(3.0 * i));
        const struct {
            double radius, beside;
        } along[] = { { size * 0.25, -5.5 }, { length * 0.7, -3.2 }, { length, -2.4 },
                      { length, 2.4 },       { length * 0.7, 3.2 },  { size * 0.25, 5.5 } };

        for (int k = 0; k < 6; k++) {
            double a = (turn + along[k].beside) * M_PI / 180;
            double px = x + along[k].radius * sin(a), py = y - along[k].radius * cos(a);

            scene_corner(whole, px, py);
            if (i == of_arm && k > 0 && k < 5)
                scene_corner(tip, px, py);
        }
    }
    scene_corner(whole, x + size * 0.16, y + size * 0.12);
    scene_corner(whole, x, y + size * 0.3);
    scene_corner(whole, x - size * 0.16, y + size * 0.12);
}

static const struct mb_ink rust = { 0xA85F2A, 0 }, pyrite = { 0xB79A3E, 0 };
static const struct mb_ink shell = { 0xEDEBE4, 0 }, dark = { 0x3A342C, 0 };

/* A round spot, or an oval one. */
static void spot(struct scene *s, int x, int y, double wide, double high, struct mb_ink colour)
{
    struct ring ring = { .count = 0 };

    for (int i = 0; i < 24; i++)
        scene_corner(&ring, x + wide * cos(i * M_PI / 12), y + high * sin(i * M_PI / 12));
    scene_ink(s, &ring, colour, false);
}

static void slab_seen(struct scene *s)
{
    static const struct ring slab = { { { 48, 80 },
                                        { 480, 36 },
                                        { 904, 96 },
                                        { 924, 440 },
                                        { 840, 640 },
                                        { 384, 664 },
                                        { 72, 600 } },
                                      7 };
    static const struct ring patch = { { { 252, 416 }, { 292, 410 }, { 298, 448 }, { 258, 452 } },
                                       4 };
    static const struct ring across = { { { 505, 38 }, { 512, 300 }, { 504, 480 }, { 516, 657 } },
                                        4 };
    static const struct ring broken = { { { 178, 352 }, { 204, 386 } }, 2 };
    static const struct ring band = { { { 58, 330 }, { 290, 658 }, { 250, 646 }, { 64, 420 } },
                                      4 };
    struct ring a = { .count = 0 }, b = { .count = 0 }, tip = { .count = 0 }, none = { .count = 0 };

    scene_ink(s, &slab, chalk, true);
    scene_ink(s, &band, rust, false);
    crown(&a, &tip, 6, 270, 430, 230);
    crown(&b, &none, -1, 735, 440, 205);
    scene_individual(s, "A", "Uintacrinus socialis", "same layer, placed together", "own rock",
                     &a);
    scene_individual(s, "B", "Uintacrinus socialis", "same layer, placed together",
                     "reset in its own rock", &b);
    scene_region(s, "A", "filled", &patch, filler);
    scene_region(s, "A", "restored", &tip, putty);
    spot(s, 845, 520, 7, 6, pyrite);
    spot(s, 862, 533, 5, 6, pyrite);
    scene_join(s, "rock", "two slabs set together", &across);
    scene_join(s, "fossil", "broke in the ground", &broken);
}

static enum mb_rc draw_slab(void)
{
    static const struct mark marks[] = { { "slab-band", 160, 540, 1.5 },
                                         { "slab-specks", 850, 525, 3 },
                                         { "slab-seam", 508, 130, 1.5 } };
    struct scene s;
    enum mb_rc rc;

    scene_begin(&s, "slab", "24-0115", 960, 720);
    slab_seen(&s);
    scene_scale(&s, 200, 50);
    scene_photo(&s);
    scene_measured(&s, "reverse of the slab");
    rc = scene_end(&s);
    return rc ? rc : scene_marks(marks, 3, slab_seen);
}

/* One animal on both faces of a slab, with five substances; the back at another scale. */
static void plate_seen(struct scene *s)
{
    static const struct ring slab = { { { 60, 60 }, { 880, 40 }, { 910, 600 }, { 90, 640 } }, 4 };
    static const struct ring patch = { { { 448, 436 }, { 488, 430 }, { 494, 468 }, { 454, 472 } },
                                       4 };
    static const struct ring cup = { { { 440, 492 }, { 500, 492 }, { 482, 512 }, { 458, 512 } },
                                     4 };
    static const struct ring cracked = { { { 440, 492 }, { 500, 492 } }, 2 };
    static const struct ring across = { { { 62, 210 }, { 300, 140 }, { 520, 48 } }, 3 };
    struct ring whole = { .count = 0 }, tip = { .count = 0 }, other = { .count = 0 };
    static const struct ring cut = { { { 898, 358 }, { 780, 364 }, { 898, 366 } }, 3 };
    struct ring cast = { .count = 0 }, none = { .count = 0 };

    scene_ink(s, &slab, chalk, true);
    scene_ink(s, &cut, dark, false);
    for (int i = 0; i < 3; i++)
        spot(s, 440 + 26 * i, 552 - i, 6, 6, dark);
    crown(&whole, &tip, 6, 470, 430, 330);
    crown(&none, &other, 1, 470, 430, 330);
    none.count = 0;
    crown(&none, &cast, 4, 470, 430, 330);
    scene_individual(s, "A", "Uintacrinus socialis", "found together", "own rock", &whole);
    scene_region(s, "A", "filled", &patch, filler);
    scene_region(s, "A", "restored", &tip, putty);
    scene_region(s, "A", "foreign", &other, enamel);
    scene_region(s, "A", "replica", &cast, filler);
    scene_region(s, "A", "repaired", &cup, scene_bone);
    scene_join(s, "fossil", "broke on the bench", &cracked);
    scene_join(s, "rock", "corner set back", &across);
}

static void plate_front(struct scene *s)
{
    scene_begin(s, "plate-front", "24-0125", 960, 720);
    plate_seen(s);
    scene_scale(s, 200, 50);
    scene_photo(s);
}

static void plate_back(struct scene *s)
{
    static const struct ring slab = { { { 60, 50 }, { 660, 70 }, { 640, 470 }, { 70, 450 } }, 4 };
    static const struct ring arms = {
        { { 200, 120 }, { 420, 100 }, { 560, 240 }, { 430, 380 }, { 220, 340 } }, 5
    };
    static const struct ring patch = { { { 300, 160 }, { 380, 150 }, { 370, 210 } }, 3 };
    static const struct ring back = { { { 300, 260 }, { 460, 250 }, { 440, 330 }, { 310, 320 } },
                                      4 };

    scene_begin(s, "plate-back", "24-0125", 720, 540);
    s->view = "back";
    scene_ink(s, &slab, chalk, true);
    scene_individual(s, "A", "Uintacrinus socialis", "found together", "own rock", &arms);
    scene_region(s, "A", "filled", &patch, filler);
    scene_region(s, "A", "repaired", &back, scene_bone);
    scene_scale(s, 150, 50);
    scene_photo(s);
}

static enum mb_rc draw_plate(void)
{
    static const struct mark marks[] = { { "plate-corner", 230, 150, 1.5 },
                                         { "plate-cut", 830, 362, 2 },
                                         { "plate-pits", 466, 540, 3 } };
    struct scene front, back;
    struct scene *const both[] = { &front, &back };
    enum mb_rc rc;

    plate_front(&front);
    plate_back(&back);
    scene_measured_together(both, 2, "plate", "edges of the slab");
    rc = scene_end(&front);
    if (scene_end(&back) || rc)
        return MB_NO;
    return scene_marks(marks, 3, plate_seen);
}

static void fish_seen(struct scene *s)
{
    static const struct ring block = { { { 30, 60 }, { 1170, 40 }, { 1180, 440 }, { 40, 430 } },
                                       4 };
    static const struct ring body = { { { 90, 245 },
                                        { 190, 180 },
                                        { 360, 140 },
                                        { 560, 135 },
                                        { 760, 170 },
                                        { 930, 215 },
                                        { 1010, 215 },
                                        { 1110, 120 },
                                        { 1090, 240 },
                                        { 1120, 370 },
                                        { 1010, 280 },
                                        { 930, 275 },
                                        { 740, 320 },
                                        { 540, 350 },
                                        { 340, 335 },
                                        { 180, 300 } },
                                      16 };
    static const struct ring tail = { { { 1010, 215 }, { 1110, 120 }, { 1090, 240 } }, 3 };
    static const struct ring back = { { { 360, 140 }, { 560, 135 }, { 555, 215 }, { 370, 220 } },
                                      4 };
    static const struct ring patch = { { { 600, 240 }, { 690, 235 }, { 700, 275 }, { 610, 280 } },
                                       4 };
    static const struct ring broken = { { { 365, 140 }, { 372, 220 }, { 555, 215 }, { 560, 135 } },
                                        4 };
    static const struct ring nick = { { { 1090, 442 }, { 1134, 442 }, { 1104, 404 } }, 3 };

    scene_ink(s, &block, chalk, true);
    scene_ink(s, &nick, scene_paper, false);
    scene_individual(s, "A", "large bony fish", "found together", "own rock", &body);
    scene_region(s, "A", "restored", &tail, putty);
    scene_region(s, "A", "repaired", &back, scene_bone);
    scene_region(s, "A", "filled", &patch, filler);
    scene_join(s, "fossil", "broke in the jacket", &broken);
    for (int i = 0; i < 3; i++)
        spot(s, 440 + 46 * i, 262 + 6 * i, 18, 13, shell);
}

static enum mb_rc draw_fish(void)
{
    static const struct mark marks[] = { { "fish-oysters", 486, 262, 2.5 },
                                         { "fish-break", 368, 185, 2.5 },
                                         { "fish-nick", 1106, 420, 3 } };
    struct scene s;
    enum mb_rc rc;

    scene_begin(&s, "fish", "24-0117", 1200, 540);
    fish_seen(&s);
    scene_scale(&s, 200, 250);
    scene_photo(&s);
    scene_measured(&s, "underside, in the rock");
    rc = scene_end(&s);
    return rc ? rc : scene_marks(marks, 3, fish_seen);
}

static enum mb_rc draw_skull(void)
{
    static const struct ring block = { { { 40, 50 }, { 1060, 30 }, { 1090, 430 }, { 60, 460 } },
                                       4 };
    static const struct ring skull = { { { 110, 260 },
                                         { 420, 205 },
                                         { 640, 170 },
                                         { 860, 150 },
                                         { 980, 200 },
                                         { 1000, 290 },
                                         { 900, 300 },
                                         { 760, 285 },
                                         { 420, 290 } },
                                       9 };
    static const struct ring jaw = {
        { { 130, 300 }, { 420, 320 }, { 760, 320 }, { 960, 330 }, { 930, 370 }, { 420, 360 } }, 6
    };
    static const struct ring eye = { { { 720, 205 }, { 770, 195 }, { 790, 225 }, { 740, 240 } },
                                     4 };
    struct scene s;

    scene_begin(&s, "skull", "24-0130", 1120, 560);
    scene_ink(&s, &block, shale, true);
    scene_ink(&s, &skull, scene_bone, false);
    scene_ink(&s, &jaw, scene_bone, false);
    scene_ink(&s, &eye, shale, false);
    for (int i = 0; i < 14; i++) {
        const struct ring tooth = {
            { { 200 + 38 * i, 293 }, { 214 + 38 * i, 293 }, { 208 + 38 * i, 316 } }, 3
        };

        scene_ink(&s, &tooth, enamel, false);
    }
    scene_scale(&s, 250, 200);
    scene_photo(&s);
    return scene_end(&s);
}

/* Eighty teeth in rows of ten, so that the tray can be counted: the fifth of the third row has two
 * tips, the first of the last is pale. */
static void teeth_seen(struct scene *s)
{
    static const struct ring burnt = { { { 0, 610 }, { 70, 650 }, { 40, 680 }, { 0, 680 } }, 4 };

    scene_ink(s, &burnt, dark, false);
    for (int i = 0; i < 80; i++) {
        int x = 40 + i % 10 * 84, y = 30 + i / 10 * 76, lean = i * 7 % 11 - 5;
        const struct ring tooth = { { { x, y + 44 },
                                      { x + 24 + lean, y },
                                      { x + 48, y + 44 },
                                      { x + 36, y + 52 },
                                      { x + 24, y + 46 },
                                      { x + 12, y + 52 } },
                                    6 };
        const struct ring second = { { { x + 20, y + 44 }, { x + 44, y + 4 }, { x + 48, y + 44 } },
                                     3 };

        scene_ink(s, &tooth, i == 70 ? filler : enamel, false);
        if (i == 24)
            scene_ink(s, &second, enamel, false);
    }
}

static enum mb_rc draw_teeth(void)
{
    static const struct mark marks[] = { { "teeth-burnt", 60, 640, 2.5 },
                                         { "teeth-double", 400, 208, 3 },
                                         { "teeth-pale", 64, 588, 3 } };
    struct scene s;
    enum mb_rc rc;

    scene_begin(&s, "teeth", "24-0141", 900, 720);
    teeth_seen(&s);
    scene_scale(&s, 200, 50);
    scene_photo(&s);
    rc = scene_end(&s);
    return rc ? rc : scene_marks(marks, 3, teeth_seen);
}

static enum mb_rc draw_ammonite(const char *name, const char *number)
{
    struct scene s;

    scene_begin(&s, name, number, 720, 720);
    for (int turn = 0; turn < 3; turn++) {
        struct ring whorl = { .count = 0 };
        double radius = 280 - 85 * turn;

        for (int i = 0; i < 60; i++)
            scene_corner(&whorl, 360 + radius * cos(i * M_PI / 30) * (1 + 0.02 * (i % 2)),
                         340 + radius * sin(i * M_PI / 30) * (1 + 0.02 * (i % 2)));
        scene_ink(&s, &whorl, turn % 2 ? putty : scene_bone, true);
    }
    scene_scale(&s, 200, 100);
    scene_photo(&s);
    return scene_end(&s);
}

/* A card or paper with lines of writing; `marks` of them are signatures. */
static enum mb_rc draw_paper(const char *name, const char *const *lines, int marks)
{
    const struct mb_fill card = { .pattern = MB_PATTERN_SOLID, .ink = scene_white };
    const struct mb_stroke frame = { .width_mm = 2, .ink = scene_edge };
    const struct mb_stroke pen = { .width_mm = 3, .ink = blue };
    double y = 40;
    struct scene s;

    scene_begin(&s, name, "", 900, 560);
    mb_canvas_rect(s.canvas, 20, 20, 860, 520, &card, &frame);
    for (; *lines; lines++, y += 44)
        scene_say(&s, *lines, 50, y, 24, scene_black);
    for (int k = 0; k < marks; k++) {
        struct mb_mm stroke[24];

        for (int i = 0; i < 24; i++)
            stroke[i] =
                (struct mb_mm){ 80 + 400 * k + 10 * i, 450 + 22 * sin(i * 1.3 + k) * cos(i * 0.4) };
        mb_canvas_polyline(s.canvas, stroke, 24, &pen);
    }
    scene_photo(&s);
    return scene_end(&s);
}

static enum mb_rc draw_papers(void)
{
    static const char *const label[] = { "Amonite", "Montana, 1974 (?)", "- Uncle R.", NULL };
    static const char *const lease[] = { "LEASE FOR COLLECTING",
                                         "between the owner of the ranch",
                                         "and Harrow & Vane Preparation",
                                         "from 1 April 2023 to 15 June 2024",
                                         "the cut east of the "
                                         "dry fork, fenced",
                                         NULL };
    static const char *const receipt[] = { "RECEIPT", "one slab, handed back after preparation",
                                           "nothing missing, nothing new to see", NULL };
    static const char *const permit[] = { "PERMIT GF-2024-07", "fossils of vertebrates, by hand",
                                          "to the museum named in it, not for sale", NULL };
    enum mb_rc rc = draw_paper("label", label, 0);

    if (!rc)
        rc = draw_paper("lease", lease, 2);
    if (!rc)
        rc = draw_paper("receipt", receipt, 2);
    return rc ? rc : draw_paper("permit", permit, 1);
}

int main(int argc, char **argv)
{
    enum mb_rc rc;

    if (argc != 2 || chdir(argv[1]) != 0) {
        fprintf(stderr, "usage: draw FOLDER\n");
        return 2;
    }
    rc = draw_slab();
    if (!rc)
        rc = draw_plate();
    if (!rc)
        rc = draw_fish();
    if (!rc)
        rc = draw_skull();
    if (!rc)
        rc = draw_teeth();
    if (!rc)
        rc = draw_ammonite("ammonite", "24-0201");
    if (!rc)
        rc = draw_ammonite("painted", "24-0160");
    if (!rc)
        rc = draw_papers();
    mb_canvas_shutdown();
    return (int)rc;
}
