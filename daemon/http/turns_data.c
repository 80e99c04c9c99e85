#include "daemon/http/turns_data.h"

#include <string.h>

enum status turns_data_load(struct db *db, int32_t today, struct turns_data *out, struct problems *problems) {
    memset(out, 0, sizeof *out);
    farm_init(&out->farm);
    enum status status = farm_store_view_field(db, "", &out->farm, problems); /* without plantings */
    if (status == STATUS_OK)
        status = farm_store_ids(db, &out->farm, &out->ids, problems);
    if (status == STATUS_OK)
        status = turns_store_load(db, today - TURNS_PAST_DAYS, &out->turns, problems);
    return status;
}

void turns_data_free(struct turns_data *data) {
    stored_turns_free(&data->turns);
    farm_ids_free(&data->ids);
    farm_free(&data->farm);
}

struct turns_facts turns_data_facts(const struct turns_data *data, const struct field_morning *mornings,
                                    size_t count, const struct morning_time *now) {
    return (struct turns_facts){.farm = &data->farm,
                                .mark = data->ids.turn_mark,
                                .turns = &data->turns,
                                .mornings = mornings,
                                .morning_count = count,
                                .now = *now};
}
