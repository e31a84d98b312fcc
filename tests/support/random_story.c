#include "random_story.h"

#include <stdarg.h>
#include <string.h>

#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

/* ---- values ---- */

static const char *one(struct random_story *s, const char *const *list, size_t count)
{
    return list[dice_roll(&s->dice, count)];
}

#define ONE(...)                                                   \
    one(s, (const char *const[]){ __VA_ARGS__ },                   \
        sizeof((const char *const[]){ __VA_ARGS__ }) / sizeof(const char *))

static const char *text(struct random_story *s, const char *format, ...)
{
    va_list args;
    char *out;

    va_start(args, format);
    out = mb_arena_vprintf(s->ledger->arena, format, args);
    va_end(args);
    return out;
}

static size_t roll(struct random_story *s, size_t sides)
{
    return dice_roll(&s->dice, sides);
}

static const char *day(struct random_story *s)
{
    switch (roll(s, 8)) {
    case 0:
        return text(s, "\"2026-%02zu\"", 1 + roll(s, 12));
    case 1:
        return "\"2025\"";
    case 2:
        return text(s, "\"2026-05-%02zu/2026-05-%02zu\"", 1 + roll(s, 9), 10 + roll(s, 9));
    case 3:
        return "{\"answer\":\"not known\"}";
    default:
        return text(s, "\"2026-%02zu-%02zu\"", 1 + roll(s, 12), 1 + roll(s, 28));
    }
}

static const char *pieces(struct random_story *s)
{
    return roll(s, 12) ? text(s, "%zu", roll(s, 60)) : "{\"answer\":\"not known\"}";
}

static const char *party(struct random_story *s)
{
    return roll(s, 10) ? text(s, "{\"ref\":\"party/P%zu\"}", roll(s, 5))
                       : "{\"answer\":\"not known\"}";
}

static const char *site(struct random_story *s)
{
    return text(s, "{\"ref\":\"site/S%zu\"}", roll(s, 3));
}

static const char *label(struct random_story *s)
{
    return ONE("\"us\"", "\"client\"", "\"collector\"", "\"museum\"", "\"private person\"");
}

/* A specimen that is there; now and then one that is not. */
static const char *specimen(struct random_story *s)
{
    size_t known = s->specimens ? roll(s, (size_t)s->specimens) : 0;

    return text(s, "specimen/26-%04zu", roll(s, 40) ? known : 9000 + known);
}

static const char *new_specimen(struct random_story *s)
{
    return text(s, "specimen/26-%04d", s->specimens++);
}

/* ---- putting ---- */

static const char *put(struct random_story *s, const char *sub, const char *kind,
                       const char *fields)
{
    struct mb_entry entry =
        temp_ledger_put_by(s->ledger, s->ledger->owner, sub, kind, fields);
    mb_arena *arena = s->ledger->arena;
    struct mb_str leaf = mb_b64u(arena, entry.leaf.b, sizeof entry.leaf.b);

    if (s->count == s->room) {
        size_t room = s->room ? 2 * s->room : 64;
        struct told_of *more = MB_ARRAY(arena, room, struct told_of);

        if (s->count)
            memcpy(more, s->entries, s->count * sizeof *more);
        s->entries = more;
        s->room = room;
    }
    s->entries[s->count] = (struct told_of){ sub, kind, mb_arena_copy(arena, leaf.at, leaf.len) };
    return s->entries[s->count++].leaf;
}

static const struct told_of *any_entry(struct random_story *s)
{
    return &s->entries[roll(s, s->count)];
}

/* ---- acts ---- */

