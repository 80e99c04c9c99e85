#include "daemon/morning/book.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/farm/check.h"
#include "daemon/morning/book_inside.h"
#include "daemon/morning/run.h"
#include "daemon/store/farm_store.h"
#include "daemon/store/ledger_store.h"
#include "daemon/store/removal_store.h"

enum status book_taken_before(struct db *db, const struct book_form *form, bool *taken,
                              struct problems *problems) {
    struct entry entry;
    enum status status = entry_store_find(db, form->token, &entry, problems);
    *taken = status == STATUS_OK;
    return status == STATUS_NOT_FOUND ? STATUS_OK : status;
}

struct morning_time book_moment(const struct book_form *form) {
    return (struct morning_time){form->today, form->at, form->minute};
}

enum status book_entry_begin(struct db *db, const struct book_form *form, enum entry_act act,
                             const char *field, struct entry *entry, struct problems *problems) {
    memset(entry, 0, sizeof *entry);
    (void)snprintf(entry->token, sizeof entry->token, "%s", form->token);
    (void)snprintf(entry->who, sizeof entry->who, "%s", form->who);
    (void)snprintf(entry->field, sizeof entry->field, "%s", field);
    entry->at = form->at;
    entry->act = act;
    return ledger_store_call(db, field, &entry->before, problems);
}

static enum status check_one(struct db *db, const struct farm_record *record, long long replaces,
                             struct problems *problems) {
    struct farm farm;
    struct record_kept kept;
    enum status status = farm_store_load_field(db, record->field, &farm, problems);
    if (status != STATUS_OK)
        return status;
    if (replaces != 0)
        status = record_store_get(db, replaces, &kept, problems);
    /* The record that is corrected speaks no more. */
    for (size_t i = 0; status == STATUS_OK && replaces != 0 && i < farm.record_count; i++) {
        struct farm_record *other = &farm.record[i];
        if (other->date == kept.record.date && other->kind == kept.record.kind &&
            other->stage == kept.record.stage) {
            memmove(other, other + 1, (farm.record_count - i - 1) * sizeof *other);
            farm.record_count--;
            break;
        }
    }
    if (status == STATUS_OK)
        status = check_record(&farm, record, problems);
    farm_free(&farm);
    return status;
}

enum status book_add_record(struct db *db, const struct book_form *form, const struct farm_record *record,
                            long long replaces, struct entry *entry, struct problems *problems) {
    enum status status = check_one(db, record, replaces, problems);
    if (status == STATUS_OK)
        status = book_entry_begin(db, form, replaces != 0 ? ENTRY_CORRECT : ENTRY_RECORD, record->field,
                                  entry, problems);
    if (status == STATUS_OK)
        status = record_store_add(db, record, replaces, form->at, form->who, &entry->record_id, problems);
    return status == STATUS_OK ? entry_store_add(db, entry, problems) : status;
}

static const struct turns_before recorded = {.recorded = true};

static enum status record_inside(struct db *db, const struct book_form *form,
                                 const struct farm_record *record, long long replaces,
                                 struct problems *problems) {
    struct entry entry;
    bool taken;
    struct morning_time now = book_moment(form);
    enum status status = book_taken_before(db, form, &taken, problems);
    if (status != STATUS_OK || taken)
        return status;
    status = book_add_record(db, form, record, replaces, &entry, problems);
    return status == STATUS_OK ? morning_field(db, record->field, &now, &recorded, problems) : status;
}

enum status book_record(struct db *db, const struct book_form *form, const struct farm_record *record,
                        long long replaces, struct problems *problems) {
    enum status status = db_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    return db_end(db, record_inside(db, form, record, replaces, problems), problems);
}

