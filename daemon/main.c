#include "daemon/base/asset.h"
int main(void)
{
    return asset_find("web") != NULL;
}