static void find(struct random_story *s)
{
    put(s, new_specimen(s), "collecting",
        text(
            s,
            "{\"open\":{\"objectForm\":%s},\"sale\":{\"eventDate\":%s,\"site\":%s,"
            "\"objectQuantity\":%s,\"verbatimIdentification\":%s,\"materialClass\":\"vertebrate\","
            "\"horizon\":{\"ref\":\"horizon/H%zu\"},\"recordedBy\":[%s,%s],"
            "\"permission\":{\"ref\":\"permission/L%zu\"}},\"land\":{\"mass\":{\"value\":\"12.50\","
            "\"unit\":%s},\"purpose\":\"commercial\"},\"science\":{\"decimalLatitude\":\"38.9\","
            "\"fieldDay\":{\"ref\":\"field-day/D%zu\"}}}",
            ONE("\"slab\"", "\"lot\"", "\"single\""), day(s), site(s), pieces(s),
            ONE("\"crinoid slab\"", "\"shark teeth\"", "\"W\xC3\xBCrm\"", "\"big fish\""),
            roll(s, 2), party(s), party(s), roll(s, 2), ONE("\"kg\"", "\"lb\"", "\"g\""),
            roll(s, 2)));
}

static void arrive(struct random_story *s)
{
    const char *sub = roll(s, 3) ? new_specimen(s) : specimen(s);

    put(s, sub, "arrival",
        text(s,
             "{\"open\":{\"objectForm\":\"single\"},\"sale\":{\"receivedOn\":%s,\"fromLabel\":%s,"
             "\"reason\":%s,\"objectQuantity\":%s,\"statedIdentification\":\"ammonite\"},"
             "\"science\":{\"receivedFrom\":%s},\"private\":{\"owner\":%s}}",
             day(s), label(s), ONE("\"preparation\"", "\"return\"", "\"storage\""), pieces(s),
             party(s), party(s)));
}

static void divide(struct random_story *s)
{
    const char *parent = specimen(s), *rows = "", *children[3], *leaf;
    size_t count = 1 + roll(s, 3), into = 0;

    for (size_t i = 0; i < count; i++) {
        size_t given = roll(s, 30);

        children[i] = new_specimen(s);
        into += given;
        rows = text(s, "%s%s{\"specimen\":{\"ref\":\"%s\"},\"form\":\"lot\",\"quantity\":%zu}",
                    rows, i ? "," : "", children[i], given);
    }
    leaf = put(s, parent, "division",
               text(s,
                    "{\"open\":{\"side\":\"divided\"},\"sale\":{\"date\":%s,\"purpose\":%s,"
                    "\"remains\":%s,\"intoCount\":%zu,\"intoQuantity\":%zu,\"remainder\":%s,"
                    "\"consumed\":%s,\"into*\":[%s]}}",
                    day(s), ONE("\"drawn from lot\"", "\"cut\""),
                    ONE("\"yes, smaller\"", "\"no, used up\""), count, into, pieces(s), pieces(s),
                    rows));
    for (size_t i = 0; i < count; i++)
        put(s, children[i], "division",
            text(s,
                 "{\"open\":{\"side\":\"came out\",\"outOf\":{\"entry\":\"%s\"},"
                 "\"objectForm\":\"lot\"},\"sale\":{\"parent\":{\"ref\":\"%s\"},"
                 "\"objectQuantity\":%s,\"date\":%s}}",
                 leaf, parent, pieces(s), day(s)));
}

static void join(struct random_story *s)
{
    const char *a = specimen(s), *b = specimen(s), *whole = new_specimen(s), *leaf;
    const char *why = ONE("refit", "lot pooled", "placed together");

    leaf = put(s, whole, "joining",
               text(s,
                    "{\"open\":{\"side\":\"whole\"},\"sale\":{\"date\":%s,\"why\":\"%s\","
                    "\"association\":\"found together\",\"parts*\":[{\"ref\":\"%s\"},"
                    "{\"ref\":\"%s\"}]}}",
                    day(s), why, a, b));
    for (int i = 0; i < (strcmp(a, b) ? 2 : 1); i++)
        put(s, i ? b : a, "joining",
            text(s,
                 "{\"open\":{\"side\":\"part\",\"joins\":{\"entry\":\"%s\"}},\"sale\":{"
                 "\"whole\":{\"ref\":\"%s\"},\"date\":%s,\"why\":\"%s\"}}",
                 leaf, whole, day(s), why));
}