static enum status undo_inside(struct db *db, const struct book_form *form, long long record_id,
                               struct problems *problems) {
    struct entry entry;
    struct record_kept kept;
    long long restored;
    bool taken;
    enum status status = book_taken_before(db, form, &taken, problems);
    if (status != STATUS_OK || taken)
        return status;
    status = record_store_get(db, record_id, &kept, problems);
    if (status == STATUS_OK)
        status = book_entry_begin(db, form, ENTRY_UNDO, kept.record.field, &entry, problems);
    entry.record_id = record_id;
    if (status == STATUS_OK)
        status = record_store_withdraw(db, record_id, form->at, form->who, &restored, problems);
    if (status == STATUS_OK)
        status = entry_store_add(db, &entry, problems);
    struct morning_time now = book_moment(form);
    return status == STATUS_OK ? morning_field(db, kept.record.field, &now, &recorded, problems) : status;
}

enum status book_undo(struct db *db, const struct book_form *form, long long record_id,
                      struct problems *problems) {
    enum status status = db_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    return db_end(db, undo_inside(db, form, record_id, problems), problems);
}

/* ---- fields, plantings, the place, sources ---- */

static enum status load_for(struct db *db, const struct book_edit *edit, struct farm *farm,
                            struct problems *problems) {
    size_t before = problems->count;
    enum status status =
        farm_store_load_field(db, edit->renamed != NULL ? edit->renamed : edit->field, farm, problems);
    if (status != STATUS_NOT_FOUND || !edit->may_be_empty)
        return status;
    /* An empty book is where a farm begins. */
    if (problems->count == before + 1)
        problems_free(problems);
    farm_init(farm);
    return STATUS_OK;
}

/* The farm after the change, with the field's new name where the old one stood. */
static enum status write_farm(struct db *db, const struct book_edit *edit, const struct farm *farm,
                              size_t planting, struct problems *problems) {
    bool *plantings = calloc(farm->planting_count + 1, sizeof *plantings);
    if (plantings == NULL)
        return STATUS_NO_MEMORY;
    if (planting < farm->planting_count)
        plantings[planting] = true;
    enum status status = STATUS_OK;
    if (edit->renamed != NULL)
        status = farm_store_rename_field(db, edit->renamed, edit->field, problems);
    if (status == STATUS_OK && edit->supply_renamed != NULL)
        status = farm_store_rename_supply(db, edit->supply_renamed, edit->supply, problems);
    if (status == STATUS_OK && edit->moved_from != CALENDAR_NONE)
        status = farm_store_move_planting(db, edit->field, edit->moved_from, edit->moved_to, problems);
    if (status == STATUS_OK)
        status = farm_store_put(db, farm, plantings, problems);
    if (status == STATUS_OK && edit->supply_gone)
        status = removal_store_supply(db, edit->supply, problems);
    if (status == STATUS_OK && edit->source_gone != NULL)
        status = removal_store_source(db, edit->source_gone, problems);
    if (status == STATUS_OK && edit->field_gone != NULL)
        status = removal_store_field(db, edit->field_gone, problems);
    if (status == STATUS_OK && edit->soil_gone != NULL)
        status = removal_store_soil(db, edit->soil_gone, problems);
    if (status == STATUS_OK)
        status = farm_store_mark(db, edit->mark, edit->marked, problems);
    free(plantings);
    return status;
}

/* Plans that a change bears on beside that of its own field: of the supply that was changed, or that the
 * field left. */
struct again {
    char field[FARM_NAME_SIZE]; /* one that draws from it; "": none */
    bool all;                   /* none does any more */
};

static void supply_before(const struct book_edit *edit, const struct farm *farm, char out[FARM_NAME_SIZE]) {
    const struct farm_field *field = farm_field_named(farm, edit->field_gone != NULL ? edit->field_gone
                                                            : edit->renamed != NULL  ? edit->renamed
                                                                                     : edit->field);
    (void)snprintf(out, FARM_NAME_SIZE, "%s", field != NULL ? field->supply : "");
}

static struct again plans_to_make(const struct book_edit *edit, const struct farm *farm, const char *before) {
    struct again again = {.field = ""};
    const char *supply = edit->supply != NULL ? edit->supply : before;
    const struct farm_field *own = farm_field_named(farm, edit->field);
    if (supply[0] == '\0' || (own != NULL && strcmp(own->supply, supply) == 0))
        return again;
    for (size_t i = 0; i < farm->field_count; i++)
        if (strcmp(farm->field[i].supply, supply) == 0)
            memcpy(again.field, farm->field[i].name, sizeof again.field);
    again.all = again.field[0] == '\0' && edit->supply == NULL;
    return again;
}

