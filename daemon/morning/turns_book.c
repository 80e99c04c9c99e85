#include "daemon/morning/turns_book.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/farm/check.h"
#include "daemon/morning/book_inside.h"
#include "daemon/morning/run.h"
#include "daemon/store/turn_mark_store.h"

#define KEPT_DRY_HOURS_MAX 8784

/* ---- marks */

/* The first hour at which a turn can still begin, from midnight of the newest morning's day; *day
 * CALENDAR_NONE: there was no morning yet. */
static enum status first_hour(struct db *db, const struct book_form *form, int32_t *day, int *hour,
                              struct problems *problems) {
    struct morning_time now = book_moment(form);
    int64_t at;
    enum status status = ledger_store_newest(db, day, &at, problems);
    *hour = status == STATUS_OK && *day != CALENDAR_NONE ? turns_hours_passed(*day, &now) : 0;
    return status;
}

#define WHOLE_SIZE  16
#define MOMENT_SIZE (CALENDAR_ISO_SIZE + WHOLE_SIZE)

static const char *whole(int value, char out[WHOLE_SIZE]) {
    (void)snprintf(out, WHOLE_SIZE, "%d", value);
    return out;
}

/* "2026-07-14 05:00". */
static const char *moment(int32_t date, int minute, char out[MOMENT_SIZE]) {
    char iso[CALENDAR_ISO_SIZE];
    (void)snprintf(out, MOMENT_SIZE, "%s %02d:%02d", calendar_format_iso(date, iso), minute / 60,
                   minute % 60);
    return out;
}

/* What is found, and what is expected of a turn that begins. */
static void tell_moment(struct problems *problems, int32_t date, int hour, int32_t from, int from_hour,
                        int32_t to) {
    char found[MOMENT_SIZE], first[MOMENT_SIZE], last[MOMENT_SIZE];
    problem_tell(problems, "turn_moment", "found {found}, expected {from} to {to}", "found",
                 moment(date, 60 * hour, found), "from", moment(from, 60 * from_hour, first), "to",
                 moment(to, 60 * 23, last), PROBLEM_END);
}

static bool in_range(const struct farm_turn_mark *mark, struct problems *problems) {
    int most = mark->kind == TURN_PINNED ? FARM_TURN_HOURS_MAX : KEPT_DRY_HOURS_MAX;
    char found[WHOLE_SIZE], expected[WHOLE_SIZE];
    if (!calendar_valid(mark->date))
        problem_tell(problems, "turn_day", "found no day, expected one as 2026-07-14", PROBLEM_END);
    else if (mark->hour < 0 || mark->hour > 23)
        problem_tell(problems, "turn_hour", "found {found} o'clock, expected 0 to 23", "found",
                     whole(mark->hour, found), PROBLEM_END);
    else if (mark->hours < 1 || mark->hours > most)
        problem_tell(problems, "turn_length", "found {found} hours, expected 1 to {expected}", "found",
                     whole(mark->hours, found), "expected", whole(most, expected), PROBLEM_END);
    else
        return true;
    return false;
}

/* A pinned turn begins within the days planned, and not in the past. */
static bool begins_in_time(const struct farm_turn_mark *mark, int32_t day, int first,
                           struct problems *problems) {
    int start = day != CALENDAR_NONE ? turns_hour_of(day, mark->date, mark->hour) : 0;
    if (mark->kind != TURN_PINNED || day == CALENDAR_NONE || (start >= first && start < 24 * MORNING_AHEAD))
        return true;
    tell_moment(problems, mark->date, mark->hour, day, first, day + MORNING_AHEAD - 1);
    return false;
}

/* Whether the marks fit the farm, all of one field that shares a supply. */
static enum status check_word(struct db *db, const struct book_form *form, const struct farm *farm,
                              const struct turns_word *word, const char *field, struct problems *problems) {
    const struct farm_field *own = farm_field_named(farm, field);
    int32_t day;
    int first;
    enum status status = first_hour(db, form, &day, &first, problems);
    if (status != STATUS_OK)
        return status;
    if (own == NULL)
        return STATUS_NOT_FOUND;
    if (own->supply[0] == '\0')
        problem_tell(problems, "turn_no_supply",
                     "found {found}, which draws from no supply, expected a field that shares one", "found",
                     field, PROBLEM_END);
    bool good = own->supply[0] != '\0';
    for (int i = 0; good && i < word->count; i++)
        good = in_range(&word->mark[i], problems) && begins_in_time(&word->mark[i], day, first, problems);
    if (!good)
        return STATUS_REFUSED;
    struct farm_turn_mark marks[TURNS_MARKS_MAX];
    struct farm changed = *farm;
    memcpy(marks, word->mark, sizeof marks);
    changed.turn_mark = marks;
    changed.turn_mark_count = (size_t)word->count;
    return check_values(&changed, NULL, NULL, problems);
}

