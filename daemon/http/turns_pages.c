#include "daemon/http/turns_pages.h"

#include "daemon/http/pages.h"
#include "daemon/http/turns_data.h"

enum status turns_page(const struct request *request, struct reply *reply) {
    const struct server_data *data = request->data;
    struct turns_data turns;
    struct morning_time now;
    if (data->turns == NULL)
        return STATUS_NOT_FOUND;
    enum status status = data->turns(data->context, &turns, &now);
    struct farm_view farm;
    if (status == STATUS_OK)
        status = farm_view_open(request, &farm);
    if (status == STATUS_OK) {
        const struct turns_facts facts = turns_data_facts(&turns, farm.mornings, farm.count, &now);
        status = pages_show(request, view_turns(&farm.context, &facts), "turns", reply);
        farm_view_close(request, &farm);
    }
    turns_data_free(&turns);
    return status;
}