static void lose(struct random_story *s)
{
    const char *sub = specimen(s);
    const char *closes = "";

    if (roll(s, 3) == 0 && s->count)
        closes = text(s, ",\"closes\":{\"entry\":\"%s\"}", any_entry(s)->leaf);
    put(s, sub, "loss",
        text(s,
             "{\"open\":{\"nature\":%s},\"sale\":{\"date\":%s,\"quantity\":%s%s}}",
             ONE("\"missing\"", "\"stolen\"", "\"destroyed\"", "\"recovered\"", "\"used up\""),
             day(s), pieces(s), closes));
}

static void count_again(struct random_story *s)
{
    put(s, specimen(s), "measurement",
        text(s,
             "{\"sale\":{\"what\":%s,\"value\":\"%zu\",\"unit\":\"piece\",\"on\":%s,\"recount\":%s}"
             "}",
             ONE("\"pieces\"", "\"length\""), roll(s, 50), day(s), pieces(s)));
}

static void hand_over(struct random_story *s)
{
    put(s, specimen(s), "custody",
        text(s,
             "{\"sale\":{\"handedOver\":%s,\"received\":%s,\"fromLabel\":%s,\"toLabel\":%s,"
             "\"reason\":\"loan\",\"acknowledged\":\"one side only\"},\"science\":{\"from\":%s,"
             "\"to\":%s,\"dueBack\":%s}}",
             day(s), day(s), label(s), label(s), party(s), party(s), day(s)));
}

static void pass_on(struct random_story *s)
{
    put(s, specimen(s), "title",
        text(s,
             "{\"sale\":{\"date\":%s,\"fromLabel\":%s,\"toLabel\":%s,\"manner\":\"sale\"},"
             "\"science\":{\"from\":%s,\"to\":%s,\"part\":%s},\"private\":{\"price\":{\"value\":"
             "\"12\",\"unit\":\"EUR\"}}}",
             day(s), roll(s, 4) ? label(s) : "\"nobody before\"", label(s), party(s), party(s),
             ONE("\"all\"", "\"1/2\"", "\"1/3\"", "{\"answer\":\"not known\"}")));
}

static void work(struct random_story *s)
{
    static const struct {
        const char *kind, *fields;
    } works[] = {
        { "preparation", "{\"sale\":{\"preparationDate\":%s,\"preparedBy\":[%s],\"steps\":[{"
                         "\"method\":\"airscribe\",\"where\":\"left margin\"},{\"method\":"
                         "\"join\",\"material\":\"acrylic\"}],\"lostInWork\":\"none\"}}" },
        { "condition", "{\"sale\":{\"examinedOn\":%s,\"examinedBy\":[%s],\"occasion\":\"for sale\","
                       "\"mass\":{\"value\":\"3.4\",\"unit\":\"kg\"}}}" },
        { "identification",
          "{\"open\":{\"whatItIs\":\"natural fossil\",\"vernacularName\":"
          "\"crinoid\"},\"sale\":{\"dateIdentified\":%s,\"identifiedBy\":[%s]}}" },
        { "numbering", "{\"science\":{\"number\":\"WSM 4471\",\"numberType\":\"catalogue\","
                       "\"date\":%s,\"givenBy\":%s}}" },
        { "making", "{\"open\":{\"what\":\"cast\"},\"sale\":{\"date\":%s,\"madeBy\":[%s]}}" },
        { "note", "{\"private\":{\"date\":%s,\"text\":\"Ask them\",\"remarks\":%s}}" },
    };
    const char *sub = specimen(s);
    size_t i = roll(s, COUNT(works));
    const char *when = day(s), *who = party(s);
    struct mb_str rest = mb_str_of(works[i].fields), before;
    const char *out = "";

    /* the two %s of each, in order */
    for (int n = 0; rest.len; n++) {
        bool more = mb_str_cut(rest, '%', &before, &rest);

        if (n > 0) {
            before.at += 1;
            before.len -= 1;
        }
        out = text(s, "%s%.*s%s", out, MB_STR_ARG(before), !more ? "" : n == 0 ? when : who);
    }
    put(s, sub, works[i].kind, out);
}

