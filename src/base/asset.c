#include "asset.h"

#include <string.h>

const struct mb_asset *mb_asset_find(const char *path)
{
    size_t low = 0, high = mb_assets_count;

    while (low < high) {
        size_t middle = low + (high - low) / 2;
        int order = strcmp(path, mb_assets[middle].path);

        if (order == 0)
            return &mb_assets[middle];
        if (order < 0)
            high = middle;
        else
            low = middle + 1;
    }
    return NULL;
}

size_t mb_asset_count(void)
{
    return mb_assets_count;
}

const struct mb_asset *mb_asset_at(size_t index)
{
    return index < mb_assets_count ? &mb_assets[index] : NULL;
}
