#include "daemon/view/book_say.h"

#include <stdio.h>
#include <string.h>

#include "core/base/calendar.h"
#include "daemon/view/frame.h"

const char *book_stage_key(int stage) {
    static const char *const keys[CROP_GROWING_STAGES] = {"development", "mid", "late", "end"};
    return stage >= 0 && stage < CROP_GROWING_STAGES ? keys[stage] : NULL;
}

char *say_record(const struct view_context *context, const struct farm_record *record, char out[SAY_SIZE]) {
    char on[SAY_SIZE], depth[SAY_SIZE], share[SAY_SIZE], number[SAY_SIZE], key[64], note[SAY_SIZE / 2];
    const char *stage = book_stage_key(record->stage);
    /* What is too long is cut, at a character. */
    size_t size = strlen(record->text) < sizeof note ? strlen(record->text) : sizeof note - 1;
    while (size > 0 && size < strlen(record->text) && ((unsigned char)record->text[size] & 0xC0) == 0x80)
        size--;
    memcpy(note, record->text, size);
    note[size] = '\0';
    (void)snprintf(key, sizeof key, "stage_seen.%s", stage != NULL ? stage : "");
    const struct words_hole holes[] = {
        {"on", say_day(context, "on", record->date, on)},
        {"depth", say_depth_read(context, record->amount, depth)},
        {"share", say_share(context, record->amount, share)},
        {"n", say_number(context, record->kind == RECORD_READING ? 100 * record->amount : record->amount, 1,
                         number)},
        {"stage", words_get(context->words, key)},
        {"text", note},
    };
    const char *name = record_kind_name(record->kind);
    (void)snprintf(key, sizeof key, "record.%s%s", name != NULL ? name : "",
                   record->kind == RECORD_HARVEST && record->text[0] == '\0' ? ".plain" : "");
    return say_words(context, key, holes, sizeof holes / sizeof *holes, out);
}

/* The call before and now, where there was one. */
static void add_calls(const struct view_context *context, const struct entry_facts *facts, cJSON *view) {
    char before[2 * SAY_SIZE + 1], now[2 * SAY_SIZE + 1];
    const struct call *old = &facts->entry->before;
    if (facts->morning == NULL) {
        cJSON_AddStringToObject(view, "no_call", words_get(context->words, "entry.no_call"));
        return;
    }
    struct field_morning was = *facts->morning;
    was.call = *old;
    (void)frame_sentence(context, facts->morning, now);
    (void)frame_sentence(context, &was, before);
    cJSON *call = cJSON_AddObjectToObject(view, "calls");
    cJSON_AddStringToObject(call, "now", now);
    bool same_morning = old->date == facts->morning->call.date;
    bool changed = same_morning && strcmp(before, now) != 0;
    cJSON_AddBoolToObject(call, "changed", changed);
    cJSON_AddBoolToObject(call, "first", old->date == CALENDAR_NONE);
    if (changed)
        cJSON_AddStringToObject(call, "before", before);
}

static const char *title_key(const struct entry_facts *facts) {
    switch (facts->entry->act) {
    case ENTRY_RECORD:
        return facts->record != NULL && facts->record->withdrawn_at != 0 ? "entry.undone" : "entry.kept";
    case ENTRY_CORRECT:
        return "entry.corrected";
    case ENTRY_UNDO:
        return "entry.undone";
    case ENTRY_FARM:
    case ENTRY_FIELD:
    case ENTRY_PLANTING:
    case ENTRY_SOURCE:
    case ENTRY_SUPPLY:
    case ENTRY_TURN:
        break;
    }
    return "entry.saved";
}

/* Water of one day adds up: rain that is entered twice is twice the rain. */
static void add_day(const struct view_context *context, const struct entry_facts *facts, cJSON *view) {
    char text[SAY_SIZE], depth[SAY_SIZE], on[SAY_SIZE], number[SAY_SIZE];
    const struct farm_record *record = &facts->record->record;
    bool water = record->kind == RECORD_RAIN || record->kind == RECORD_IRRIGATION;
    if (!water || facts->of_day < 2 || facts->record->withdrawn_at != 0)
        return;
    const struct words_hole holes[] = {{"n", say_count(facts->of_day, number)},
                                       {"on", say_day(context, "on", record->date, on)},
                                       {"depth", say_depth_read(context, facts->day_mm, depth)}};
    const char *key = record->kind == RECORD_RAIN ? "entry.day.rain" : "entry.day.irrigation";
    cJSON_AddStringToObject(view, "day_sum", say_words(context, key, holes, 3, text));
}

/* What was kept can be corrected, also by who went back to the form and wrote another amount there. */
static void add_correct(const struct farm_record *record, long long id, cJSON *view) {
    char tail[64];
    (void)snprintf(tail, sizeof tail, "/record/%s?replaces=%lld", record_kind_name(record->kind), id);
    frame_link(view, "correct", record->field, tail);
}

cJSON *view_entry(const struct view_context *context, const struct entry_facts *facts) {
    char text[SAY_SIZE];
    const struct entry *entry = facts->entry;
    cJSON *view = frame_new(context);
    if (view == NULL)
        return NULL;
    cJSON_AddStringToObject(view, "title", words_get(context->words, title_key(facts)));
    if (facts->record != NULL) {
        cJSON_AddStringToObject(view, "record", say_record(context, &facts->record->record, text));
        add_day(context, facts, view);
    }
    if (entry->field[0] != '\0') {
        cJSON_AddStringToObject(view, "field", entry->field);
        frame_link(view, "field_href", entry->field, "");
        add_calls(context, facts, view);
    }
    if (facts->undo_action != NULL) {
        cJSON *undo = cJSON_AddObjectToObject(view, "undo");
        cJSON_AddStringToObject(undo, "action", facts->undo_action);
        cJSON_AddStringToObject(undo, "token", facts->undo_token);
        add_correct(&facts->record->record, facts->record->id, view);
    }
    return view;
}

void view_add_records(const struct view_context *context, const struct record_kept *records, size_t count,
                      cJSON *view) {
    char text[SAY_SIZE];
    cJSON *list = cJSON_AddArrayToObject(view, "records");
    for (size_t i = 0; i < count; i++) {
        cJSON *item = cJSON_CreateObject();
        const struct farm_record *record = &records[i].record;
        cJSON_AddStringToObject(item, "text", say_record(context, record, text));
        add_correct(record, records[i].id, item);
        cJSON_AddItemToArray(list, item);
    }
    cJSON_AddBoolToObject(view, "has_records", count > 0);
}