static enum status compute_anew(struct db *db, const struct book_form *form, const struct book_edit *edit,
                                const struct again *again, struct problems *problems) {
    struct morning_time now = book_moment(form);
    bool own = edit->mark == FARM_MARK_FIELD;
    enum status status = STATUS_OK;
    /* The weather of a source bears on whatever takes from its station. */
    if (again->all || edit->source_gone != NULL || (edit->mark != FARM_MARK_NONE && !own))
        return morning_field(db, NULL, &now, NULL, problems);
    if (own)
        status = morning_field(db, edit->field, &now, NULL, problems);
    if (status == STATUS_OK && again->field[0] != '\0')
        status = morning_field(db, again->field, &now, NULL, problems);
    return status;
}

static bool has_kind(const struct problems *problems, uint64_t kind) {
    for (size_t i = 0; i < problems->kept; i++)
        if (problems->problem[i].kind == kind)
            return true;
    return false;
}

/* What an older build took may not fit any more, in several places: a change that sets one right, and brings
 * nothing else about, is taken. */
static enum status mends(struct db *db, const struct book_edit *edit, const struct problems *after,
                         bool *out) {
    struct farm farm;
    struct problems *before = malloc(sizeof *before);
    *out = false;
    if (before == NULL)
        return STATUS_NO_MEMORY;
    problems_init(before);
    enum status status = load_for(db, edit, &farm, before);
    if (status == STATUS_OK) {
        *out = check_farm(&farm, NULL, NULL, before) == STATUS_REFUSED && after->count < before->count;
        for (size_t i = 0; *out && i < after->kept; i++)
            *out = has_kind(before, after->problem[i].kind);
        farm_free(&farm);
    }
    problems_free(before);
    free(before);
    return status;
}

static enum status check_changed(struct db *db, const struct book_edit *edit, const struct farm *farm,
                                 struct problems *problems) {
    bool mended = false;
    enum status status = check_farm(farm, NULL, NULL, problems);
    if (status != STATUS_REFUSED)
        return status;
    enum status judged = mends(db, edit, problems, &mended);
    if (mended)
        problems_free(problems);
    return judged != STATUS_OK ? judged : mended ? STATUS_OK : status;
}

static enum status change_inside(struct db *db, const struct book_form *form, const struct book_edit *edit,
                                 struct problems *problems) {
    struct farm farm;
    struct entry entry;
    size_t planting = SIZE_MAX;
    char before[FARM_NAME_SIZE];
    bool taken;
    enum status status = book_taken_before(db, form, &taken, problems);
    if (status != STATUS_OK || taken)
        return status;
    status = load_for(db, edit, &farm, problems);
    if (status != STATUS_OK)
        return status;
    supply_before(edit, &farm, before);
    status = book_entry_begin(db, form, edit->act, edit->renamed != NULL ? edit->renamed : edit->field,
                              &entry, problems);
    if (status == STATUS_OK)
        status = edit->apply(edit->context, &farm, &planting, problems);
    if (status == STATUS_OK)
        status = check_changed(db, edit, &farm, problems);
    if (status == STATUS_OK)
        status = write_farm(db, edit, &farm, planting, problems);
    const struct again again = plans_to_make(edit, &farm, before);
    farm_free(&farm);
    (void)snprintf(entry.field, sizeof entry.field, "%s", edit->field);
    if (status == STATUS_OK)
        status = entry_store_add(db, &entry, problems);
    return status == STATUS_OK ? compute_anew(db, form, edit, &again, problems) : status;
}

enum status book_change(struct db *db, const struct book_form *form, const struct book_edit *edit,
                        struct problems *problems) {
    enum status status = db_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    return db_end(db, change_inside(db, form, edit, problems), problems);
}
