#include "daemon/commands/on_db.h"

#include "daemon/http/page_data.h"

enum status on_db(const struct options *options, enum db_mode mode,
                  enum status (*work)(const struct options *options, struct db *db,
                                      struct problems *problems),
                  struct problems *problems) {
    struct db *db = NULL;
    enum status status = option_open_db(options, mode, &db, problems);
    if (status == STATUS_OK)
        status = use_farm_zone(db, problems);
    if (status == STATUS_OK)
        status = work(options, db, problems);
    db_close(db);
    return status;
}

enum status on_db_facts(const struct options *options, struct db *db, struct morning_time *morning,
                        struct farm_facts *facts, bool *us_units, struct problems *problems) {
    enum status status = option_today(options, morning, problems);
    if (status == STATUS_OK)
        status = farm_facts_load(db, morning->today, facts, problems);
    if (status == STATUS_OK && option_value(options, "--today") == NULL)
        facts->clock = schedule_judge(morning, facts->last_run);
    if (status == STATUS_OK)
        status = option_units(options, facts->us_units, us_units, problems);
    return status;
}