/* The one field that all of it is about; STATUS_REFUSED: there are several. */
static enum status field_of(struct db *db, const struct turns_word *word, char field[FARM_NAME_SIZE],
                            struct problems *problems) {
    struct farm_turn_mark removed;
    enum status status = STATUS_OK;
    if (word->count < 0 || word->count > TURNS_MARKS_MAX || (word->count == 0 && word->remove == 0))
        return STATUS_NOT_FOUND;
    if (word->remove != 0)
        status = turn_mark_store_get(db, word->remove, &removed, problems);
    if (status != STATUS_OK)
        return status;
    memcpy(field, word->remove != 0 ? removed.field : word->mark[0].field, FARM_NAME_SIZE);
    for (int i = 0; i < word->count; i++)
        if (strcmp(word->mark[i].field, field) != 0) {
            problem_tell(problems, "turn_fields", "found {found} beside {other}, expected one field", "found",
                         word->mark[i].field, "other", field, PROBLEM_END);
            return STATUS_REFUSED;
        }
    return STATUS_OK;
}

static enum status write_word(struct db *db, const struct book_form *form, const struct turns_word *word,
                              const char *field, struct problems *problems) {
    const struct turn_mark_said said = {form->at, form->who};
    struct entry entry;
    enum status status = book_entry_begin(db, form, ENTRY_TURN, field, &entry, problems);
    if (status == STATUS_OK && word->remove != 0)
        status = turn_mark_store_remove(db, word->remove, problems);
    for (int i = 0; status == STATUS_OK && i < word->count; i++)
        status = turn_mark_store_add(db, &word->mark[i], &said, NULL, problems);
    return status == STATUS_OK ? entry_store_add(db, &entry, problems) : status;
}

static enum status mark_inside(struct db *db, const struct book_form *form, const struct turns_word *word,
                               struct problems *problems) {
    char field[FARM_NAME_SIZE];
    struct farm farm;
    struct morning_time now = book_moment(form);
    bool taken;
    enum status status = book_taken_before(db, form, &taken, problems);
    if (status != STATUS_OK || taken)
        return status;
    status = field_of(db, word, field, problems);
    if (status == STATUS_OK)
        status = farm_store_load_field(db, "", &farm, problems);
    if (status != STATUS_OK)
        return status;
    status = check_word(db, form, &farm, word, field, problems);
    if (status == STATUS_OK)
        status = write_word(db, form, word, field, problems);
    const struct turns_before before = {.mark = farm.turn_mark,
                                        .mark_count = farm.turn_mark_count,
                                        .moved = word->count > 0 ? word->moved : 0,
                                        .moved_date = word->mark[0].date,
                                        .moved_hour = word->mark[0].hour};
    if (status == STATUS_OK)
        status = morning_field(db, field, &now, &before, problems);
    farm_free(&farm);
    return status;
}

enum status turns_book_mark(struct db *db, const struct book_form *form, const struct turns_word *word,
                            struct problems *problems) {
    enum status status = db_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    return db_end(db, mark_inside(db, form, word, problems), problems);
}

/* ---- what became of turns */

/* What somebody said of a turn. */
struct outcome {
    long long turn;
    enum turn_state state;
    const struct farm_record *record; /* done */
    int32_t date;                     /* late */
    int hour;
};

/* The turn, when nothing settled it yet. */
static enum status take_turn(struct db *db, long long id, struct stored_turn *out,
                             struct problems *problems) {
    enum status status = turns_store_turn(db, id, out, problems);
    return status == STATUS_OK && !turns_unsettled(out) ? STATUS_NOT_FOUND : status;
}

/* A turn can be put off within the days planned; it may have begun earlier today or yesterday. */
static enum status check_late(struct db *db, const struct outcome *outcome, struct problems *problems) {
    int32_t day;
    int64_t at;
    enum status status = ledger_store_newest(db, &day, &at, problems);
    if (status != STATUS_OK)
        return status;
    if (outcome->date >= day - 1 && outcome->date < day + MORNING_AHEAD && outcome->hour >= 0 &&
        outcome->hour <= 23)
        return STATUS_OK;
    tell_moment(problems, outcome->date, outcome->hour, day - 1, 0, day + MORNING_AHEAD - 1);
    return STATUS_REFUSED;
}