static void people_and_places(struct random_story *s)
{
    switch (roll(s, 8)) {
    case 0:
        put(s, text(s, "party/P%zu", roll(s, 5)), "party",
            text(s, "{\"science\":{\"partyType\":\"person\",\"name\":%s},\"private\":{\"namedTo\":"
                    "\"anyone\"},\"sale\":{\"neutralLabel\":\"somebody\"}}",
                 ONE("\"Wren Castellane\"", "\"Teodor Vane\"", "\"\xC3\x89lo\xC3\xAFse\"")));
        return;
    case 1:
        put(s, text(s, "site/S%zu", roll(s, 3)), "site",
            text(s, "{\"open\":{\"countryCode\":\"US\"},\"sale\":{\"stateProvince\":\"Kansas\","
                    "\"county\":%s},\"science\":{\"siteName\":%s,\"decimalLatitude\":\"38.941\"}}",
                 ONE("\"Gove\"", "{\"answer\":\"not known\"}"),
                 ONE("\"Sallow Draw\"", "\"Gannet Flat\"")));
        return;
    case 2:
        put(s, text(s, "horizon/H%zu", roll(s, 2)), "horizon",
            "{\"sale\":{\"formation\":\"Niobrara\",\"earliestStage\":\"Santonian\"},"
            "\"science\":{\"layerName\":\"layer A\"}}");
        return;
    case 3:
        put(s, text(s, "permission/L%zu", roll(s, 2)), "permission",
            text(s, "{\"sale\":{\"permissionType\":\"lease\",\"saleAllowed\":\"yes\"},\"land\":{"
                    "\"grantor\":%s,\"holder\":%s,\"validFrom\":%s,\"validUntil\":%s,"
                    "\"sites*\":[%s,%s],\"limits\":[{\"amount\":\"25\",\"unit\":\"lb\",\"per\":"
                    "\"day\"}]}}",
                 party(s), party(s), day(s), day(s), site(s), site(s)));
        return;
    case 4:
        put(s, text(s, "permission/L%zu", roll(s, 2)), "permission-change",
            text(s, "{\"land\":{\"what\":%s,\"from\":%s,\"newValidUntil\":%s,\"newHolder\":%s}}",
                 ONE("\"extended\"", "\"revoked\"", "\"ended early\"", "\"suspended\""), day(s),
                 roll(s, 2) ? day(s) : "\"until ended\"", party(s)));
        return;
    case 5:
        put(s, text(s, "field-day/D%zu", roll(s, 2)), "field-day",
            text(s, "{\"sale\":{\"eventDate\":%s,\"site\":%s,\"recordedBy\":[%s]},\"land\":{"
                    "\"present\":[{\"party\":%s,\"role\":\"named\"}],\"tools\":[\"hand tools\"]}}",
                 day(s), site(s), party(s), party(s)));
        return;
    case 6:
        put(s, text(s, "place/T%zu", roll(s, 3)), "placement",
            text(s, "{\"private\":{\"what*\":[{\"ref\":\"%s\"},{\"ref\":\"%s\"}],\"date\":%s,"
                    "\"placeName\":\"shelf\"}}",
                 specimen(s), specimen(s), day(s)));
        return;
    default:
        put(s, text(s, "dealing/J%zu", roll(s, 2)), "dealing",
            text(s, "{\"science\":{\"type\":\"loan in\",\"parties\":[{\"party\":%s,\"role\":"
                    "\"client\"}],\"opened\":%s,\"specimens*\":[{\"ref\":\"%s\"}]}}",
                 party(s), day(s), specimen(s)));
    }
}

