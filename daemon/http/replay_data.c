#include "daemon/http/replay_data.h"

#include <stdio.h>

#include "daemon/replay/farm_change.h"
#include "daemon/store/ledger_store.h"

static enum status add_words(struct replay *replay, const char *name, const char *words,
                             struct problems *problems) {
    cJSON *changes = NULL;
    if (words[0] == '\0')
        return STATUS_OK;
    enum status status = change_of_words(words, &changes, problems);
    return status == STATUS_OK ? replay_add(replay, name, changes, problems) : status;
}

static enum status add_money(struct replay *replay, const char *words, struct problems *problems) {
    cJSON *settings = NULL;
    enum status status = change_of_words(words, &settings, problems);
    if (status == STATUS_OK)
        status = money_read("", settings, &replay->money, problems);
    cJSON_Delete(settings);
    return status;
}

enum status replay_load(struct db *db, const struct replay_wish *wish, struct replay *replay,
                        struct problems *problems) {
    int32_t today;
    int64_t at;
    enum status status = ledger_store_newest(db, &today, &at, problems);
    if (status == STATUS_OK && today == CALENDAR_NONE)
        status = STATUS_NOT_FOUND;
    if (status == STATUS_OK)
        status = replay_open_db(replay, db, today, problems);
    if (status == STATUS_OK && wish->rainfed)
        status = add_words(replay, "irrigation = none", "irrigation = none", problems);
    if (status == STATUS_OK && wish->automatic)
        status = add_words(replay, "irrigation = automatic", "irrigation = automatic", problems);
    for (int i = 0; status == STATUS_OK && i < REPLAY_WHAT_MAX; i++)
        status = add_words(replay, wish->what[i], wish->what[i], problems);
    if (status == STATUS_OK)
        status = add_money(replay, wish->money, problems);
    return status == STATUS_OK ? replay_run(replay, wish->field, problems) : status;
}