/* A turn that is to come is not done; water that came in before it is a record of its field. */
static bool begun(const struct book_form *form, const struct stored_turn *turn,
                  const struct farm_field *field, struct problems *problems) {
    const struct morning_time now = book_moment(form);
    int64_t from = turns_done_from(turn, field);
    char least[MOMENT_SIZE], start[MOMENT_SIZE];
    if (turns_hour_came(from, &now))
        return true;
    problem_tell(problems, "turn_not_begun",
                 "the turn starts {start}; it can be marked as done from {expected} on. Water that was given "
                 "before that is recorded on the page of its field",
                 "start", moment(turn->date, 60 * turn->hour, start), "expected",
                 moment((int32_t)(from / 24), 60 * (int)(from % 24), least), PROBLEM_END);
    return false;
}

static enum status check_begun(struct db *db, const struct book_form *form, const struct stored_turn *turn,
                               struct problems *problems) {
    struct farm farm;
    enum status status = farm_store_load_field(db, turn->field, &farm, problems);
    if (status != STATUS_OK)
        return status;
    bool good = begun(form, turn, farm_field_named(&farm, turn->field), problems);
    farm_free(&farm);
    return good ? STATUS_OK : STATUS_REFUSED;
}

static enum status note_done(struct db *db, const struct book_form *form, const struct outcome *outcome,
                             const struct stored_turn *turn, struct problems *problems) {
    struct entry entry;
    if (strcmp(outcome->record->field, turn->field) != 0 || outcome->record->kind != RECORD_IRRIGATION) {
        problem_tell(problems, "turn_no_record", "found no irrigation of {field}, expected one", "field",
                     turn->field, PROBLEM_END);
        return STATUS_REFUSED;
    }
    enum status status = check_begun(db, form, turn, problems);
    if (status == STATUS_OK)
        status = book_add_record(db, form, outcome->record, 0, &entry, problems);
    return status == STATUS_OK ? turns_store_done(db, turn->id, entry.record_id, problems) : status;
}

static enum status note_outcome(struct db *db, const struct book_form *form, const struct outcome *outcome,
                                const struct stored_turn *turn, struct problems *problems) {
    struct entry entry;
    if (outcome->state == TURN_DONE)
        return note_done(db, form, outcome, turn, problems);
    enum status status = outcome->state == TURN_LATE ? check_late(db, outcome, problems) : STATUS_OK;
    if (status == STATUS_OK)
        status = book_entry_begin(db, form, ENTRY_TURN, turn->field, &entry, problems);
    if (status == STATUS_OK)
        status = outcome->state == TURN_LATE
                     ? turns_store_late(db, turn, outcome->date, outcome->hour, form->at, problems)
                     : turns_store_skipped(db, turn->id, form->at, problems);
    return status == STATUS_OK ? entry_store_add(db, &entry, problems) : status;
}

static enum status outcome_inside(struct db *db, const struct book_form *form, const struct outcome *outcome,
                                  struct problems *problems) {
    struct stored_turn turn;
    struct farm farm;
    struct morning_time now = book_moment(form);
    bool taken;
    enum status status = book_taken_before(db, form, &taken, problems);
    if (status != STATUS_OK || taken)
        return status;
    status = take_turn(db, outcome->turn, &turn, problems);
    if (status == STATUS_OK)
        status = note_outcome(db, form, outcome, &turn, problems);
    if (status == STATUS_OK)
        status = farm_store_load_field(db, "", &farm, problems);
    if (status != STATUS_OK)
        return status;
    const struct turns_before before = {.recorded = outcome->state == TURN_DONE,
                                        .mark = farm.turn_mark,
                                        .mark_count = farm.turn_mark_count,
                                        .turn = &turn};
    /* Water that was given is no matter of the plan: only what was put off or left out costs. */
    status = morning_field(db, turn.field, &now, &before, problems);
    farm_free(&farm);
    return status;
}

static enum status settle(struct db *db, const struct book_form *form, const struct outcome *outcome,
                          struct problems *problems) {
    enum status status = db_begin(db, problems);
    if (status != STATUS_OK)
        return status;
    return db_end(db, outcome_inside(db, form, outcome, problems), problems);
}

enum status turns_book_done(struct db *db, const struct book_form *form, long long turn,
                            const struct farm_record *record, struct problems *problems) {
    return settle(db, form, &(struct outcome){.turn = turn, .state = TURN_DONE, .record = record}, problems);
}

enum status turns_book_late(struct db *db, const struct book_form *form, long long turn, int32_t date,
                            int hour, struct problems *problems) {
    return settle(db, form, &(struct outcome){.turn = turn, .state = TURN_LATE, .date = date, .hour = hour},
                  problems);
}

enum status turns_book_skipped(struct db *db, const struct book_form *form, long long turn,
                               struct problems *problems) {
    return settle(db, form, &(struct outcome){.turn = turn, .state = TURN_SKIPPED}, problems);
}