static void papers(struct random_story *s)
{
    const char *sub = specimen(s);
    const struct told_of *about = s->count ? any_entry(s) : NULL;
    const char *leaf = about ? about->leaf : "x";

    switch (roll(s, 6)) {
    case 0:
        put(s, sub, "document",
            text(s, "{\"sale\":{\"docType\":\"letter\"},\"land\":{\"title\":\"A letter\","
                    "\"docDate\":%s,\"issuedBy\":%s}}",
                 day(s), party(s)));
        return;
    case 1:
        put(s, sub, "claim",
            text(s, "{\"open\":{\"nature\":\"ownership\",\"status\":%s,\"hold\":\"do not sell\","
                    "\"concerns\":{\"entry\":\"%s\"}},\"sale\":{\"date\":%s}}",
                 ONE("\"open\"", "\"settled\""), leaf, day(s)));
        return;
    case 2:
        put(s, about ? about->sub : sub, "countersign",
            text(s, "{\"open\":{\"whichEntry\":{\"entry\":\"%s\"},\"how\":\"key\",\"role\":"
                    "\"receiver\"}}",
                 leaf));
        return;
    case 3:
        put(s, sub, "certificate",
            text(s, "{\"open\":{\"audience\":%s,\"held\":\"x\",\"shown\":\"x\",\"withheld\":[]},"
                    "\"own\":{\"to\":%s}}",
                 ONE("\"buyer\"", "\"public\""), party(s)));
        return;
    case 4:
        put(s, about ? about->sub : sub, "withdrawal",
            text(s, "{\"open\":{\"which\":{\"entry\":\"%s\"},\"why\":\"sale undone\"}}", leaf));
        return;
    default:
        put(s, sub, "relation",
            text(s, "{\"sale\":{\"other\":{\"ref\":\"%s\"},\"relation\":\"counterpart of\","
                    "\"date\":%s}}",
                 specimen(s), day(s)));
    }
}

static void correct(struct random_story *s)
{
    const struct told_of *target;
    const char *sub, *action, *fields;

    if (!s->count)
        return;
    target = any_entry(s);
    sub = roll(s, 25) ? target->sub : specimen(s); /* now and then on another's record */
    action = roll(s, 2) ? "change fields"
                        : ONE("void (double)", "void (did not happen)", "void (wrong specimen)");
    fields = strcmp(action, "change fields") ? ""
             : ONE(",\"sale\":{\"objectQuantity\":7}", ",\"sale\":{\"eventDate\":\"2026-02-02\"}",
                   ",\"sale\":{\"date\":\"2026-03-03\",\"toLabel\":\"museum\"}",
                   ",\"science\":{\"name\":\"Another Name\"}",
                   ",\"sale\":{\"site\":{\"ref\":\"site/S2\"}}",
                   ",\"sale\":{\"date\":null,\"quantity\":null}",
                   ",\"land\":{\"newValidUntil\":\"2027-01-01\"}",
                   ",\"private\":{\"owner\":{\"ref\":\"party/P1\"},\"remarks\":\"changed\"}",
                   ",\"sale\":{\"objectQuantity\":{\"answer\":\"not known\"}}",
                   ",\"science\":{\"siteName\":\"Renamed Draw\"}");
    if (*fields && strcmp(target->kind, "loss") == 0 && roll(s, 2))
        fields = ",\"sale\":{\"quantity\":null}";
    put(s, sub, "correction",
        text(s, "{\"open\":{\"target\":{\"entry\":\"%s\"},\"action\":\"%s\",\"why\":\"typing\","
                "\"changesFacts\":\"yes\"}%s}",
             target->leaf, action, fields));
}

void random_story_begin(struct random_story *s, struct temp_ledger *ledger, uint64_t seed)
{
    *s = (struct random_story){ .ledger = ledger, .dice = { seed } };
}

void random_story_act(struct random_story *s)
{
    static void (*const acts[])(struct random_story *) = {
        find,  find,    arrive, divide, join,    lose, count_again, hand_over, pass_on,
        work,  work,    people_and_places, people_and_places, papers, correct, correct, correct,
    };

    acts[roll(s, COUNT(acts))](s);
}
