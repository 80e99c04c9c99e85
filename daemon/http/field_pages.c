#include "daemon/http/field_pages.h"

#include <stdlib.h>

#include "core/base/calendar.h"
#include "daemon/http/forms.h"
#include "daemon/http/pages.h"
#include "daemon/view/view.h"

static const char type_csv[] = "text/csv; charset=utf-8; header=present";

/* What the pages of a field are made from. */
struct field_view {
    struct farm_view farm;
    const struct field_morning *morning; /* NULL: none yet */
    struct field_facts facts;
    struct ledger_row *rows;
    size_t count;
};

static void field_view_close(const struct request *request, struct field_view *view) {
    const struct server_data *data = request->data;
    data->release(data->context, NULL, view->rows);
    data->field_release(data->context, &view->facts);
    farm_view_close(request, &view->farm);
}

static enum status field_view_open(const struct request *request, struct field_view *view) {
    const struct server_data *data = request->data;
    *view = (struct field_view){.count = 0};
    enum status status = farm_view_open(request, &view->farm);
    if (status != STATUS_OK)
        return status;
    view->morning = farm_view_morning(&view->farm, request->name);
    status = data->field(data->context, request->name, &view->facts);
    if (status == STATUS_OK)
        status = data->ledger(data->context, request->name, &view->rows, &view->count);
    if (status != STATUS_OK)
        field_view_close(request, view);
    return status;
}

enum status field_page(const struct request *request, struct reply *reply) {
    struct field_view view;
    enum status status = field_view_open(request, &view);
    if (status != STATUS_OK)
        return status;
    cJSON *page = view_field(&view.farm.context, &view.facts, view.morning, view.rows, view.count);
    forms_add_done(request, &view.farm, page);
    status = forms_add_records(request, &view.farm, page);
    if (status == STATUS_OK)
        status = pages_show(request, page, "field", reply);
    else
        cJSON_Delete(page);
    field_view_close(request, &view);
    return status;
}

enum status field_ledger(const struct request *request, struct reply *reply) {
    struct field_view view;
    enum status status = field_view_open(request, &view);
    if (status != STATUS_OK)
        return status;
    cJSON *page = view_ledger(&view.farm.context, request->name, &view.facts, view.rows, view.count);
    status = pages_show(request, page, "ledger", reply);
    field_view_close(request, &view);
    return status;
}

/* request.part is the day. */
enum status field_workings(const struct request *request, struct reply *reply) {
    const struct server_data *data = request->data;
    int32_t date;
    if (data->workings == NULL || calendar_parse_iso(request->part, &date) != STATUS_OK)
        return STATUS_NOT_FOUND;
    struct farm_view farm;
    enum status status = farm_view_head(request, &farm);
    if (status != STATUS_OK)
        return status;
    struct workings_facts *facts = calloc(1, sizeof *facts);
    status = facts != NULL ? data->workings(data->context, request->name, date, facts) : STATUS_NO_MEMORY;
    if (status == STATUS_OK)
        status = pages_show(request, view_workings(&farm.context, facts), "workings", reply);
    free(facts);
    farm_view_close(request, &farm);
    return status;
}

enum status field_ledger_csv(const struct request *request, struct reply *reply) {
    struct ledger_row *rows = NULL;
    size_t count = 0;
    const struct server_data *data = request->data;
    enum status status = data->ledger(data->context, request->name, &rows, &count);
    if (status != STATUS_OK)
        return status;
    view_ledger_csv(request->name, rows, count, &reply->body);
    data->release(data->context, NULL, rows);
    reply->type = type_csv;
    reply->disposition = "attachment; filename=\"ledger.csv\"";
    return text_failed(&reply->body) ? STATUS_NO_MEMORY : STATUS_OK;
}
