#include "lithology.h"

#include <string.h>

#include "text.h"

const char *const mb_lithology_word[MB_LITHO_COUNT] = {
    [MB_LITHO_UNKNOWN] = "other rock",
    [MB_LITHO_ABSENT] = "not recorded",
    [MB_LITHO_CHALK] = "chalk",
    [MB_LITHO_LIMESTONE] = "limestone",
    [MB_LITHO_MARL] = "marl",
    [MB_LITHO_DOLOMITE] = "dolomite",
    [MB_LITHO_SHALE] = "shale",
    [MB_LITHO_MUDSTONE] = "mudstone, clay",
    [MB_LITHO_SILTSTONE] = "siltstone",
    [MB_LITHO_SANDSTONE] = "sandstone",
    [MB_LITHO_CONGLOMERATE] = "conglomerate",
    [MB_LITHO_ASH] = "ash, bentonite",
    [MB_LITHO_COAL] = "coal",
    [MB_LITHO_IRONSTONE] = "ironstone, concretions",
    [MB_LITHO_GYPSUM] = "gypsum, salt",
    [MB_LITHO_CHERT] = "chert, flint",
    [MB_LITHO_IGNEOUS] = "igneous rock",
};

static const struct {
    const char *word;
    enum mb_lithology is;
} words[] = {
    { "chalk", MB_LITHO_CHALK },
    { "chalkstone", MB_LITHO_CHALK },
    { "limestone", MB_LITHO_LIMESTONE },
    { "grainstone", MB_LITHO_LIMESTONE },
    { "packstone", MB_LITHO_LIMESTONE },
    { "wackestone", MB_LITHO_LIMESTONE },
    { "micrite", MB_LITHO_LIMESTONE },
    { "coquina", MB_LITHO_LIMESTONE },
    { "calcarenite", MB_LITHO_LIMESTONE },
    { "travertine", MB_LITHO_LIMESTONE },
    { "marl", MB_LITHO_MARL },
    { "marlstone", MB_LITHO_MARL },
    { "dolomite", MB_LITHO_DOLOMITE },
    { "dolostone", MB_LITHO_DOLOMITE },
    { "shale", MB_LITHO_SHALE },
    { "slate", MB_LITHO_SHALE },
    { "mudstone", MB_LITHO_MUDSTONE },
    { "claystone", MB_LITHO_MUDSTONE },
    { "clay", MB_LITHO_MUDSTONE },
    { "mud", MB_LITHO_MUDSTONE },
    { "siltstone", MB_LITHO_SILTSTONE },
    { "silt", MB_LITHO_SILTSTONE },
    { "loess", MB_LITHO_SILTSTONE },
    { "sandstone", MB_LITHO_SANDSTONE },
    { "sand", MB_LITHO_SANDSTONE },
    { "quartzite", MB_LITHO_SANDSTONE },
    { "greensand", MB_LITHO_SANDSTONE },
    { "arkose", MB_LITHO_SANDSTONE },
    { "greywacke", MB_LITHO_SANDSTONE },
    { "conglomerate", MB_LITHO_CONGLOMERATE },
    { "gravel", MB_LITHO_CONGLOMERATE },
    { "breccia", MB_LITHO_CONGLOMERATE },
    { "lag", MB_LITHO_CONGLOMERATE },
    { "bentonite", MB_LITHO_ASH },
    { "ash", MB_LITHO_ASH },
    { "tuff", MB_LITHO_ASH },
    { "coal", MB_LITHO_COAL },
    { "lignite", MB_LITHO_COAL },
    { "peat", MB_LITHO_COAL },
    { "ironstone", MB_LITHO_IRONSTONE },
    { "concretion", MB_LITHO_IRONSTONE },
    { "concretions", MB_LITHO_IRONSTONE },
    { "nodules", MB_LITHO_IRONSTONE },
    { "siderite", MB_LITHO_IRONSTONE },
    { "gypsum", MB_LITHO_GYPSUM },
    { "anhydrite", MB_LITHO_GYPSUM },
    { "halite", MB_LITHO_GYPSUM },
    { "salt", MB_LITHO_GYPSUM },
    { "chert", MB_LITHO_CHERT },
    { "flint", MB_LITHO_CHERT },
    { "diatomite", MB_LITHO_CHERT },
    { "basalt", MB_LITHO_IGNEOUS },
    { "granite", MB_LITHO_IGNEOUS },
    { "lava", MB_LITHO_IGNEOUS },
    { "rhyolite", MB_LITHO_IGNEOUS },
    { "andesite", MB_LITHO_IGNEOUS },
    { "dolerite", MB_LITHO_IGNEOUS },
    { "covered", MB_LITHO_ABSENT },
};

static bool ends_the_noun(const char *word)
{
    static const char *const stops[] = { "with", "and", "over", "under", "between", "above",
                                         "below", "or" };

    for (size_t i = 0; i < sizeof stops / sizeof *stops; i++)
        if (strcmp(word, stops[i]) == 0)
            return true;
    return false;
}

enum mb_lithology mb_lithology_of(struct mb_str rock)
{
    static const char letters[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ";
    enum mb_lithology found = MB_LITHO_UNKNOWN;
    size_t at = 0;

    if (!rock.len || mb_str_is(rock, "not known") || mb_str_is(rock, "not examined"))
        return MB_LITHO_ABSENT;
    while (at < rock.len) {
        char word[24];
        size_t len = 0;

        if ((rock.at[at] == ',' || rock.at[at] == ';') && found != MB_LITHO_UNKNOWN)
            return found;
        while (at + len < rock.len && strchr(letters, rock.at[at + len]) && rock.at[at + len])
            len++;
        if (len > 0 && len < sizeof word) {
            for (size_t i = 0; i < len; i++)
                word[i] = (char)(rock.at[at + i] | 0x20);
            word[len] = 0;
            if (ends_the_noun(word) && found != MB_LITHO_UNKNOWN)
                return found;
            for (size_t i = 0; i < sizeof words / sizeof *words; i++)
                if (strcmp(word, words[i].word) == 0)
                    found = words[i].is;
        }
        at += len ? len : 1;
    }
    return found;
}

enum mb_lithology mb_lithology_read(struct mb_str word)
{
    for (int i = 0; i < MB_LITHO_COUNT; i++)
        if (mb_str_is(word, mb_lithology_word[i]))
            return (enum mb_lithology)i;
    return MB_LITHO_UNKNOWN;
}
